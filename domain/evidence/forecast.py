"""The mark to expect: under a scheme and a blueprint, with its range and what it is made of.

The paper's questions are taken as drawn from the bank, each subject's own. The range holds the
luck of the draw, the luck of each response, and what the log can't tell about the chances.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from math import sqrt
from statistics import NormalDist

from msgspec import Struct

from domain.evidence.intervals import Interval
from domain.evidence.memory.learning import Chances
from domain.evidence.memory.practice import UNSEEN, Cell, Practice
from domain.marking.blueprint import Blueprint, Section
from domain.marking.schemes import Marking, Scheme


class Held(Struct, frozen=True, gc=False):
    """An active question of the bank and what was practised of it (None: untried)."""

    subject: str
    practice: Practice | None


class Contribution(Struct, frozen=True):
    """What a subject adds to the mark. `untried` is the share (0–1) of it never tried yet, `right`
    the mean chance of its questions.
    """

    subject: str
    questions: int
    marks: float
    best: float
    untried: float
    right: float


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


def forecast(
    held: Iterable[Held],
    chances: Chances,
    blueprint: Blueprint,
    day: int,
    blanks: float = 0.0,
    day_spread: float = 0.0,
) -> Forecast:
    """The mark to expect on a day (an ordinal) if nothing more is revised until then.

    `blanks` is the share (0–1) of the misses that are left blank rather than wrong. `day_spread`
    is how far a whole day may lie off the chances: a deviation in log odds. A subject of the
    blueprint without questions in the bank counts as nothing expected.
    """
    return forecast_of_cells(cells_on(held, day), chances, blueprint, blanks, day_spread)


def forecast_of_cells(
    cells: Mapping[str, Counter[Cell]],
    chances: Chances,
    blueprint: Blueprint,
    blanks: float = 0.0,
    day_spread: float = 0.0,
) -> Forecast:
    """The same where it is known how many questions of each subject are in which cell."""
    marking = blueprint.marking()
    parts: list[Contribution] = []
    spread = steep = 0.0
    counts: dict[tuple[str, Cell], float] = {}
    for section in blueprint.sections:
        name, own = section.subject, cells.get(section.subject, Counter())
        each, size = _One(marking.of(name), blanks), own.total()
        right = _mean_chance(name, own, chances)
        parts.append(_contribution(section, own, each, right))
        if size:
            spread += section.questions * each.variance(right)
            steep += section.questions * each.gain * _slope(name, own, chances)
            for cell, number in own.items():
                counts[name, cell] = section.questions * number / size * each.gain
    variance = spread + chances.variance(counts) + (steep * day_spread) ** 2
    return Forecast(
        sum(part.marks for part in parts), sqrt(variance),
        sum(part.best for part in parts), tuple(parts),
        sum(part.untried * part.questions for part in parts) / (blueprint.questions or 1),
    )  # fmt: skip


def cells_on(held: Iterable[Held], day: int) -> dict[str, Counter[Cell]]:
    """How many questions of each subject are in which cell on the day."""
    cells: dict[str, Counter[Cell]] = defaultdict(Counter)
    for one in held:
        cells[one.subject][one.practice.cell(day) if one.practice else UNSEEN] += 1
    return cells


def worth_of_a_right(marking: Marking, subject: str, blanks: float = 0.0) -> float:
    """Marks between a miss and a right response in the subject."""
    return _One(marking.of(subject), blanks).gain


def expected_score(
    subject: str, cells: Counter[Cell], marking: Marking, chances: Chances, blanks: float = 0.0
) -> float:
    """The score to expect of one question drawn from these cells of the subject, in marks."""
    return _One(marking.of(subject), blanks).mean(_mean_chance(subject, cells, chances))


class _One:
    """The marks for one question: right, or missed with this share of blanks."""

    def __init__(self, scheme: Scheme, blanks: float) -> None:
        self.right, wrong, blank = map(float, (scheme.right, scheme.wrong, scheme.blank))
        self.miss = blanks * blank + (1 - blanks) * wrong
        self._miss_squared = blanks * blank**2 + (1 - blanks) * wrong**2
        self.gain = self.right - self.miss

    def mean(self, chance: float) -> float:
        return chance * self.right + (1 - chance) * self.miss

    def variance(self, chance: float) -> float:
        squares = chance * self.right**2 + (1 - chance) * self._miss_squared
        return squares - self.mean(chance) ** 2


def _mean_chance(subject: str, cells: Counter[Cell], chances: Chances) -> float:
    right = sum(number * chances.chance(subject, cell) for cell, number in cells.items())
    return right / (cells.total() or 1)


def _slope(subject: str, cells: Counter[Cell], chances: Chances) -> float:
    """How the mean chance grows per unit of log odds."""
    found = 0.0
    for cell, number in cells.items():
        chance = chances.chance(subject, cell)
        found += number * chance * (1 - chance)
    return found / cells.total()


def _contribution(section: Section, cells: Counter[Cell], each: _One, right: float) -> Contribution:
    size, count = cells.total(), section.questions
    return Contribution(
        section.subject, count,
        count * each.mean(right) if size else 0.0,
        count * each.right,
        cells[UNSEEN] / size if size else 1.0,
        right,
    )  # fmt: skip
