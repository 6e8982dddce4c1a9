"""Dates, weeks and days off as the candidate types them, and back.

Dates: `2027-05-15`, `15 May 2027`, `15.5.2027`, `15/05/2027`. Minutes: `mon-fri 30+60, sat 300,
sun 0`. Roles: `mon-fri revision, sat sweep, sun rest`. Days off:
`2027-04-02,2027-04-05..2027-04-09`. Reading what was written gives the same value.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import date, time, timedelta
from itertools import groupby
from typing import TypeVar

from msgspec.structs import replace

from domain.errors import InputError, UsageError
from domain.plan.inputs import DAYS_A_WEEK, LONGEST_DAY, PlanInputs, Role

T = TypeVar("T")

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DOTS = re.compile(r"(\d{1,2})\.\s*(\d{1,2})\.\s*(\d{4})")
_SLASHES = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\.?\s+([a-z]+)\.?,?\s+(\d{4})", re.IGNORECASE)
_MONTH_FIRST = re.compile(r"([a-z]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})", re.IGNORECASE)


class AmbiguousDate(InputError):
    """A date that reads as two days: `readings`, day first and month first."""

    exit_status = UsageError.exit_status

    def __init__(self, text: str, readings: tuple[date, date]) -> None:
        self.readings = readings
        first, second = readings
        super().__init__(
            f'"{text}" can be {_in_words(first)} or {_in_words(second)}: write {first} or {second}.'
        )


def _in_words(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def parse_day(text: str) -> date:
    """The day. Dots mean day first. Raises AmbiguousDate where slashes leave two readings, else
    InputError.
    """
    words = " ".join(text.split())
    if match := _ISO.fullmatch(words):
        year, month, day = match.groups()
    elif match := _DOTS.fullmatch(words):
        day, month, year = match.groups()
    elif match := _SLASHES.fullmatch(words):
        return _with_slashes(words, *(int(number) for number in match.groups()))
    elif match := _DAY_FIRST.fullmatch(words):
        day, month, year = match.groups()
    elif match := _MONTH_FIRST.fullmatch(words):
        month, day, year = match.groups()
    else:
        raise _no_day(words)
    return _day(words, int(year), _month(words, month), int(day))


def _with_slashes(text: str, first: int, second: int, year: int) -> date:
    if first > 12 or second > 12 or first == second:
        day, month = (second, first) if second > 12 else (first, second)
        return _day(text, year, month, day)
    raise AmbiguousDate(text, (date(year, second, first), date(year, first, second)))


def _month(text: str, word: str) -> int:
    if word.isdecimal():
        return int(word)
    for number, month in enumerate(MONTHS, 1):
        if len(word) >= 3 and month.lower().startswith(word.lower()):
            return number
    raise _no_day(text)


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise _no_day(text) from None


def _no_day(text: str) -> InputError:
    return InputError(f'"{text}" is no day: expected a date such as 2027-05-15 or 15 May 2027.')


# the week and the days off

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
KEPT = "The plan is unchanged."
_LONGEST_RANGE = 5 * 366


def parse_minutes(text: str, before: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
    """Minutes per weekday, Monday first, each in parts; weekdays not named stay as `before`."""
    return _parse_week("minutes", text, before, _minutes, 'such as "mon-fri 30+60, sat 300, sun 0"')


def parse_roles(text: str, before: tuple[Role, ...]) -> tuple[Role, ...]:
    """The role of each weekday, Monday first; weekdays not named stay as `before`."""
    expected = 'such as "mon-fri revision, sat sweep, sun rest"'
    return _parse_week("roles", text, before, _role, expected)


def parse_off(text: str) -> tuple[date, ...]:
    """Days off in order, each once, from single days and ranges `D..D`, commas between."""
    days: set[date] = set()
    for item in filter(None, (item.strip() for item in text.split(","))):
        first, dots, last = item.partition("..")
        begin = _day_off(first, text)
        end = _day_off(last, text) if dots else begin
        if not 0 <= (end - begin).days <= _LONGEST_RANGE:
            raise InputError(
                f'Days off "{text}": {item} must run forward, five years at most. {KEPT}'
            )
        days.update(begin + timedelta(days=n) for n in range((end - begin).days + 1))
    return tuple(sorted(days))


def parse_day_minutes(text: str) -> tuple[int, ...] | None:
    """One day's minutes, in parts; None for an empty text: as its weekday has them."""
    if not text.strip():
        return None
    parts = _minutes(text)
    if parts is None:
        raise InputError(f'Can\'t read "{text.strip()}": expected minutes such as 30+60. {KEPT}')
    return parts


def parse_times(text: str) -> tuple[time, ...]:
    """When the parts of a day begin, such as `6:30, 19:00`, in order."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    try:
        times = tuple(time.fromisoformat(word.zfill(5)) for word in words)
    except ValueError:
        times = ()
    if not times or list(times) != sorted(set(times)):
        raise InputError(
            f'Can\'t read "{text}" as when the parts of a day begin: '
            f"expected times such as 6:30, 19:00. {KEPT}"
        )
    return times


def format_times(times: Iterable[time]) -> str:
    """Times as `parse_times` reads them."""
    return ", ".join(f"{moment:%H:%M}" for moment in times)


def format_minutes(minutes: tuple[tuple[int, ...], ...]) -> str:
    """The week's minutes as `parse_minutes` reads them."""
    return _format_week(["+".join(map(str, parts)) or "0" for parts in minutes])


def format_roles(roles: tuple[Role, ...]) -> str:
    """The week's roles as `parse_roles` reads them."""
    return _format_week([role.value for role in roles])


def format_off(days: Iterable[date]) -> str:
    """Days off as `parse_off` reads them: runs of days become ranges."""
    ordered = sorted(set(days))
    runs = groupby(enumerate(ordered), key=lambda pair: pair[1].toordinal() - pair[0])
    spans = [[day for _, day in run] for _, run in runs]
    return ",".join(str(span[0]) if len(span) == 1 else f"{span[0]}..{span[-1]}" for span in spans)


def _parse_week(
    name: str,
    text: str,
    before: tuple[T, ...],
    read: Callable[[str], T | None],
    expected: str,
) -> tuple[T, ...]:
    week = list(before)
    named: set[int] = set()
    items = [item.split(maxsplit=1) for item in text.split(",") if item.strip()]
    for item in items:
        days = list(_weekdays(item[0].lower()))
        value = read(item[1].strip().lower()) if len(item) > 1 else None
        if not days or value is None:
            fault = " ".join(item)
            raise InputError(f'Can\'t read "{fault}" in the {name}: expected {expected}. {KEPT}')
        if twice := named.intersection(days):
            raise InputError(
                f"The {name} name {WEEKDAYS[min(twice)]} twice: once is enough. {KEPT}"
            )
        named.update(days)
        for day in days:
            week[day] = value
    if not items:
        raise InputError(f"The {name} are empty: expected {expected}. {KEPT}")
    return tuple(week)


def parse_passes(inputs: PlanInputs, text: str) -> PlanInputs:
    """The inputs with passes `on`, `off` or, by a number, but for so many spare weeks."""
    word = text.strip().casefold()
    if word in ("on", "off"):
        return replace(inputs, passes=word == "on", keep_weeks=0)
    if word.isdecimal() and len(word) < 3:
        return replace(inputs, passes=True, keep_weeks=int(word))
    raise InputError(
        f'Passes "{text}": expected on, off or a number of spare weeks to keep. {KEPT}'
    )


def format_passes(inputs: PlanInputs) -> str:
    """The same, as it is typed."""
    if inputs.passes and inputs.keep_weeks:
        return str(inputs.keep_weeks)
    return "on" if inputs.passes else "off"


def _weekdays(text: str) -> Iterator[int]:
    """The weekdays in `mon` or `mon-fri`; `sat-mon` goes round the week. None if unreadable."""
    first, _, last = text.partition("-")
    ends = [day[:3] for day in (first, last or first)]
    if text.endswith("-") or not all(end in WEEKDAYS for end in ends):
        return
    begin, end = (WEEKDAYS.index(day) for day in ends)
    for step in range((end - begin) % DAYS_A_WEEK + 1):
        yield (begin + step) % DAYS_A_WEEK


def _minutes(text: str) -> tuple[int, ...] | None:
    compact = text.replace(" ", "")
    if not re.fullmatch(r"[0-9]{1,4}(\+[0-9]{1,4})*", compact):
        return None
    parts = tuple(int(part) for part in compact.split("+") if int(part))
    return parts if sum(parts) <= LONGEST_DAY else None


def _role(text: str) -> Role | None:
    return Role(text) if text in set(Role) else None


def _day_off(text: str, whole: str) -> date:
    try:
        return parse_day(text)
    except AmbiguousDate:
        raise
    except InputError:
        raise InputError(
            f'Days off "{whole}": "{text.strip()}" is no day; '
            f"expected days such as 2027-04-02 or ranges such as 2027-04-05..2027-04-09. {KEPT}"
        ) from None


def _format_week(words: list[str]) -> str:
    runs, begin = [], 0
    for word, run in groupby(words):
        end = begin + len(list(run)) - 1
        days = WEEKDAYS[begin] + (f"-{WEEKDAYS[end]}" if end > begin else "")
        runs.append(f"{days} {word}")
        begin = end + 1
    return ", ".join(runs)
