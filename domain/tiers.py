"""The tier rules: a question's history, study day by study day, folded into its standing.

A day is a *miss* if any response that day is wrong or blank, else a *doubt* if any is unsure or a
guess, else *clean*. Misses promote by at most one tier a day; clean days release by one tier,
the higher the stricter.

Release after three spaced successes: K. A. Rawson and J. Dunlosky, "Optimizing schedules of
retrieval practice for durable and efficient learning", JEP: General 140 (2011), 283-302.
"""

from collections.abc import Iterable, Iterator
from datetime import date
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
_UP = {tier: Tier(min(max(tier, 0) + 1, 3)) for tier in Tier}
_DOWN = {tier: Tier(tier - 1) for tier in HARD_TIERS}


class DayKind(StrEnum):
    """What a day with responses came to."""

    MISS = "miss"
    DOUBT = "doubt"
    CLEAN = "clean"


_WORSE = {DayKind.CLEAN: 0, DayKind.DOUBT: 1, DayKind.MISS: 2}


class TierRules(Struct, frozen=True, omit_defaults=True):
    """The rules, every number a setting.

    `release` is how many clean days release from hard, harder, hardest; `spacing` how many days
    apart two clean days must lie to count both, per tier (1: any two days).
    `doubt_promotes` False lets a doubt pass on untried and clear questions.
    """

    release: tuple[int, int, int] = (2, 3, 3)
    spacing: tuple[int, int, int] = (1, 1, 2)
    doubt_promotes: bool = True

    def problems(self) -> list[str]:
        """What makes these rules unusable, in words; empty when they are fine."""
        found = []
        names = [tier.word for tier in HARD_TIERS]
        for name, days, gap in zip(names, self.release, self.spacing, strict=True):
            if not 1 <= days <= 20:
                found.append(f"release from {name}: 1 to 20 clean days, not {days}")
            if not 1 <= gap <= 60:
                found.append(f"spacing in {name}: 1 to 60 days, not {gap}")
        if list(self.release) != sorted(self.release):
            found.append("release must not get easier higher up: hard ≤ harder ≤ hardest")
        return found


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


class Standing(Struct, frozen=True, gc=False):
    """Where a question stands and the counts behind it. Dates are study days.

    `streak` counts clean days towards the next release; `last_counted` is the last of them.
    """

    tier: Tier = Tier.UNTRIED
    streak: int = 0
    missed_days: int = 0
    clean_days: int = 0
    days: int = 0
    last: date | None = None
    last_counted: date | None = None


class Step(Struct, frozen=True):
    """One line of a trail: what a day did, from which tier to which, in words."""

    day: date
    before: Tier
    after: Tier
    why: str


def fold(history: Iterable[Judged | HandSet], rules: TierRules) -> Standing:
    """The standing after a history in time order."""
    climber = _Climber(rules)
    for day, event in _days(history):
        climber.take(day, event)
    return climber.standing()


def trail(history: Iterable[Judged | HandSet], rules: TierRules) -> list[Step]:
    """Every step that led to the standing, in time order."""
    climber, steps = _Climber(rules), []
    for day, event in _days(history):
        before, streak = climber.tier, climber.streak
        climber.take(day, event)
        steps.append(Step(day, before, climber.tier, _why(event, before, streak, climber)))
    return steps


def _why(event: DayKind | HandSet, before: Tier, streak: int, climber: "_Climber") -> str:
    """What the day did, in words: the tier and the clean days counted before it, and after it."""
    after = climber.tier.word
    if isinstance(event, HandSet):
        return f"set by hand to {after}: {event.reason}"
    if event is DayKind.MISS:
        return f"missed: up to {after}" if before < Tier.HARDEST else f"missed again: stays {after}"
    if event is DayKind.DOUBT:
        if before >= Tier.HARD:
            return "right but not sure: the count starts again"
        return f"right but not sure: {'let pass' if climber.tier is Tier.CLEAR else 'up to hard'}"
    if before < Tier.HARD:
        return "clean"
    need, gap = climber.needs(before)
    if climber.tier < before:
        return f"clean {need} of {need}: released to {after}"
    if climber.streak > streak:
        return f"clean {climber.streak} of {need}"
    return f"clean, but less than {gap} days after the last one: doesn't count"


def _days(history: Iterable[Judged | HandSet]) -> Iterator[tuple[date, DayKind | HandSet]]:
    """The history as one event a day; a hand-set tier splits its day in two.

    A clock that was set back does not make a day come twice: what seems earlier than the day
    being read still belongs to it.
    """
    current: date | None = None
    kind = clean = DayKind.CLEAN
    right, sure = Verdict.RIGHT, Confidence.SURE
    for event in history:
        if isinstance(event, HandSet):
            if current is not None:
                yield current, kind
            current = None
            yield event.day, event
            continue
        if current is None or event.day > current:
            if current is not None:
                yield current, kind
            current, kind = event.day, clean
        if event.verdict is not right:
            kind = DayKind.MISS
        elif event.confidence is not sure and kind is clean:
            kind = DayKind.DOUBT
    if current is not None:
        yield current, kind


class _Climber:
    """The standing while a history is read, day by day."""

    __slots__ = ("clean_days", "days", "kind", "last", "last_counted", "missed_days", "rules",
                 "streak", "tier")  # fmt: skip

    def __init__(self, rules: TierRules) -> None:
        self.rules = rules
        self.tier = Tier.UNTRIED
        self.streak = self.missed_days = self.clean_days = self.days = 0
        self.last: date | None = None
        self.last_counted: date | None = None
        self.kind = DayKind.DOUBT

    def standing(self) -> Standing:
        return Standing(
            self.tier, self.streak, self.missed_days, self.clean_days, self.days, self.last,
            self.last_counted,
        )  # fmt: skip

    def needs(self, tier: Tier) -> tuple[int, int]:
        """Clean days to be released from a hard-tier, and how many days they lie apart."""
        return self.rules.release[tier - 1], self.rules.spacing[tier - 1]

    def take(self, day: date, event: DayKind | HandSet) -> None:
        if isinstance(event, HandSet):
            self._go(event.tier)
            return
        self._count(day, event)
        if event is DayKind.CLEAN:
            self._clean(day)
        elif event is DayKind.MISS:
            self._go(_UP[self.tier])
        else:
            self._doubt()

    def _count(self, day: date, kind: DayKind) -> None:
        """Count the day; one that a hand-set tier split counts once, as its worse part."""
        if day != self.last:
            self.days += 1
            self.last = day
        elif _WORSE[kind] > _WORSE[self.kind]:
            self._tally(self.kind, -1)
        else:
            return
        self.kind = kind
        self._tally(kind, 1)

    def _tally(self, kind: DayKind, step: int) -> None:
        if kind is DayKind.MISS:
            self.missed_days += step
        elif kind is DayKind.CLEAN:
            self.clean_days += step

    def _go(self, tier: Tier) -> None:
        self.tier, self.streak, self.last_counted = tier, 0, None

    def _doubt(self) -> None:
        if self.tier >= Tier.HARD:
            self._go(self.tier)
        else:
            self._go(Tier.HARD if self.rules.doubt_promotes else Tier.CLEAR)

    def _clean(self, day: date) -> None:
        if self.tier < Tier.HARD:
            self.tier = Tier.CLEAR
            return
        need, gap = self.needs(self.tier)
        if self.last_counted is not None and (day - self.last_counted).days < gap:
            return
        self.streak += 1
        self.last_counted = day
        if self.streak >= need:
            self._go(_DOWN[self.tier])
