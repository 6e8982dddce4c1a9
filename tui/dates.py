"""Days and clocks as a reader writes them, the same on every system."""

from collections.abc import Sequence
from datetime import date, timedelta


def long_day(day: date) -> str:
    """Wednesday 25 November."""
    return f"{day:%A} {day.day} {day:%B}"


def days_to_exam(days: int) -> str:
    """How far the exam is; below 0 it is past."""
    near = {1: "the exam is tomorrow", 0: "the exam is today", -1: "the exam was yesterday"}
    if days in near:
        return near[days]
    return f"{days:,} days to the exam" if days > 0 else f"the exam was {-days:,} days ago"


def day_near(day: date, other: date) -> str:
    """4 Jan; 4 Jan 2028 where the other day is not of the same year."""
    return f"{day.day} {day:%b}" + (f" {day.year}" if day.year != other.year else "")


def short_day(day: date) -> str:
    """Wed 25 Nov, the day of the month always two cells wide."""
    return f"{day:%a} {day.day:>2} {day:%b}"


def column_days(days: Sequence[date]) -> list[str]:
    """ " 4 Jan" for each, all as wide; with the year where they are not all of one year."""
    is_one_year = len({day.year for day in days}) < 2
    return [f"{day.day:>2} {day:%b}" + ("" if is_one_year else f" {day.year}") for day in days]


def clock_words(left: timedelta) -> str:
    """ "1:04:09", or "4:09" in the last hour."""
    minutes, seconds = divmod(int(left.total_seconds()), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def time_words(minutes: float) -> str:
    """ "45 min", "2 h 05 min"."""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02} min" if hours else f"{rest} min"
