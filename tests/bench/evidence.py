"""How long learning from the log, the whole evidence and the choice of a sweep take."""

import random
from datetime import timedelta

from domain.evidence.memory.learning import learn
from domain.evidence.memory.practice import Trial, read
from domain.sweep import Sweepable, choose_sweep
from domain.tiers import Judged, Tier, TierRules
from domain.verdicts import Confidence, Verdict
from tests.bench.table import Row, milliseconds
from tests.builders import MORNING

QUESTIONS, SUBJECTS, DAYS = 11_000, 21, 180


def rows() -> list[Row]:
    """The figures of the evidence, in milliseconds (median of several runs)."""
    histories = _histories(random.Random(1))
    trials = _read(histories)
    pool = _pool(random.Random(2))
    return [
        (f"histories read, {len(trials):,} tries", milliseconds(lambda: _read(histories), 3), "ms",
         None),
        ("memory model learnt and checked on them", milliseconds(lambda: learn(trials), 3), "ms",
         2000),
        ("sweep of 30 minutes of 11,000", milliseconds(lambda: choose_sweep(pool, 1800), 3), "ms",
         300),
        ("sweep of 5 hours of 11,000", milliseconds(lambda: choose_sweep(pool, 18_000), 3), "ms",
         300),
    ]  # fmt: skip


def _histories(dice: random.Random) -> list[tuple[str, list[Judged]]]:
    return [(f"subject {n % SUBJECTS}", _history(dice)) for n in range(QUESTIONS)]


def _history(dice: random.Random) -> list[Judged]:
    """Three to eight tries on random days, two in three right."""
    days = sorted(dice.sample(range(DAYS), dice.randint(3, 8)))
    return [
        Judged(
            MORNING.date() + timedelta(days=day),
            Verdict.RIGHT if dice.random() < 2 / 3 else Verdict.WRONG,
            Confidence.SURE if dice.random() < 3 / 4 else Confidence.UNSURE,
        )
        for day in days
    ]


def _read(histories: list[tuple[str, list[Judged]]]) -> list[Trial]:
    rules = TierRules()
    return [trial for subject, history in histories for trial in read(subject, history, rules)[0]]


def _pool(dice: random.Random) -> list[Sweepable]:
    return [
        Sweepable(
            question=str(n), subject=f"subject {n % SUBJECTS}", tier=Tier(dice.randint(1, 3)),
            missed_days=dice.randint(1, 6), chance=dice.random(), mends=dice.uniform(0.2, 0.6),
            worth=0.04 * dice.random(), seconds=dice.uniform(30, 80),
        )
        for n in range(QUESTIONS)
    ]  # fmt: skip
