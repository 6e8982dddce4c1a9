"""The ladder: a question's history, study day by study day, folded into its standing.

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

from domain.verdicts import Sureness, Verdict


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


class DayKind(StrEnum):
    """What a day with responses came to."""

    MISS = "miss"
    DOUBT = "doubt"
    CLEAN = "clean"


class Ladder(Struct, frozen=True, omit_defaults=True):
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
    """One response as the ladder reads it."""

    day: date
    verdict: Verdict
    sureness: Sureness


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


UNTRIED = Standing()


def fold(history: Iterable[Judged | HandSet], rules: Ladder) -> Standing:
    """The standing after a history in time order."""
    climber = _Climber(rules)
    for day, event in _days(history):
        climber.take(day, event)
    return climber.standing()


def trail(history: Iterable[Judged | HandSet], rules: Ladder) -> list[Step]:
    """Every step that led to the standing, in time order."""
    climber, steps = _Climber(rules), []
    for day, event in _days(history):
        before = climber.tier
        why = climber.take(day, event)
        steps.append(Step(day, before, climber.tier, why))
    return steps


def _days(history: Iterable[Judged | HandSet]) -> Iterator[tuple[date, DayKind | HandSet]]:
    """The history as one event a day; a hand-set tier splits its day in two.

    A clock that was set back does not make a day come twice: what seems earlier than the day
    being read still belongs to it.
    """
    current: date | None = None
    kind = DayKind.CLEAN
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
            current, kind = event.day, DayKind.CLEAN
        if event.verdict is not Verdict.RIGHT:
            kind = DayKind.MISS
        elif event.sureness is not Sureness.SURE and kind is DayKind.CLEAN:
            kind = DayKind.DOUBT
    if current is not None:
        yield current, kind


class _Climber:
    """The standing while a history is read; `take` says in words what each day did."""

    __slots__ = ("clean_days", "days", "last", "last_counted", "missed_days", "rules", "streak",
                 "tier")  # fmt: skip

    def __init__(self, rules: Ladder) -> None:
        self.rules = rules
        self.tier = Tier.UNTRIED
        self.streak = self.missed_days = self.clean_days = self.days = 0
        self.last: date | None = None
        self.last_counted: date | None = None

    def standing(self) -> Standing:
        return Standing(
            self.tier, self.streak, self.missed_days, self.clean_days, self.days, self.last,
            self.last_counted,
        )  # fmt: skip

    def take(self, day: date, event: DayKind | HandSet) -> str:
        if isinstance(event, HandSet):
            self._go(event.tier)
            return f"set by hand to {event.tier.word}: {event.reason}"
        self.days += 1
        self.last = day
        if event is DayKind.MISS:
            return self._miss()
        return self._doubt() if event is DayKind.DOUBT else self._clean(day)

    def _go(self, tier: Tier) -> None:
        self.tier, self.streak, self.last_counted = tier, 0, None

    def _miss(self) -> str:
        self.missed_days += 1
        if self.tier is Tier.HARDEST:
            self._go(Tier.HARDEST)
            return "missed again: stays hardest"
        self._go(Tier(max(self.tier, Tier.CLEAR) + 1))
        return f"missed: up to {self.tier.word}"

    def _doubt(self) -> str:
        if self.tier >= Tier.HARD:
            self._go(self.tier)
            return "right but not sure: the count starts again"
        self._go(Tier.HARD if self.rules.doubt_promotes else Tier.CLEAR)
        return "right but not sure: " + ("up to hard" if self.rules.doubt_promotes else "let pass")

    def _clean(self, day: date) -> str:
        self.clean_days += 1
        if self.tier < Tier.HARD:
            self.tier = Tier.CLEAR
            return "clean"
        need, gap = self.rules.release[self.tier - 1], self.rules.spacing[self.tier - 1]
        if self.last_counted is not None and (day - self.last_counted).days < gap:
            return f"clean, but less than {gap} days after the last one: doesn't count"
        self.streak += 1
        self.last_counted = day
        if self.streak < need:
            return f"clean {self.streak} of {need}"
        self._go(Tier(self.tier - 1))
        return f"clean {need} of {need}: released to {self.tier.word}"
