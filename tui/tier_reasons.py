"""Why a question stands in its tier, in words: the same beside the screens and in the commands."""

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import takewhile
from typing import TYPE_CHECKING

from domain.responses import Reason
from domain.text import counted
from domain.tiers import Counts, DayKind, HandSet, Standing, Step, TierRules, WaitingState
from tui.dates import day_near

if TYPE_CHECKING:
    from banks.views.triage import Explanation

_SIGNS = 4
"""Signs named with their days, the newest."""


def why_words(explanation: "Explanation") -> str:
    """The standing in one line: "2 signs (12 Oct, 3 Nov); clean 20 Nov; one more clean day …"."""
    standing, steps = explanation.standing, explanation.steps
    if not steps:
        return "not tried yet"
    parts = [_signs(explanation), *_since_last_restart(explanation)]
    if not standing.settled:
        parts.append(proof_words(standing, explanation.rules))
    return "; ".join(part for part in parts if part)


def proof_words(standing: Standing, rules: TierRules) -> str:
    """What would settle it: "2 clean days at least 7 days apart settle it"."""
    need, gap = rules.proof_of(standing.signs)
    left = need - standing.proof
    start = standing.next_counts_from
    if start is None:
        if need == 1:
            return "one clean day settles it"
        apart = f"at least {gap} days apart" if gap > 1 else "on different days"
        return f"{need} clean days {apart} settle it"
    if left == 1:
        return f"one more clean day from {_day(start, standing)} on settles it"
    return f"{left} more clean days, {gap} days apart, from {_day(start, standing)} on settle it"


def waiting_words(state: "WaitingState") -> str:
    """The number to watch: "waiting 3,358 (410 fewer this week) · settled 3,950"."""
    return f"waiting {waiting_count_words(state)} · settled {state.settled:,}"


def plain_waiting_words(state: WaitingState | Counts) -> str:
    """The same without the week's change: "waiting 3,358 · settled 3,950"."""
    return f"waiting {state.waiting:,} · settled {state.settled:,}"


def waiting_count_words(state: "WaitingState") -> str:
    """How many are waiting, and how that changed: "3,358 (410 fewer this week)"."""
    change = ""
    if state.change < 0:
        change = f" ({-state.change:,} fewer this week)"
    elif state.change > 0:
        change = f" ({state.change:,} more, unseen since {state.last_tried:%B})"
    return f"{state.waiting:,}{change}"


def elsewhere_words(questions: int) -> str:
    """What figures of the banks that count leave out; "" where that is nothing."""
    return f"Not counted: {counted(questions, 'question')} outside your plan." if questions else ""


def signs_words(standing: Standing) -> str:
    """The number of its signs: "2 signs", "settled, 2 signs"; "" where there is nothing to say."""
    signs = counted(standing.signs, "sign")
    if standing.settled:
        return f"settled, {signs}" if standing.signs else "settled"
    return signs if standing.signs else ""


def step_words(step: Step, rules: TierRules, reason: Reason | None = None) -> str:
    """What one day did: "mixed up: sign 2, now harder"."""
    before, after = step.before, step.after
    match step.event:
        case HandSet(tier=tier, reason=why):
            return f"set by hand to {tier.word}: {why}"
        case DayKind.MISS:
            return f"{reason or 'missed'}: sign {after.signs}, now {after.tier.word}"
        case DayKind.DOUBT:
            return f"{_doubt(reason)}: {_doubt_effect(before, after)}"
        case DayKind.CLEAN:
            return _clean(before, after, rules)
    raise TypeError(step.event)


def trail_words(explanation: "Explanation") -> list[tuple[date, str]]:
    """What each day did, oldest first."""
    rules, reasons = explanation.rules, explanation.reasons
    return [
        (step.day, step_words(step, rules, reasons.get(step.day))) for step in explanation.steps
    ]


def _doubt(reason: Reason | None) -> str:
    return f"right, but {reason}" if reason else "right but unsure"


def _doubt_effect(before: Standing, after: Standing) -> str:
    if after.signs > before.signs:
        return f"a first sign, now {after.tier.word}"
    if after.open and not before.open:
        return f"open again, {after.tier.word}"
    return "the proof starts again" if before.proof else "no change"


def _clean(before: Standing, after: Standing, rules: TierRules) -> str:
    need, gap = rules.proof_of(before.signs)
    if before.settled:
        return "clean: stays settled"
    if after.settled:
        return f"clean {after.proof} of {need}: settled"
    if after.proof > before.proof:
        return f"clean {after.proof} of {need}"
    return f"clean, but less than {counted(gap, 'day')} after the last that counted"


def _signs(explanation: "Explanation") -> str:
    standing = explanation.standing
    if not standing.signs:
        return "no signs"
    causes = _causes(explanation.steps, explanation.reasons)
    newest = standing.sign_days[-_SIGNS:]
    named = [causes.get(day, "missed") for day in newest]
    plain = all(cause == "missed" for cause in named)
    days = [
        _day(day, standing) if plain else f"{cause} {_day(day, standing)}"
        for day, cause in zip(newest, named, strict=True)
    ]
    days = list(dict.fromkeys(days))  # a tier set by hand leaves several signs on one day
    more = ["…"] if len(standing.sign_days) > _SIGNS else []
    count = counted(standing.signs, "sign")
    return f"{count} ({', '.join([*more, *days])})"


def _causes(steps: Sequence[Step], reasons: Mapping[date, Reason]) -> dict[date, str]:
    """What left the signs of each day, in words."""
    causes = {}
    for step in steps:
        if step.after.signs == step.before.signs and not isinstance(step.event, HandSet):
            continue
        if isinstance(step.event, HandSet):
            causes[step.day] = "set by hand"
        elif step.event is DayKind.DOUBT:
            causes[step.day] = str(reasons.get(step.day, "unsure"))
        else:
            causes[step.day] = str(reasons.get(step.day, "missed"))
    return causes


def _since_last_restart(explanation: "Explanation") -> list[str]:
    """The doubt that started the proof again without a sign, and the clean days that counted."""
    standing, steps = explanation.standing, explanation.steps
    proving = [
        step
        for step in takewhile(lambda step: step.event is DayKind.CLEAN, reversed(steps))
        if step.after.proof > step.before.proof
    ]
    parts = []
    restart = next((s for s in reversed(steps) if s.event is not DayKind.CLEAN), None)
    if (
        restart is not None
        and restart.event is DayKind.DOUBT
        and restart.after.signs == restart.before.signs
    ):
        cause = explanation.reasons.get(restart.day, "unsure")
        parts.append(f"{cause} {_day(restart.day, standing)}")
    if proving:
        days = ", ".join(_day(step.day, standing) for step in reversed(proving))
        parts.append(f"settled by clean days {days}" if standing.settled else f"clean {days}")
    return parts


def _day(day: date, standing: Standing) -> str:
    """ "12 Oct", with the year where it isn't that of the last response."""
    return day_near(day, standing.last or day)
