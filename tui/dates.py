"""Days as a reader writes them, the same on every system."""

from datetime import date


def long_day(day: date) -> str:
    """Wednesday 25 November."""
    return f"{day:%A} {day.day} {day:%B}"


def short_day(day: date) -> str:
    """Wed 25 Nov, the day of the month always two cells wide."""
    return f"{day:%a} {day.day:>2} {day:%b}"
