"""The mark to expect: under a scheme and a blueprint, with its range and what it is made of.

The paper's questions are taken as drawn from the bank, each subject's own. The range holds the
luck of the draw, the luck of each response, and what the log can't tell about the chances.

A log asks other things than the exam does: what was clean is not tried again, nothing a few days
after a look-up. So the exam's chances have a fit of their own, in which sample papers, drawn evenly
over the bank, weigh fully and the log counts as few tries. Outside papers show by how much an exam
of other questions lies below the bank's, a shift in log odds.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import exp, log, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from domain.evidence.intervals import Interval
from domain.evidence.memory.learning import Chances, chances_of
from domain.evidence.memory.logistic import Logistic, Places, fit
from domain.evidence.memory.practice import UNSEEN, Cell, Practice, PracticeColumns, Trial
from domain.marking.blueprint import Blueprint, Section
from domain.marking.schemes import Marking, Scheme

if TYPE_CHECKING:
    from numpy import bool_, float64, int_
    from numpy.typing import NDArray


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


class QuestionChances(NamedTuple):
    """The chances of many questions, a column each: the number that each one's subject has among
    `subjects`, for how many questions it stands, and whether these were never tried. `variance`
    gives the variance of Σ count · chance.
    """

    subjects: Sequence[str]
    own: "NDArray[int_]"
    number: "NDArray[float64]"
    untried: "NDArray[bool_]"
    right: "NDArray[float64]"
    variance: "Callable[[NDArray[float64]], float]"

    @classmethod
    def in_cells(cls, cells: Mapping[str, Counter[Cell]], chances: Chances) -> "QuestionChances":
        """Where so many questions of each subject are in which cell."""
        import numpy as np

        places = [(name, cell) for name, own in cells.items() for cell in own]
        number = {name: n for n, name in enumerate(cells)}
        counts = [count for own in cells.values() for count in own.values()]
        return cls(
            tuple(cells),
            np.array([number[name] for name, _ in places], dtype=int),
            np.array(counts, dtype=float),
            np.array([cell == UNSEEN for _, cell in places], dtype=bool),
            np.array(chances_of(chances, places), dtype=float),
            lambda counts: chances.variance(dict(zip(places, counts.tolist(), strict=True))),
        )

    @classmethod
    def on(
        cls, subjects: Sequence[str], own: "NDArray[int_]", practice: PracticeColumns, day: int,
        model: Logistic,
    ) -> "QuestionChances":  # fmt: skip
        """Those of questions with this practice on a day (an ordinal), each for itself."""
        import numpy as np

        places = Places.on(subjects, own, practice, day)
        right = model.chances_at(places)
        return cls(
            subjects, own, np.ones(len(own)), ~practice.seen, right,
            lambda counts: model.variance_of(places, right, counts),
        )  # fmt: skip

    def beside(self, others: "QuestionChances") -> "QuestionChances":
        """These and others, whose chances err independently."""
        import numpy as np

        size = len(self.own)
        names = dict.fromkeys((*self.subjects, *others.subjects))
        subjects = {name: n for n, name in enumerate(names)}
        own = [
            np.array([subjects[name] for name in each.subjects], dtype=int)[each.own]
            for each in (self, others)
        ]
        return QuestionChances(
            tuple(subjects),
            np.concatenate(own),
            np.concatenate((self.number, others.number)),
            np.concatenate((self.untried, others.untried)),
            np.concatenate((self.right, others.right)),
            lambda counts: self.variance(counts[:size]) + others.variance(counts[size:]),
        )


def forecast(
    cells: Mapping[str, Counter[Cell]],
    chances: Chances,
    blueprint: Blueprint,
    blanks: float = 0.0,
    day_spread: float = 0.0,
    guess: float = 0.0,
) -> Forecast:
    """As `expected_mark`, where so many questions of each subject are in which cell on the day."""
    questions = QuestionChances.in_cells(cells, chances)
    return expected_mark(questions, blueprint, blanks, day_spread, guess)


def expected_mark(
    questions: QuestionChances,
    blueprint: Blueprint,
    blanks: float = 0.0,
    day_spread: float = 0.0,
    guess: float = 0.0,
) -> Forecast:
    """The mark to expect of a paper drawn from these questions.

    `blanks` is the share (0–1) of the misses that are left blank rather than wrong. `day_spread`
    is how far a whole day may lie off the chances: a deviation in log odds of knowing, where
    `guess` is the chance of what isn't known. A subject of the blueprint without questions in the
    bank counts as nothing expected.
    """
    import numpy as np

    marking, own, right = blueprint.marking(), questions.own, questions.right
    # How the chance grows per unit of log odds of knowing.
    slopes = (right - guess).clip(0) * (1 - right) / (1 - guess)
    columns = (np.ones(len(own)), questions.untried, right, slopes)
    sums = [
        np.bincount(own, questions.number * column, len(questions.subjects)) for column in columns
    ]
    by_subject = dict(
        zip(questions.subjects, zip(*map(np.ndarray.tolist, sums), strict=True), strict=True)
    )
    parts: list[Contribution] = []
    spread = steep = 0.0
    worth = dict.fromkeys(questions.subjects, 0.0)
    for section in blueprint.sections:
        size, untried, sum_right, sum_slope = by_subject.get(section.subject, (0.0,) * 4)
        each = _One(marking.of(section.subject), blanks)
        if not size:
            parts.append(_contribution(section, each, 0.0, 1.0, is_empty=True))
            continue
        mean = sum_right / size
        parts.append(_contribution(section, each, mean, untried / size))
        spread += section.questions * each.variance(mean)
        steep += section.questions * each.gain * sum_slope / size
        worth[section.subject] = section.questions / size * each.gain
    counts = questions.number * np.array(list(worth.values()))[own] if worth else questions.number
    variance = spread + questions.variance(counts) + (steep * day_spread) ** 2
    return Forecast(
        sum(part.marks for part in parts),
        sqrt(variance),
        sum(part.best for part in parts),
        tuple(parts),
        sum(part.untried * part.questions for part in parts) / (blueprint.questions or 1),
    )


def cells_on(held: Iterable[Held], day: int) -> dict[str, Counter[Cell]]:
    """How many questions of each subject are in which cell on the day."""
    cells: dict[str, Counter[Cell]] = defaultdict(Counter)
    for question in held:
        cells[question.subject][question.practice.cell(day) if question.practice else UNSEEN] += 1
    return cells


def worth_of_a_right(marking: Marking, subject: str, blanks: float = 0.0) -> float:
    """Marks between a miss and a right response in the subject."""
    return _One(marking.of(subject), blanks).gain


def score_of_one(marking: Marking, subject: str, chance: float, blanks: float = 0.0) -> float:
    """The score to expect of one question of the subject with this chance, in marks."""
    return _One(marking.of(subject), blanks).mean(chance)


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


def _contribution(
    section: Section, each: _One, right: float, untried: float, *, is_empty: bool = False
) -> Contribution:
    count = section.questions
    return Contribution(
        section.subject,
        count,
        0.0 if is_empty else count * each.mean(right),
        count * each.right,
        untried,
        right,
    )


LOG_WORTH = 1500
"""The whole log counts as at most so many tries of questions drawn evenly (from simulated
candidates)."""

MOST_TRIES = 6000
"""So many tries, evenly over the log, stand for all: many times what they count as."""


def exam_model(
    trials: Sequence[Trial], papers: Sequence[Trial], subjects: Iterable[str], guess: float
) -> Logistic:
    """The model that the predicted score rests on: the log's tries by day, and those in papers.

    `guess` is the chance of a random pick.
    """
    sample = trials[:: max(1, -(-len(trials) // MOST_TRIES))]
    weight = min(1.0, LOG_WORTH / (len(sample) or 1))
    return fit(sample, subjects, guess=guess, weight=weight, papers=papers)


OUTSIDE_PRIOR = -0.7, 0.6
"""Mean and deviation, in log odds, of the gap between an outside paper and the bank's questions:
right .66 of new questions against .83 of reused and disclosed ones (Medical Education Online 27
(2022); the figures were read in the abstract)."""

PAPER_DEVIATION = 0.15
"""How much outside papers, the exam among them, differ among themselves in log odds, their
questions' luck aside (common practice, no source)."""


class Shift(Struct, frozen=True):
    """By how much chances are off: mean and deviation in log odds."""

    mean: float
    deviation: float


class OutsideResult(Struct, frozen=True):
    """An outside paper: questions, how many were right, and what the bank's questions would have
    given on that day (the mean chance).
    """

    questions: int
    right: int
    expected: float


class ShiftedChances(Struct, frozen=True):
    """Chances set right by a shift; its uncertainty is part of theirs.

    A forecast from them needs no `day_spread`: the shift holds how papers differ.
    """

    chances: Chances
    shift: Shift

    def chance(self, subject: str, cell: Cell) -> float:
        """The shifted chance."""
        return shifted(self.chances.chance(subject, cell), self.shift.mean)

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance: of the chances, and of the shift."""
        slope = 0.0
        for place, count in counts.items():
            chance = self.chance(*place)
            slope += count * chance * (1 - chance)
        return self.chances.variance(counts) + (slope * self.shift.deviation) ** 2


def shifted(chance: float, shift: float) -> float:
    """The chance with so much added to its log odds."""
    return 1 / (1 + exp(-(_log_odds(chance) + shift)))


def outside_shift(papers: Iterable[OutsideResult]) -> Shift | None:
    """How far the exam may lie off the bank's questions, in log odds; None without outside papers.

    A normal mean of the papers' gaps from `OUTSIDE_PRIOR`; the deviation is that of a further
    paper, the exam, so it holds the papers' own spread.
    """
    mean, prior = OUTSIDE_PRIOR
    precision = 1 / prior**2
    weighted, has_papers = mean * precision, False
    for paper in papers:
        # Half a question more of each keeps a perfect paper's log odds finite.
        share = (paper.right + 0.5) / (paper.questions + 1)
        luck = 1 / (paper.questions * share * (1 - share))
        weight = 1 / (luck + PAPER_DEVIATION**2)
        weighted += weight * (_log_odds(share) - _log_odds(paper.expected))
        precision += weight
        has_papers = True
    if not has_papers:
        return None
    return Shift(weighted / precision, sqrt(1 / precision + PAPER_DEVIATION**2))


def _log_odds(chance: float) -> float:
    chance = min(max(chance, 1e-6), 1 - 1e-6)
    return log(chance / (1 - chance))
