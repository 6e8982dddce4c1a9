"""The plan's inputs as lines of text: what each shows, and what a typed line makes of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from math import isfinite, nan

from msgspec.structs import replace

from domain.errors import InputError
from domain.plan.inputs import PlanInputs
from domain.plan.parsing import (
    format_minutes,
    format_off,
    format_passes,
    format_roles,
    format_times,
    parse_day,
    parse_minutes,
    parse_off,
    parse_passes,
    parse_roles,
    parse_times,
)


@dataclass(frozen=True)
class PlanFormLine:
    """One input. `change` gives the inputs with the typed text, or raises InputError."""

    name: str
    label: str
    hint: str
    show: Callable[[PlanInputs], str]
    change: Callable[[PlanInputs, str], PlanInputs]


LAST_WEEK = ("full", "light")

LINES = (
    PlanFormLine(
        "exam", "Exam day", "such as 2027-05-15 or 15 May 2027",
        lambda inputs: inputs.exam.isoformat() if inputs.exam else "",
        lambda inputs, text: replace(inputs, exam=day_in("Exam day", text)),
    ),
    PlanFormLine(
        "minutes", "Minutes per day", "mon-fri 30+60, sat 300, sun 0",
        lambda inputs: format_minutes(inputs.minutes),
        lambda inputs, text: replace(inputs, minutes=parse_minutes(text, inputs.minutes)),
    ),
    PlanFormLine(
        "roles", "What days are for", "mon-fri revision, sat sweep, sun rest",
        lambda inputs: format_roles(inputs.roles),
        lambda inputs, text: replace(inputs, roles=parse_roles(text, inputs.roles)),
    ),
    PlanFormLine(
        "off", "Days off", "empty: none; or 2027-03-01..2027-03-07",
        lambda inputs: format_off(inputs.off),
        lambda inputs, text: replace(inputs, off=parse_off(text)),
    ),
    PlanFormLine(
        "start", "First day", "empty: today",
        lambda inputs: inputs.start.isoformat() if inputs.start else "",
        lambda inputs, text: replace(inputs, start=day_in("First day", text) if text else None),
    ),
    PlanFormLine(
        "rounds", "Rounds", "how often the whole bank is revised",
        lambda inputs: str(inputs.rounds),
        lambda inputs, text: replace(inputs, rounds=_whole_number("rounds", text)),
    ),
    PlanFormLine(
        "seconds", "Seconds/question", "until your own pace is known",
        lambda inputs: f"{inputs.seconds:g}",
        lambda inputs, text: replace(inputs, seconds=_number("seconds per question", text)),
    ),
    PlanFormLine(
        "passes", "Passes", "on, off, or spare weeks to keep free",
        format_passes,
        parse_passes,
    ),
    PlanFormLine(
        "final", "Final revision", "days before the exam at which a short plan asks; 0: never",
        lambda inputs: str(inputs.final_revision),
        lambda inputs, text: replace(
            inputs, final_revision=_whole_number("final revision", text)
        ),
    ),
    PlanFormLine(
        "last", "Last week", "light: half days of passes and a free eve; or full",
        lambda inputs: LAST_WEEK[inputs.last_week],
        lambda inputs, text: replace(inputs, last_week=_one_of("last week", text, LAST_WEEK)),
    ),
    PlanFormLine(
        "times", "Parts begin at", "06:30, 19:00; for the calendar file",
        lambda inputs: format_times(inputs.starts),
        lambda inputs, text: replace(inputs, starts=parse_times(text)),
    ),
)  # fmt: skip
"""Everything that a plan needs to know of the candidate, in the order it is asked."""


def read_lines(before: PlanInputs, typed: dict[str, str]) -> PlanInputs:
    """The inputs with all the typed lines. Raises InputError naming the first that doesn't fit."""
    inputs = before
    for line in LINES:
        inputs = line.change(inputs, typed[line.name].strip())
    return inputs


def day_in(field: str, text: str) -> date:
    """The day typed into a field. Raises InputError, which names the field."""
    try:
        return parse_day(text)
    except InputError as problem:
        raise InputError(f"{field}: {problem}") from None


def _one_of(field: str, text: str, words: tuple[str, str]) -> bool:
    """Whether the second of the two words was typed. Raises InputError for any other."""
    if text.casefold() not in words:
        raise InputError(f"{field}: expected {' or '.join(words)}, not {text!r}")
    return text.casefold() == words[1]


def _whole_number(field: str, text: str) -> int:
    if not text.isdecimal() or len(text) > 6:
        raise InputError(f"{field}: expected a whole number, not {text!r}")
    return int(text)


def _number(field: str, text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = nan
    if not isfinite(number):
        raise InputError(f"{field}: expected a number, not {text!r}")
    return number
