"""Dates as people write them: 2027-05-15, 15 May 2027, 15.5.2027, 15/05/2027."""

import re
from datetime import date

from domain.errors import InputError

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
    if found := _ISO.fullmatch(words):
        year, month, day = found.groups()
    elif found := _DOTS.fullmatch(words):
        day, month, year = found.groups()
    elif found := _SLASHES.fullmatch(words):
        return _with_slashes(words, *(int(number) for number in found.groups()))
    elif found := _DAY_FIRST.fullmatch(words):
        day, month, year = found.groups()
    elif found := _MONTH_FIRST.fullmatch(words):
        month, day, year = found.groups()
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
