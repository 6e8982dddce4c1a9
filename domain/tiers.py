"""The tier rules: a question's history, study day by study day, folded into its standing.

A day is a *miss* if any response that day is wrong or blank, else a *doubt* if any is unsure or a
guess, else *clean*. A miss adds a sign and opens the question; a doubt opens it too, adding a sign
only where there is none. Signs stay. Clean days that lie apart settle a question: it is closed,
and the next miss or doubt opens it again at the signs it has by then.

Dropping an item only after correct recalls on several spaced days: K. A. Rawson and J. Dunlosky,
"Optimizing schedules of retrieval practice for durable and efficient learning", JEP: General 140
(2011), 283-302. The gaps of the default rules are ours.
"""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from enum import IntEnum, StrEnum

from msgspec import Struct

from domain.verdicts import Confidence, Verdict


class Tier(IntEnum):
    """Where a question stands. The last three are the hard-tiers."""

    UNTRIED = -1
    CLEAR = 0
    HARD = 1
    HARDER = 2
    HARDEST = 3

    @property
    def word(self) -> str:
        """The tier's name in lower case, as screens and files write it."""
        return self.name.lower()


TIER_BY_WORD = {tier.word: tier for tier in Tier}
HARD_TIERS = (Tier.HARD, Tier.HARDER, Tier.HARDEST)
REPEATEDLY_MISSED = (Tier.HARDER, Tier.HARDEST)


class DayKind(StrEnum):
    """What a day with responses came to."""

    MISS = "miss"
    DOUBT = "doubt"
    CLEAN = "clean"


_PROOF_ROW = (0, 0, 1)
"""Which of `proof` and `gaps` is for so many signs; more have the last."""


class TierRules(Struct, frozen=True, omit_defaults=True):
    """The rules, every number a setting.

    `proof` is how many clean days settle a question that is hard, harder, hardest; `gaps` how many
    days they must lie apart (1: any two days). `strict` asks one clean day more of each.
    `unsure_signs` False lets an unsure right leave no first sign; the proof starts again all the
    same. A question not settled is waiting when it was last tried `waiting_days` ago or more.
    """

    proof: tuple[int, int, int] = (2, 2, 3)
    gaps: tuple[int, int, int] = (3, 7, 7)
    strict: bool = False
    unsure_signs: bool = True
    waiting_days: int = 60

    def proof_of(self, signs: int) -> tuple[int, int]:
        """How many clean days settle a question with so many signs, and their gap in days.

        A question without signs is settled by the proof of hard.
        """
        row = _PROOF_ROW[signs] if signs < 3 else 2
        return self.proof[row] + self.strict, self.gaps[row]

    def problems(self) -> list[str]:
        """What makes these rules unusable, in words; empty when they are fine."""
        problems = []
        names = [tier.word for tier in HARD_TIERS]
        for name, days, gap in zip(names, self.proof, self.gaps, strict=True):
            if not 1 <= days <= 20:
                problems.append(f"clean days that settle {name}: 1 to 20, not {days}")
            if not 1 <= gap <= 60:
                problems.append(f"days between clean days in {name}: 1 to 60, not {gap}")
        for what, numbers in (("clean days", self.proof), ("days between them", self.gaps)):
            if list(numbers) != sorted(numbers):
                problems.append(f"{what} must not get fewer higher up: hard ≤ harder ≤ hardest")
        if not 45 <= self.waiting_days <= 90:
            problems.append(f"waiting begins after 45 to 90 days, not {self.waiting_days}")
        return problems


def translated(former: dict[str, object]) -> TierRules:
    """The rules nearest to those of format 1: `release`, `spacing`, `doubt_promotes`.

    They brought a question down tier by tier. Whoever asked for more than they did by default is
    strict now; whether an unsure response counts is kept.
    """
    numbers = ((former.get("release"), (2, 3, 3)), (former.get("spacing"), (1, 1, 2)))
    is_strict = any(
        isinstance(own, list | tuple)
        and any(
            isinstance(days, int) and days > usual
            for days, usual in zip(own, default, strict=False)
        )
        for own, default in numbers
    )
    return TierRules(strict=is_strict, unsure_signs=former.get("doubt_promotes") is not False)


class Judged(Struct, frozen=True, gc=False):
    """One response as the tier rules read it."""

    day: date
    verdict: Verdict
    confidence: Confidence


class HandSet(Struct, frozen=True, gc=False):
    """A tier set by hand. It takes effect before the responses that follow it."""

    day: date
    tier: Tier
    reason: str


class Standing(Struct, frozen=True, gc=False, array_like=True):
    """Where a question stands and the counts behind it. Dates are study days.

    `sign_days` are the days that left the signs, oldest first; those of a tier set by hand have
    its day. `proof` counts the clean days towards settling, and the next counts from
    `next_counts_from` on; None while any day does. `last` is the last day with a response. A day
    that a hand-set tier splits counts as two in `missed_days`, `clean_days` and `days`.
    """

    tier: Tier = Tier.UNTRIED
    signs: int = 0
    settled: bool = False
    proof: int = 0
    missed_days: int = 0
    clean_days: int = 0
    days: int = 0
    last: date | None = None
    next_counts_from: date | None = None
    sign_days: tuple[date, ...] = ()

    @property
    def open(self) -> bool:
        """Whether it has signs that no proof has settled: it is in one of the hard-tiers."""
        return self.tier > Tier.CLEAR

    @property
    def mark(self) -> str:
        """What the pencil shows, in at most three letters.

        `·` untried, `o` clear, `!` `!!` `!!!` hard, harder, hardest; `●` settled, with its signs
        behind it: `●!`, `●!!`, `●3!`, `●9!` for nine and more.
        """
        if self.settled:
            signs = "!" * self.signs if self.signs < 3 else f"{min(self.signs, 9)}!"
            return f"●{signs}"
        return "!" * self.tier if self.open else "o" if self.tier is Tier.CLEAR else "·"


class Step(Struct, frozen=True):
    """One day of a trail: what happened, and the standing before and after it."""

    day: date
    event: DayKind | HandSet
    before: Standing
    after: Standing


def fold(history: Iterable[Judged | HandSet], rules: TierRules) -> Standing:
    """The standing after a history in time order."""
    reading = _Reading(rules)
    for day, event in _days(history):
        reading.take(day, event)
    return reading.standing()


def trail(history: Iterable[Judged | HandSet], rules: TierRules) -> list[Step]:
    """Every step that led to the standing, in time order."""
    reading, steps = _Reading(rules), []
    before = Standing()
    for day, event in _days(history):
        reading.take(day, event)
        after = reading.standing()
        steps.append(Step(day, event, before, after))
        before = after
    return steps


def is_waiting(standing: Standing, today: date, after_days: int) -> bool:
    """Whether it was tried, isn't settled, and was last tried `after_days` ago or more."""
    return (
        standing.last is not None
        and not standing.settled
        and (today - standing.last).days >= after_days
    )


def waiting_mornings(
    history: Iterable[Judged | HandSet], rules: TierRules
) -> Iterator[tuple[date, date | None]]:
    """The mornings on which a question with this history was waiting: the first and the last of
    each stretch; the last is None of the one that goes on until something comes.
    """
    reading, before = _Reading(rules), date.min
    for day, event in _days(history):
        first = reading.waits_from(before)
        if first is not None and first <= day:
            yield first, day
        reading.take(day, event)
        before = day
    if (first := reading.waits_from(before)) is not None:
        yield first, None


class WaitingState(Struct, frozen=True):
    """Questions waiting, how many more than a week ago (negative: fewer), and settled.

    Those that began to wait just now were last tried on `last_tried`.
    """

    waiting: int
    change: int
    settled: int
    last_tried: date


class Counts(Struct, frozen=True):
    """How many questions stand in each tier; among them, how many are settled or waiting."""

    untried: int = 0
    clear: int = 0
    hard: int = 0
    harder: int = 0
    hardest: int = 0
    settled: int = 0
    waiting: int = 0

    @property
    def total(self) -> int:
        """All questions."""
        return self.untried + self.clear + self.hard + self.harder + self.hardest


class SubjectCounts(Struct, frozen=True):
    """The counts of one subject."""

    bank_id: str
    subject_id: str
    title: str
    counts: Counts


def _days(history: Iterable[Judged | HandSet]) -> Iterator[tuple[date, DayKind | HandSet]]:
    """The history as one event per day; a hand-set tier splits its day in two.

    A clock that was set back does not make a day come twice: what seems earlier than the day
    being read still belongs to it.
    """
    latest, is_begun = date.min, False
    kind = clean = DayKind.CLEAN
    right, sure = Verdict.RIGHT, Confidence.SURE
    for event in history:
        if isinstance(event, HandSet):
            if is_begun:
                yield latest, kind
            is_begun = False
            latest = max(latest, event.day)
            yield latest, event
            continue
        if not is_begun or event.day > latest:
            if is_begun:
                yield latest, kind
            is_begun = True
            latest, kind = max(latest, event.day), clean
        if event.verdict is not right:
            kind = DayKind.MISS
        elif event.confidence is not sure and kind is clean:
            kind = DayKind.DOUBT
    if is_begun:
        yield latest, kind


_NONE_COUNTED = date.min
_CLEAN, _MISS = DayKind.CLEAN, DayKind.MISS


class _Reading:
    """The standing while a history is read, day by day."""

    __slots__ = (
        "clean_days",
        "counts_from",
        "days",
        "is_known",
        "last",
        "missed_days",
        "proof",
        "rules",
        "settled",
        "sign_days",
    )

    def __init__(self, rules: TierRules) -> None:
        self.rules = rules
        self.sign_days: tuple[date, ...] = ()
        self.is_known = self.settled = False
        self.proof = self.missed_days = self.clean_days = self.days = 0
        self.last: date | None = None
        self.counts_from = _NONE_COUNTED

    def standing(self) -> Standing:
        signs = len(self.sign_days)
        if not self.is_known:
            tier = Tier.UNTRIED
        elif self.settled or not signs:
            tier = Tier.CLEAR
        else:
            tier = HARD_TIERS[signs - 1] if signs < 3 else Tier.HARDEST
        return Standing(
            tier,
            signs,
            self.settled,
            self.proof,
            self.missed_days,
            self.clean_days,
            self.days,
            self.last,
            None if self.settled or not self.proof else self.counts_from,
            self.sign_days,
        )

    def waits_from(self, day: date) -> date | None:
        """The first morning after the day on which it is waiting; None while it is settled."""
        if self.last is None or self.settled:
            return None
        return max(day + timedelta(1), self.last + timedelta(self.rules.waiting_days))

    def take(self, day: date, event: DayKind | HandSet) -> None:
        if isinstance(event, HandSet):
            self.is_known = event.tier is not Tier.UNTRIED
            self.sign_days = (day,) * max(event.tier, 0)
            self._start_proof()
            return
        self.is_known = True
        self.days += 1
        self.last = day
        if event is _CLEAN:
            self.clean_days += 1
            if not self.settled and day >= self.counts_from:
                # A clean day that counts; the last one needed settles the question.
                need, gap = self.rules.proof_of(len(self.sign_days))
                self.proof += 1
                self.counts_from = day + timedelta(gap)
                self.settled = self.proof >= need
        elif event is _MISS:
            self.missed_days += 1
            self.sign_days += (day,)
            self._start_proof()
        else:
            if not self.sign_days and self.rules.unsure_signs:
                self.sign_days = (day,)
            self._start_proof()

    def _start_proof(self) -> None:
        self.settled, self.proof, self.counts_from = False, 0, _NONE_COUNTED
