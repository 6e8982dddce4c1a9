"""The candidate's changes to a plan's inputs; each gives new inputs and touches nothing."""

from collections.abc import Sequence
from datetime import date

from msgspec.structs import replace

from domain.plan.days import monday
from domain.plan.inputs import DayMinutes, Pin, PlanInputs
from domain.plan.result import Plan


def settled(inputs: PlanInputs, plan: Plan) -> PlanInputs:
    """The inputs with the plan's order of subjects written down, so that it lasts."""
    return replace(inputs, order=plan.order)


def moved(inputs: PlanInputs, order: Sequence[str], subject: str, steps: int) -> PlanInputs:
    """The subject so many places later (earlier if negative) in the order, ends stop it."""
    kept = [other for other in order if other != subject]
    place = min(max(0, order.index(subject) + steps), len(kept))
    return replace(inputs, order=(*kept[:place], subject, *kept[place:]))


def swapped(inputs: PlanInputs, plan: Plan, subject: str, step: int) -> PlanInputs:
    """The subject moved past the next one (step 1) or the one before (-1) that is still to come."""
    coming = {visit.subject for visit in plan.coming()}
    place = plan.order.index(subject) + step
    while 0 <= place < len(plan.order) and plan.order[place] not in coming:
        place += step
    return moved(inputs, plan.order, subject, place - plan.order.index(subject))


def day_off(inputs: PlanInputs, day: date) -> PlanInputs:
    """The day marked off, or no longer off if it was."""
    return replace(inputs, off=tuple(sorted({*inputs.off} ^ {day})))


def day_minutes(inputs: PlanInputs, day: date, parts: tuple[int, ...] | None) -> PlanInputs:
    """Other minutes on this one day; None gives it its weekday's minutes back."""
    others = [change for change in inputs.changed_days if change.day != day]
    if parts is not None:
        others.append(DayMinutes(day, parts))
    return replace(inputs, changed_days=tuple(sorted(others, key=lambda change: change.day)))


def pinned(inputs: PlanInputs, plan: Plan, subject: str, week: date) -> PlanInputs:
    """The subject's block pinned to the week of the day `week`; a second time frees it again.

    A subject whose block lies in the other half of the round pair changes places in the order,
    so that its block and its sweep still fall into different rounds.
    """
    pin = Pin(subject, monday(week))
    others = tuple(other for other in inputs.pins if other.subject != subject)
    if pin in inputs.pins:
        return replace(inputs, pins=others)
    order = _in_its_half(plan, subject, pin.week)
    return replace(inputs, pins=(*others, pin), order=order)


def _in_its_half(plan: Plan, subject: str, week: date) -> tuple[str, ...]:
    """The order with the subject in the half that has its blocks in the round of that week."""
    half = (len(plan.order) + 1) // 2
    blocks_first = plan.order.index(subject) < half
    if _round_of(plan, week) % 2 == int(blocks_first):
        return plan.order
    rest = [other for other in plan.order if other != subject]
    place = half - 1 if not blocks_first else half
    return (*rest[:place], subject, *rest[place:])


def _round_of(plan: Plan, week: date) -> int:
    begun = [span.round for span in plan.rounds if span.first_day and span.first_day <= week]
    return max(begun, default=1)
