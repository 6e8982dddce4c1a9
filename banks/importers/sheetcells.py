"""Cells of a spreadsheet as the text that stands in them, and what the spreadsheet made of it."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any, Protocol


class Cell(Protocol):
    """A cell: its value as stored, and how the spreadsheet shows it."""

    value: Any
    number_format: str


_WHEN = (datetime, date, time, timedelta)


def cell_text(cell: Cell) -> str:
    """The cell's content as text, as near to what the spreadsheet shows as can be known."""
    value = cell.value
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return _number(float(value) if abs(value) < 2**53 else value, cell.number_format or "")
    if isinstance(value, _WHEN):
        return _moment(value, cell.number_format or "")
    return str(value)


def changed_by_the_spreadsheet(cells: Sequence[Cell]) -> str:
    """What to tell about cells that hold dates, times or errors; "" when there are none."""
    when = [cell_text(cell) for cell in cells if isinstance(cell.value, _WHEN)]
    broken = [cell.value for cell in cells if getattr(cell, "data_type", "") == "e"]
    if when:
        held = ", ".join(when[:4])
        return f"the spreadsheet holds dates or times ({held}); kept so, check what was meant"
    return f"the spreadsheet shows an error ({broken[0]}); kept so" if broken else ""


def _number(value: float, shown_as: str) -> str:
    if shown_as.endswith("%"):
        return f"{value * 100:.15g}%"
    whole = float(value).is_integer() and abs(value) < 1e15
    return str(int(value)) if whole else f"{value:.15g}"


def _moment(value: datetime | date | time | timedelta, shown_as: str) -> str:
    """`2-Jan` where no year is shown, `2:25` for a time, else ISO 8601."""
    if isinstance(value, timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return _clock(*divmod(minutes, 60), seconds)
    if isinstance(value, time):
        return _clock(value.hour, value.minute, value.second)
    if isinstance(value, datetime) and value.time() != time():
        return value.isoformat(" ", "minutes")
    if "y" not in shown_as.lower() and "d" in shown_as.lower():
        return f"{value.day}-{value:%b}"
    return value.isoformat()[:10]


def _clock(hours: int, minutes: int, seconds: int) -> str:
    return f"{hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")
