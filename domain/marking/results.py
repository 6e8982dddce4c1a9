"""What a paper came to: marks by subject, by quarter, by confidence; blanks, guesses, time."""

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from statistics import mean, median

from msgspec import Struct

from domain.marking.schemes import (
    Marking,
    Scheme,
    blind_guess,
    corrected_for_guessing,
    multiple_marks,
)
from domain.verdicts import Confidence, Verdict


class Answered(Struct, frozen=True, kw_only=True):
    """One question of the paper as it was handed in.

    `earlier` holds the verdicts on the answers that were changed, oldest first; `share` how much
    of a multiple response question was right, None for the other kinds. `options` is how many
    there were to guess among, 0 where guessing can't hit (typed answers, several keys). `reason`
    is why it was missed or unsure, in a word; "" where that wasn't said.
    """

    question: str
    subject: str
    verdict: Verdict
    confidence: Confidence = Confidence.SURE
    seconds: float = 0.0
    earlier: tuple[Verdict, ...] = ()
    share: Fraction | None = None
    options: int = 0
    reason: str = ""

    def marks(self, scheme: Scheme) -> Fraction:
        """What it is worth under the scheme."""
        if self.share is not None:
            return multiple_marks(scheme, self.share, self.verdict is not Verdict.BLANK)
        return scheme.marks(self.verdict)


class PaperPart(Struct, frozen=True):
    """A subject's part of the paper. `won` and `lost` are both ≥ 0; marks = won − lost."""

    subject: str
    right: int
    wrong: int
    blank: int
    marks: Fraction
    best: Fraction
    won: Fraction
    lost: Fraction
    seconds: float


class AnswerChanges(Struct, frozen=True):
    """What became of the answers that were changed, from the first to the last."""

    to_right: int
    to_wrong: int
    neither: int


class PaperQuarter(Struct, frozen=True):
    """A quarter of the paper's questions in the order they were asked, the first numbered 1.

    `seconds` is the mean of those that were timed, 0 where none was.
    """

    number: int
    questions: int
    right: int
    marks: Fraction
    seconds: float


class ConfidencePart(Struct, frozen=True):
    """What was answered with this confidence, or left blank: how many, how many right, marks."""

    confidence: str
    questions: int
    right: int
    marks: Fraction


class FilledBlanks(Struct, frozen=True):
    """Blanks that could have been guessed, and what that would have brought on average, in marks:
    at random, and with one wrong option of each struck out.
    """

    questions: int
    at_random: Fraction
    one_struck: Fraction


class Result(Struct, frozen=True):
    """The whole paper. `without_guesses`: the marks, had every guess been left blank.

    `known` is the count of right answers corrected for guessing: what was known rather than hit.
    `reasons` counts those that were said, the most frequent first.
    """

    parts: tuple[PaperPart, ...]
    marks: Fraction
    best: Fraction
    won: Fraction
    lost: Fraction
    without_guesses: Fraction
    guesses: int
    known: Fraction
    changes: AnswerChanges
    seconds_right: float
    seconds_wrong: float
    quarters: tuple[PaperQuarter, ...]
    confidence: tuple[ConfidencePart, ...]
    filled: FilledBlanks
    reasons: dict[str, int]


def result(paper: Sequence[Answered], marking: Marking) -> Result:
    """The paper marked. Subjects come in the order in which they first appear."""
    subjects = dict.fromkeys(answered.subject for answered in paper)
    parts = tuple(
        _part(
            subject,
            [answered for answered in paper if answered.subject == subject],
            marking.of(subject),
        )
        for subject in subjects
    )
    return Result(
        parts=parts,
        marks=sum((part.marks for part in parts), Fraction(0)),
        best=sum((part.best for part in parts), Fraction(0)),
        won=sum((part.won for part in parts), Fraction(0)),
        lost=sum((part.lost for part in parts), Fraction(0)),
        without_guesses=sum((_unguessed(answered, marking) for answered in paper), Fraction(0)),
        guesses=sum(_guessed(answered) for answered in paper),
        known=_known(paper),
        changes=_changes(paper),
        seconds_right=_typical(
            answered.seconds for answered in paper if answered.verdict is Verdict.RIGHT
        ),
        seconds_wrong=_typical(
            answered.seconds for answered in paper if answered.verdict is Verdict.WRONG
        ),
        quarters=_quarters(paper, marking),
        confidence=_confidence(paper, marking),
        filled=_filled(paper, marking),
        reasons=dict(
            Counter(answered.reason for answered in paper if answered.reason).most_common()
        ),
    )


def _quarters(paper: Sequence[Answered], marking: Marking) -> tuple[PaperQuarter, ...]:
    """As equal as can be; a paper of fewer than four questions has fewer."""
    cuts = [len(paper) * number // 4 for number in range(5)]
    parts = (paper[first:last] for first, last in pairwise(cuts) if first < last)
    return tuple(
        PaperQuarter(
            number,
            len(part),
            sum(answered.verdict is Verdict.RIGHT for answered in part),
            _sum(answered.marks(marking.of(answered.subject)) for answered in part),
            _mean(answered.seconds for answered in part),
        )
        for number, part in enumerate(parts, 1)
    )


def _confidence(paper: Sequence[Answered], marking: Marking) -> tuple[ConfidencePart, ...]:
    """By what was said, then the blanks; what doesn't occur is left out."""
    groups: dict[str, list[Answered]] = {word.value: [] for word in Confidence}
    groups[Verdict.BLANK.value] = []
    for answered in paper:
        is_blank = answered.verdict is Verdict.BLANK
        groups[(Verdict.BLANK if is_blank else answered.confidence).value].append(answered)
    return tuple(
        ConfidencePart(
            confidence,
            len(part),
            sum(answered.verdict is Verdict.RIGHT for answered in part),
            _sum(answered.marks(marking.of(answered.subject)) for answered in part),
        )
        for confidence, part in groups.items()
        if part
    )


def _filled(paper: Sequence[Answered], marking: Marking) -> FilledBlanks:
    blanks = [
        answered for answered in paper if answered.verdict is Verdict.BLANK and answered.options > 1
    ]
    gains = [
        [blind_guess(scheme, left) - scheme.blank for left in (blank.options, blank.options - 1)]
        for blank in blanks
        for scheme in (marking.of(blank.subject),)
    ]
    return FilledBlanks(
        len(blanks), _sum(gain for gain, _ in gains), _sum(gain for _, gain in gains)
    )


def _sum(marks: Iterable[Fraction]) -> Fraction:
    return sum(marks, Fraction(0))


def _mean(seconds: Iterable[float]) -> float:
    measured = [value for value in seconds if value > 0]
    return mean(measured) if measured else 0.0


def _part(subject: str, paper: list[Answered], scheme: Scheme) -> PaperPart:
    verdicts = [answered.verdict for answered in paper]
    each = [answered.marks(scheme) for answered in paper]
    won = sum((marks for marks in each if marks > 0), Fraction(0))
    lost = -sum((marks for marks in each if marks < 0), Fraction(0))
    return PaperPart(
        subject,
        verdicts.count(Verdict.RIGHT),
        verdicts.count(Verdict.WRONG),
        verdicts.count(Verdict.BLANK),
        won - lost,
        scheme.right * len(paper),
        won,
        lost,
        sum(answered.seconds for answered in paper),
    )


def _known(paper: Sequence[Answered]) -> Fraction:
    known = Fraction(0)
    for options in {answered.options for answered in paper}:
        verdicts = [answered.verdict for answered in paper if answered.options == options]
        right, wrong = verdicts.count(Verdict.RIGHT), verdicts.count(Verdict.WRONG)
        known += corrected_for_guessing(right, wrong, options) if options > 1 else right
    return known


def _guessed(answered: Answered) -> bool:
    return answered.confidence is Confidence.GUESS and answered.verdict is not Verdict.BLANK


def _unguessed(answered: Answered, marking: Marking) -> Fraction:
    scheme = marking.of(answered.subject)
    return scheme.blank if _guessed(answered) else answered.marks(scheme)


def _changes(paper: Iterable[Answered]) -> AnswerChanges:
    pairs = [
        (answered.earlier[0] is Verdict.RIGHT, answered.verdict is Verdict.RIGHT)
        for answered in paper
        if answered.earlier
    ]
    to_right, to_wrong = pairs.count((False, True)), pairs.count((True, False))
    return AnswerChanges(to_right, to_wrong, len(pairs) - to_right - to_wrong)


def _typical(seconds: Iterable[float]) -> float:
    measured = [value for value in seconds if value > 0]
    return median(measured) if measured else 0.0
