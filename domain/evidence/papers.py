"""What papers tell of the exam that the log can't: shifts in log odds.

A log asks other things than the exam does: what was clean is not tried again, nothing a few days
after a look-up. Sample papers, drawn evenly over the bank and kept out of the fit, show by how much
the chances are off; outside papers by how much an exam of other questions lies below the bank's.
"""

from collections.abc import Iterable, Mapping, Sequence
from math import exp, log, sqrt

from msgspec import Struct

from domain.evidence.memory.learning import Chances
from domain.evidence.memory.practice import Cell

PRIOR_DEVIATION = 0.5
"""How far off the chances may be, in log odds, before a paper was taken (from simulated
candidates)."""

LATEST = 2
"""So many of the latest sample papers count: older ones tell of another memory."""

EXTRA_DEVIATION = 0.03
"""What remains uncertain of the mean chance whatever the papers say (from simulated candidates)."""

HOLDS_DAYS = 28
"""So far ahead what papers say of forgetting holds; beyond, what remains grows as the root of the
days (from simulated candidates)."""

OUTSIDE_PRIOR = -0.7, 0.6
"""Mean and deviation, in log odds, of the gap between an outside paper and the bank's questions:
right .66 of new questions against .83 of reused and disclosed ones (Medical Education Online 27
(2022); the figures were read in the abstract)."""

PAPER_DEVIATION = 0.15
"""How much outside papers, the exam among them, differ among themselves in log odds, their
questions' luck aside (common practice, no source)."""


class Shift(Struct, frozen=True):
    """By how much chances are off: mean and deviation in log odds, and papers it rests on."""

    mean: float = 0.0
    deviation: float = PRIOR_DEVIATION
    papers: int = 0


class PaperQuestion(Struct, frozen=True, gc=False):
    """A question of a sample paper: the chance stated before it was taken, and what came of it."""

    chance: float
    right: bool


class OutsideResult(Struct, frozen=True):
    """An outside paper: questions, how many were right, and what the bank's questions would have
    given on that day (the mean chance, sample papers' shift included).
    """

    questions: int
    right: int
    expected: float


class ShiftedChances(Struct, frozen=True):
    """Chances set right by a shift; its uncertainty is part of theirs.

    `remains` is a deviation of the mean chance that no paper takes away; an outside paper's shift
    has its own. A forecast from them needs no `day_spread`: papers have measured what it stands
    for.
    """

    chances: Chances
    shift: Shift
    remains: float = EXTRA_DEVIATION

    def chance(self, subject: str, cell: Cell) -> float:
        """The shifted chance."""
        return shifted(self.chances.chance(subject, cell), self.shift.mean)

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance: of the chances, of the shift, and what remains."""
        slope = 0.0
        for place, count in counts.items():
            chance = self.chance(*place)
            slope += count * chance * (1 - chance)
        remains = self.remains * sum(counts.values())
        return self.chances.variance(counts) + (slope * self.shift.deviation) ** 2 + remains**2


def remaining(days_ahead: int) -> float:
    """What remains uncertain of the mean chance so many days ahead, nothing tried until then."""
    return EXTRA_DEVIATION * sqrt(max(1.0, days_ahead / HOLDS_DAYS))


def shifted(chance: float, shift: float) -> float:
    """The chance with so much added to its log odds."""
    return 1 / (1 + exp(-(_log_odds(chance) + shift)))


def sample_shift(papers: Sequence[Sequence[PaperQuestion]]) -> Shift:
    """The shift that the latest sample papers (oldest first) show, from the prior.

    The most plausible value by Newton's method, and the curvature there.
    """
    taken = [paper for paper in papers if paper][-LATEST:]
    questions = [question for paper in taken for question in paper]
    mean, precision = 0.0, 1 / PRIOR_DEVIATION**2
    for _ in range(20):
        chances = [shifted(question.chance, mean) for question in questions]
        surplus = sum(
            question.right - chance for question, chance in zip(questions, chances, strict=True)
        )
        precision = 1 / PRIOR_DEVIATION**2 + sum(chance * (1 - chance) for chance in chances)
        step = (surplus - mean / PRIOR_DEVIATION**2) / precision
        mean += step
        if abs(step) < 1e-9:
            break
    return Shift(mean, 1 / sqrt(precision), len(taken))


def outside_shift(papers: Iterable[OutsideResult]) -> Shift | None:
    """How far the exam may lie off the bank's questions, in log odds; None without outside papers.

    A normal mean of the papers' gaps from `OUTSIDE_PRIOR`; the deviation is that of a further
    paper, the exam, so it holds the papers' own spread.
    """
    mean, prior = OUTSIDE_PRIOR
    precision = 1 / prior**2
    weighted, count = mean * precision, 0
    for paper in papers:
        # Half a question more of each keeps a perfect paper's log odds finite.
        share = (paper.right + 0.5) / (paper.questions + 1)
        luck = 1 / (paper.questions * share * (1 - share))
        weight = 1 / (luck + PAPER_DEVIATION**2)
        weighted += weight * (_log_odds(share) - _log_odds(paper.expected))
        precision += weight
        count += 1
    if not count:
        return None
    return Shift(weighted / precision, sqrt(1 / precision + PAPER_DEVIATION**2), count)


def _log_odds(chance: float) -> float:
    chance = min(max(chance, 1e-6), 1 - 1e-6)
    return log(chance / (1 - chance))
