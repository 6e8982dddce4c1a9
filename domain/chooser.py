"""What to take in the minutes there are: passes, final revision, free sweeps, worth of an hour.

What isn't settled comes first, by the score it is expected to gain per second; then what is
settled, the longest unseen. The gain looks ahead: what answering today, right or missed and looked
up, changes about the exam. Without a memory model that can be trusted it is replaced by
worth · days unseen, a third of it for a question that was never missed nor doubted; so it is among
questions of which the model expects no gain.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from enum import StrEnum

from msgspec import Struct

from domain.evidence.differences import gains_of_answering
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import Practice

REST_DAYS = 4
"""A question tried so few days ago, or fewer, is left alone."""

WITHOUT_SIGN = 0.35
"""The weight of a question without signs beside one with signs (from simulated candidates)."""


class Choosable(Struct, frozen=True, kw_only=True, gc=False):
    """A question that could be taken. Days are ordinals of study days.

    `worth` is the score between a right response and a miss, times how often the exam is expected
    to ask the question; `seconds` what it takes. `since` is the day of its last try; for an untried
    question (`practice` None) the day on which its first study was said to be done, None: it was
    not. Of the questions that share a `duplicates` name at most one is taken.
    """

    question: str
    subject: str
    worth: float
    seconds: float
    since: int | None
    practice: Practice | None
    signs: int = 0
    settled: bool = False
    duplicates: str = ""


class LeftOut(StrEnum):
    """Why a question is not among those chosen."""

    RECENT = "tried in the last days"
    VISIT = "its subject has its visit"
    FIRST_STUDY = "its first study is not done"
    MINUTES = "no minutes left"
    DUPLICATE = "another question is nearly the same"


class Omission(Struct, frozen=True):
    """How many questions were left out for one reason, and the score that taking them would gain.

    `gain` is None without a model.
    """

    questions: int
    gain: float | None


class Choice(Struct, frozen=True):
    """The questions chosen, in the order given (book order), and what they take and gain.

    `gain` is the score expected from them in the exam, None without a model.
    """

    picks: tuple[Choosable, ...]
    seconds: float
    gain: float | None
    left_out: dict[LeftOut, Omission]


class Lookahead:
    """What questions are expected to gain in the exam if they are answered today.

    p · P(right in the exam | right today) + (1 − p) · P(right in the exam | missed today and
    looked up) − P(right in the exam | left alone), p being the chance of being right today.
    """

    def __init__(self, model: Logistic, today: int, exam: int) -> None:
        self._model, self._today, self._exam = model, today, max(today, exam)

    def gains(self, questions: Sequence[Choosable]) -> list[float]:
        """The score each is expected to gain, in the order given; never below 0."""
        places = [(question.subject, question.practice) for question in questions]
        gains = gains_of_answering(places, self._model, self._today, self._exam)
        # A fitted model may expect less after a try than without it: then it has nothing to say.
        return [
            max(0.0, gain) * question.worth for gain, question in zip(gains, questions, strict=True)
        ]


def choose(
    questions: Iterable[Choosable],
    seconds: float,
    today: int,
    lookahead: Lookahead | None = None,
    visited: Collection[str] = (),
    named: bool = False,
    most: int | None = None,
) -> Choice:
    """The questions to take in so many seconds, and at most so many, kept in the order given.

    `visited` names subjects that take none, as they have their visit. `named` says that the
    candidate asked for a subject or a tier: then what was tried lately counts too. 11,000
    questions take less than 100 ms.
    """
    everything = list(questions)
    gains = lookahead.gains(everything) if lookahead else [0.0] * len(everything)
    omitted: dict[LeftOut, list[float]] = defaultdict(list)
    ranked: list[tuple[bool, float, float, int]] = []
    for place, (choosable, gain) in enumerate(zip(everything, gains, strict=True)):
        reason = _barred(choosable, today, visited, named)
        if reason is not None or choosable.since is None:
            omitted[reason or LeftOut.FIRST_STUDY].append(gain)
        elif choosable.settled:
            ranked.append((True, choosable.since, 0.0, place))
        else:
            by_rule = _by_rule(choosable, today - choosable.since)
            ranked.append((False, -gain / choosable.seconds, -by_rule / choosable.seconds, place))
    ranked.sort()
    taken: list[int] = []
    groups: set[str] = set()
    left = seconds
    for *_, place in ranked:
        choosable = everything[place]
        if choosable.duplicates in groups:
            omitted[LeftOut.DUPLICATE].append(gains[place])
        elif choosable.seconds > left or len(taken) == most:
            omitted[LeftOut.MINUTES].append(gains[place])
        else:
            taken.append(place)
            left -= choosable.seconds
            if choosable.duplicates:
                groups.add(choosable.duplicates)
    taken.sort()
    return Choice(
        tuple(everything[place] for place in taken),
        seconds - left,
        sum(gains[place] for place in taken) if lookahead else None,
        {
            reason: Omission(len(lost), sum(lost) if lookahead else None)
            for reason in LeftOut
            if (lost := omitted.get(reason))
        },
    )


def worth_per_second(
    questions: Iterable[Choosable], today: int, lookahead: Lookahead | None = None
) -> list[float]:
    """What answering each is worth by the order of the chooser; only comparable among themselves.

    What was never tried counts, without a model, as unseen for longest.
    """
    everything = list(questions)
    if lookahead is not None:
        gains = lookahead.gains(everything)
        return [gain / each.seconds for gain, each in zip(gains, everything, strict=True)]
    longest = max(
        (today - choosable.since for choosable in everything if choosable.since is not None),
        default=1,
    )
    days = (
        longest if choosable.since is None else today - choosable.since for choosable in everything
    )
    return [
        _by_rule(choosable, unseen) / choosable.seconds
        for choosable, unseen in zip(everything, days, strict=True)
    ]


def worth_of_an_hour(
    questions: Iterable[Choosable], today: int, lookahead: Lookahead, seconds: float = 3600
) -> dict[str, float]:
    """For each subject, the score expected from spending the time on it alone."""
    subjects: dict[str, list[Choosable]] = defaultdict(list)
    for question in questions:
        subjects[question.subject].append(question)
    return {
        subject: choose(own, seconds, today, lookahead).gain or 0.0
        for subject, own in subjects.items()
    }


def _barred(
    question: Choosable, today: int, visited: Collection[str], named: bool
) -> LeftOut | None:
    if question.since is None:
        return LeftOut.FIRST_STUDY
    if question.subject in visited:
        return LeftOut.VISIT
    if not named and question.practice is not None and today - question.since <= REST_DAYS:
        return LeftOut.RECENT
    return None


def _by_rule(question: Choosable, days: int) -> float:
    return question.worth * days * (1.0 if question.signs else WITHOUT_SIGN)
