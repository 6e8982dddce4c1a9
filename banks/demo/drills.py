"""Which questions of the full-text bank the candidate drills: the missed ones, new ones, a mix."""

from collections.abc import Sequence
from random import Random

from banks.demo.candidate import Candidate
from domain.questions import Bank, Question

UNDRILLED = 2
"""How many subjects of the full-text bank, its last, were never drilled."""

_LENGTH = 26
_MISSED = 1
_NEW = 3
_NEWEST = 110
"""A mix is drawn from so many questions, those met last; what came before is left to wait."""
_LEFT_OPEN = 20


class Drills:
    """Draws each day's drill."""

    def __init__(self, full: Bank, candidate: Candidate, rng: Random) -> None:
        self._rng = rng
        self._fresh: list[Question] = []
        self._drilled: dict[str, Question] = {}
        self._missed: Sequence[Question] = ()
        for subject in full.subjects[: len(full.subjects) - UNDRILLED]:
            chapters = [full.in_chapter(chapter.id) for chapter in subject.chapters]
            self._fresh += [question for chapter in chapters for question in chapter]
            ids = [[question.id for question in chapter] for chapter in chapters]
            candidate.meet(ids, share=rng.uniform(0.52, 0.78))

    def next(self) -> list[Question]:
        """A drill: some of what was missed last time, some new questions, the rest a mix."""
        picked = {question.id: question for question in self._missed[:_MISSED]}
        new, self._fresh = self._fresh[:_NEW], self._fresh[_NEW:]
        picked |= {question.id: question for question in new}
        mixed = self.mixed(_LENGTH - len(picked))
        picked |= {question.id: question for question in mixed}
        self._drilled |= picked
        drawn = list(picked.values())
        self._rng.shuffle(drawn)
        return drawn

    def seen(self, missed: Sequence[Question]) -> None:
        """Take in what the last drill left unknown."""
        self._missed = missed

    def mixed(self, count: int = _LEFT_OPEN) -> list[Question]:
        """Questions drilled before, at random, among those met last."""
        known = list(self._drilled.values())[-_NEWEST:]
        return self._rng.sample(known, min(count, len(known)))
