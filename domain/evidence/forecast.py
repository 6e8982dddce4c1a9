"""The mark to expect: under a scheme and a blueprint, with its range and what it is made of.

The paper's questions are taken as drawn from the bank, each subject's own. The range holds the
luck of the draw, the luck of each response, and what the log can't tell about the chances.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from math import sqrt
from statistics import NormalDist

from msgspec import Struct

from domain.evidence.intervals import Interval
from domain.evidence.memory.learning import Chances
from domain.evidence.memory.practice import UNSEEN, Cell, Practice
from domain.marking.blueprint import Blueprint
from domain.marking.schemes import Marking, Scheme


class Held(Struct, frozen=True, gc=False):
    """A living question of the bank and what was practised of it (None: untried)."""

    subject: str
    practice: Practice | None


class Contribution(Struct, frozen=True):
    """What a subject adds to the mark. `untried` is the share (0–1) of it never tried yet."""

    subject: str
    questions: int
    marks: float
    best: float
    untried: float


class Forecast(Struct, frozen=True):
    """The mark to expect. `untried` is the share of the paper that was never tried."""

    mark: float
    deviation: float
    best: float
    parts: tuple[Contribution, ...]
    untried: float

    def interval(self, confidence: float = 0.9) -> Interval:
        """Where the mark lies with this probability, within what the paper allows at most."""
        half = NormalDist().inv_cdf((1 + confidence) / 2) * self.deviation
        return self.mark - half, min(self.mark + half, self.best)


class _Part(Struct):
    """Sums over one subject of the paper while a forecast is made."""

    marks: float = 0.0
    squares: float = 0.0
    untried: float = 0.0


def forecast(
    held: Iterable[Held], chances: Chances, blueprint: Blueprint, day: int, blanks: float = 0.0
) -> Forecast:
    """The mark to expect on a day (an ordinal) if nothing more is revised until then.

    `blanks` is the share (0–1) of the misses that are left blank rather than wrong. A subject
    of the blueprint without questions in the bank counts as nothing expected.
    """
    marking, cells = blueprint.marking(), cells_on(held, day)
    parts, spread, slopes = [], 0.0, defaultdict(float)
    for section in blueprint.sections:
        scheme, own = marking.of(section.subject), cells.get(section.subject, Counter())
        size = own.total()
        part = _part(section.subject, own, chances, scheme, blanks)
        count = section.questions
        parts.append(Contribution(
            section.subject, count, count * part.marks, float(count * scheme.right), part.untried,
        ))  # fmt: skip
        spread += count * (part.squares - part.marks**2)
        for cell, number in own.items():
            slopes[section.subject, cell] += count * number / size * _gain(scheme, blanks)
    questions = blueprint.questions or 1
    return Forecast(
        sum(part.marks for part in parts), sqrt(spread + chances.variance(slopes)),
        sum(part.best for part in parts), tuple(parts),
        sum(part.untried * part.questions for part in parts) / questions,
    )  # fmt: skip


def cells_on(held: Iterable[Held], day: int) -> dict[str, Counter[Cell]]:
    """How many questions of each subject are in which cell on the day."""
    cells: dict[str, Counter[Cell]] = defaultdict(Counter)
    for one in held:
        cells[one.subject][one.practice.cell(day) if one.practice else UNSEEN] += 1
    return cells


def worth_of_a_right(marking: Marking, subject: str, blanks: float = 0.0) -> float:
    """Marks between a miss and a right response in the subject."""
    return _gain(marking.of(subject), blanks)


def _miss(scheme: Scheme, blanks: float) -> float:
    return blanks * float(scheme.blank) + (1 - blanks) * float(scheme.wrong)


def _gain(scheme: Scheme, blanks: float) -> float:
    return float(scheme.right) - _miss(scheme, blanks)


def _part(
    subject: str, cells: Counter[Cell], chances: Chances, scheme: Scheme, blanks: float
) -> _Part:
    """Mean and mean square of the marks for one question drawn from these cells."""
    part, size = _Part(), cells.total()
    for cell, number in cells.items():
        share, chance = number / size, chances.chance(subject, cell)
        right, wrong, blank = chance, (1 - chance) * (1 - blanks), (1 - chance) * blanks
        for likely, marks in ((right, scheme.right), (wrong, scheme.wrong), (blank, scheme.blank)):
            part.marks += share * likely * float(marks)
            part.squares += share * likely * float(marks) ** 2
        part.untried += share * (cell == UNSEEN)
    return part
