"""The tier rules for a whole bank at once, in arrays: signs, proof, settled, waiting.

The same rule as `domain.tiers`, written apart from it, for simulations of many lives.
"""

import numpy as np

from tests.domain.evidence.memories.candidate import Outcomes
from tests.domain.evidence.memories.laws import Flags, Items

PROOF_DAYS = np.array([2, 2, 2, 3])
PROOF_GAPS = np.array([3, 3, 7, 7])
"""Clean days to settle and days between them, by tier (clear is proved like hard)."""

WAITING_DAYS = 60


class Signs:
    """The standing of each question, one study day after another (each question once a day)."""

    def __init__(self, size: int) -> None:
        self.signs = np.zeros(size, dtype=np.int64)
        self.open = np.zeros(size, dtype=bool)
        self.settled = np.zeros(size, dtype=bool)
        self.proof = np.zeros(size, dtype=np.int64)
        self.last_proof = np.full(size, -10_000)
        self.last = np.full(size, -10_000)

    @property
    def tried(self) -> Flags:
        return self.last > -10_000

    @property
    def tier(self) -> Items:
        """−1 untried, 0 clear, 1 to 3 the hard-tiers."""
        tier = np.where(self.open, np.minimum(self.signs, 3), 0)
        return np.where(self.tried, tier, -1)

    def waiting(self, day: int) -> Flags:
        """Tried, not settled, and not tried for 60 days."""
        return self.tried & ~self.settled & (day - self.last >= WAITING_DAYS)

    def take(self, outcomes: Outcomes) -> None:
        """Read one day's responses."""
        items, day, clean = outcomes.items, outcomes.day, outcomes.sure
        missed, kept = items[~outcomes.right], items[outcomes.right & ~clean]
        self.signs[missed] += 1
        self.signs[kept] = np.maximum(self.signs[kept], 1)
        for opened in (missed, kept):
            self.open[opened], self.settled[opened] = True, False
            self.proof[opened], self.last_proof[opened] = 0, -10_000
        self._prove(items[clean], day)
        self.last[items] = day

    def _prove(self, items: Items, day: int) -> None:
        tier = np.where(self.open[items], np.minimum(self.signs[items], 3), 0)
        counts = (day - self.last_proof[items] >= PROOF_GAPS[tier]) & ~self.settled[items]
        items, tier = items[counts], tier[counts]
        self.proof[items] += 1
        self.last_proof[items] = day
        settled = items[self.proof[items] >= PROOF_DAYS[tier]]
        self.settled[settled], self.open[settled] = True, False
