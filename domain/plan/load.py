"""What there is to do, as light values: subjects with their question numbers, and what is done."""

import math
from collections.abc import Mapping
from datetime import date
from functools import cached_property

from msgspec import Struct


class ChapterLoad(Struct, frozen=True):
    """A chapter's living questions by number, in order."""

    id: str
    title: str
    numbers: tuple[int, ...]


class SubjectLoad(Struct, frozen=True, dict=True):
    """What a subject weighs on the plan.

    `tried` is how many of its questions have a history, `hard` how many of those are in the
    hard-tiers, `strength` the share answered right (0 to 1), None without history. `weight` is
    its share in the exam (None: as its questions), `open_from` the bank's. `repeated` counts the
    repeatedly missed questions, `tried_twice` those tried on two study days or more.
    """

    id: str
    title: str
    chapters: tuple[ChapterLoad, ...]
    weight: float | None = None
    open_from: date | None = None
    tried: int = 0
    hard: int = 0
    strength: float | None = None
    repeated: int = 0
    tried_twice: int = 0

    @cached_property
    def questions(self) -> int:
        """How many questions the subject has."""
        return sum(len(chapter.numbers) for chapter in self.chapters)

    def expected_repeated(self, share: float) -> int:
        """Repeatedly missed questions: those known, and `share` of what was not yet tried twice."""
        return self.repeated + math.ceil(share * max(0, self.questions - self.tried_twice) - 1e-9)


class Pace(Struct, frozen=True, kw_only=True):
    """Seconds a question takes: `own` per subject id once measured, else `default`."""

    default: float = 51.0
    own: Mapping[str, float] = {}

    def of(self, subject: str) -> float:
        """Seconds per question in the subject."""
        return self.own.get(subject, self.default)
