"""What to take in the minutes there are: passes, final revision, free sweeps, worth of an hour.

What isn't settled comes first, by the score it is expected to gain per second; then what is
settled, the longest unseen. The gain looks ahead: what answering today, right or missed and looked
up, changes about the exam. Without a memory model that can be trusted it is replaced by
worth · days unseen, a third of it for a question that was never missed nor doubted; so it is among
questions of which the model expects no gain.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from enum import StrEnum
from math import log1p

from msgspec import Struct

from domain.evidence.memory.logistic import Logistic, chance_of
from domain.evidence.memory.practice import Practice, days_of, steps

REST_DAYS = 4
"""A question tried so few days ago, or fewer, is left alone."""

WITHOUT_SIGN = 0.35
"""The weight of a question without signs beside one with signs (from simulated candidates)."""

SURE_SHARE = 0.8
"""The share of right responses taken to be sure when looking ahead (common practice, no source)."""

_LONGEST, _MOST, _HIGHEST_TIER = 3649, 200, 3


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
    """What a question is expected to gain in the exam if it is answered today.

    p · P(right in the exam | right today) + (1 − p) · P(right in the exam | missed today and
    looked up) − P(right in the exam | left alone), p being the chance of being right today.
    """

    def __init__(self, model: Logistic, today: int, exam: int) -> None:
        weight = model.by_name
        self._start, self._seen, self._sure = weight["start"], weight["seen"], weight["sure"]
        counts = [log1p(count) for count in range(_MOST + 2)]
        self._rights = [weight["rights"] * value for value in counts]
        self._misses = [weight["misses"] * value for value in counts]
        self._streak = [weight["streak"] * value for value in counts]
        self._tier = [weight["tier"] * tier for tier in range(_HIGHEST_TIER + 1)]
        self._worse = [*self._tier[1:], self._tier[-1]]
        days = [days_of(steps(day)) for day in range(_LONGEST + 1)]
        self._lag = [weight["days since"] * value for value in days]
        self._span = [weight["days between"] * value for value in days]
        own = model.weights[len(weight) :]
        self._own = dict(zip(model.subjects, own, strict=True))
        self._today, self._exam, self._guess = today, max(today, exam), model.guess
        self._met = self._seen + self._lag[min(self._exam - today, _LONGEST)]

    def gain(self, subject: str, practice: Practice | None) -> float:
        """The change of the chance of being right in the exam."""
        own = self._start + self._own.get(subject, 0.0)
        met = own + self._met
        if practice is None:
            rights = misses = streak = tier = 0
            now = alone = own
        else:
            rights, misses = min(practice.rights, _MOST), min(practice.misses, _MOST)
            streak, tier = min(practice.streak, _MOST), max(practice.tier, 0)
            first, last, span = practice.first, practice.last, self._span
            kept = own + self._seen + self._rights[rights] + self._misses[misses]
            kept += self._streak[streak] + self._tier[tier] + span[min(last - first, _LONGEST)]
            if practice.sure:
                kept += self._sure
            now = kept + self._lag[min(max(self._today - last, 0), _LONGEST)]
            alone = kept + self._lag[min(max(self._exam - last, 0), _LONGEST)]
            met += span[min(max(self._today - first, 0), _LONGEST)]
        right = met + self._rights[rights + 1] + self._misses[misses] + self._tier[tier]
        right += self._streak[streak + 1] + self._sure * SURE_SHARE
        missed = met + self._rights[rights] + self._misses[misses + 1] + self._worse[tier]
        hit = self._guess
        chance = hit + (1 - hit) * chance_of(now)
        known = chance * chance_of(right) + (1 - chance) * chance_of(missed)
        return (1 - hit) * (known - chance_of(alone))


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
    # A fitted model may expect less after a try than without it: then it has nothing to say here.
    gains = [0.0] * len(everything)
    if lookahead is not None:
        expected = lookahead.gain
        gains = [
            max(0.0, expected(choosable.subject, choosable.practice)) * choosable.worth
            for choosable in everything
        ]
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
    if lookahead is not None:
        gains = (
            (question, lookahead.gain(question.subject, question.practice))
            for question in questions
        )
        return [max(0.0, gain) * choosable.worth / choosable.seconds for choosable, gain in gains]
    everything = list(questions)
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
