"""An invented candidate's mind: what they know of each question, and how it grows and fades.

The curves are ours, shaped so that the counts come out as candidates report them (common
practice, no source): half of a printed subject marked hard at first, a third missed again.
"""

import math
from collections.abc import Iterable, Sequence
from random import Random

from msgspec import Struct

from domain.verdicts import Confidence

LEARNT = (0.0, 0.148, 0.23, 0.30, 0.35, 0.39, 0.42)
"""What each further day with a question adds to the share of a subject that is known."""

FADING = 0.012
"""What a doubling of the time away takes from it."""

SAME_DAY = 0.25
"""What having seen the key a few hours ago adds to it."""

WIDTH = 0.06
"""How gradually known gives way to unknown along a subject's questions."""


class Gave(Struct, frozen=True, gc=False):
    """How the candidate fared with one question."""

    right: bool
    blank: bool
    confidence: Confidence
    seconds: float


class _Memory:
    """What the candidate has of one question. `rank` runs from 0, easy for them, to 1."""

    __slots__ = ("days", "last", "rank", "share")

    def __init__(self, rank: float, share: float) -> None:
        self.rank = rank
        self.share = share
        self.days = 0
        self.last = 0


class Candidate:
    """Meets questions, then answers them day after day. Days are ordinals."""

    def __init__(self, rng: Random) -> None:
        self._rng = rng
        self._memories: dict[str, _Memory] = {}

    def meet(self, chapters: Iterable[Sequence[str]], share: float) -> None:
        """A new subject, question ids by chapter; `share` of it is known beforehand."""
        gauss = self._rng.gauss
        heaviness: list[tuple[float, str]] = []
        for chapter in chapters:
            weight = gauss(0.0, 0.3)
            heaviness += [(weight + gauss(0.0, 1.0), question) for question in chapter]
        heaviness.sort()
        count = len(heaviness)
        for at, (_, question) in enumerate(heaviness):
            self._memories[question] = _Memory((at + 0.5) / count, share)

    def answer(self, question: str, day: int) -> Gave:
        """One response; afterwards the question is a little better known."""
        memory = self._memories[question]
        chance = self._chance(memory, day)
        if memory.last != day:
            memory.days += 1
            memory.last = day
        right = self._rng.random() < chance
        confidence = self._confidence(chance)
        blank = not right and confidence is Confidence.GUESS and self._rng.random() < 0.4
        pace = 27.0 + 16.0 * (1.0 - chance) + (0.0 if memory.days > 1 else 6.0)
        seconds = pace * math.exp(self._rng.gauss(0.0, 0.35))
        return Gave(right, blank, confidence, round(seconds, 1))

    def _chance(self, memory: _Memory, day: int) -> float:
        known = memory.share + LEARNT[min(memory.days, len(LEARNT) - 1)]
        if memory.days:
            away = day - memory.last
            known += SAME_DAY if not away else -FADING * math.log2(1.0 + away / 7.0)
        return 1.0 / (1.0 + math.exp((memory.rank - known) / WIDTH))

    def _confidence(self, chance: float) -> Confidence:
        felt = chance + self._rng.gauss(0.0, 0.15)
        if felt > 0.62:
            return Confidence.SURE
        return Confidence.UNSURE if felt > 0.25 else Confidence.GUESS
