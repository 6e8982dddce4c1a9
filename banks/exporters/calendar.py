"""The plan as a calendar file (RFC 5545): an event for every part of a day with work.

An event's UID is made of its day and part, so a later export updates the event instead of
doubling it; a part that has lost its work is sent as cancelled for the same reason.
"""

import math
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec import Struct

from banks.store.files import replace_file
from banks.store.filesystem import System
from domain.errors import InputError
from domain.plan.days import ONE_DAY, Use
from domain.plan.inputs import PlanInputs
from domain.plan.result import Piece, Plan, PlannedDay
from domain.text import safe_line

if TYPE_CHECKING:
    from icalendar import Calendar, Event

_SEQUENCE_BEGINS = datetime(2000, 1, 1)


class CalendarOptions(Struct, frozen=True):
    """`zone` is an IANA name ("Europe/Oslo"); `alarm` minutes before each event, None for none;
    `stamp` the moment of the export, with its offset.
    """

    zone: str
    stamp: datetime
    alarm: int | None = None


def to_calendar(
    plan: Plan, inputs: PlanInputs, titles: Mapping[str, str], options: CalendarOptions
) -> bytes:
    """The calendar file. `titles` gives subjects and chapters by id.

    Raises InputError for a time zone that is not known here.
    """
    from icalendar import Calendar

    zone, titles = _zone(options.zone), {key: safe_line(text) for key, text in titles.items()}
    calendar = Calendar()
    calendar.add("prodid", "-//resieve//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", "Revision plan")
    for day in plan.days:
        for event in _events(day, inputs, titles, zone):
            calendar.add_component(_stamped(event, options))
    calendar.add_component(_stamped(_exam(plan.exam), options))
    _add_zone(calendar, plan)
    written: bytes = calendar.to_ical()
    return written


def save(data: bytes, path: Path) -> None:
    """Write the file, in the place of an earlier one. Raises StoreError when it can't be."""
    replace_file(System(), path.absolute(), data, keep_previous=False)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        raise InputError(
            f"{name}: no known time zone; expected a name such as Europe/Oslo"
        ) from None


def _add_zone(calendar: "Calendar", plan: Plan) -> None:
    """The rules of the zone for the plan's own years, as RFC 5545 wants beside every TZID."""
    calendar.add_missing_timezones(
        first_date=date(plan.first.year, 1, 1), last_date=date(plan.exam.year + 1, 1, 1)
    )


def _events(
    day: PlannedDay, inputs: PlanInputs, titles: Mapping[str, str], zone: ZoneInfo
) -> Iterator["Event"]:
    by_part = {part: list(pieces) for part, pieces in groupby(day.pieces, lambda piece: piece.part)}
    parts = day.parts or inputs.minutes[day.day.weekday()]
    if day.use is Use.REST:
        return
    begin = None
    for part, minutes in enumerate(parts):
        begin = _begin(day.day, part, inputs, zone, begin)
        pieces = by_part.get(part, [])
        planned = math.ceil(sum(piece.minutes for piece in pieces) - 1e-9)
        end = begin + timedelta(minutes=planned or minutes)
        yield _event(day, part, begin, end, pieces, titles)
        begin = end


def _begin(
    day: date, part: int, inputs: PlanInputs, zone: ZoneInfo, after: datetime | None
) -> datetime:
    """The part's set time, or right after the part before where that is later or none is set."""
    if part < len(inputs.starts):
        set_time = datetime.combine(day, inputs.starts[part], zone)
        return max(set_time, after) if after else set_time
    return after or datetime.combine(day, time(12), zone)


def _event(
    day: PlannedDay,
    part: int,
    begin: datetime,
    end: datetime,
    pieces: list[Piece],
    titles: Mapping[str, str],
) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", f"{day.day.isoformat()}-{part + 1}@plan.resieve")
    event.add("dtstart", begin)
    event.add("dtend", end)
    if not pieces:
        event.add("summary", "Free: nothing is planned here any more")
        event.add("status", "CANCELLED")
        return event
    event.add("summary", _summary(day, pieces, titles))
    event.add("description", "\n".join(_line(piece, titles) for piece in pieces))
    event.add("status", "CONFIRMED")
    event.add("categories", [day.use.value])
    return event


def _summary(day: PlannedDay, pieces: list[Piece], titles: Mapping[str, str]) -> str:
    verb = "Sweep" if day.use is Use.SWEEP else "Revise"
    subjects = " and ".join(dict.fromkeys(titles[piece.subject] for piece in pieces))
    questions = sum(piece.questions for piece in pieces)
    return f"{verb} {subjects}: {questions} questions (round {day.round})"


def _line(piece: Piece, titles: Mapping[str, str]) -> str:
    if not piece.numbers:
        return f"{titles[piece.subject]}: {piece.questions} hard questions"
    numbers = f"{piece.numbers[0]}–{piece.numbers[-1]}"
    return f"{titles[piece.chapter]}: {numbers} ({piece.questions} questions)"


def _exam(day: date) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", "exam@plan.resieve")
    event.add("dtstart", day)
    event.add("dtend", day + ONE_DAY)
    event.add("summary", "Exam")
    return event


def _stamped(event: "Event", options: CalendarOptions) -> "Event":
    """The event with the export's moment, and an alarm where there is work to be warned of."""
    from icalendar import Alarm

    moment = options.stamp.replace(tzinfo=None)
    event.add("dtstamp", options.stamp.astimezone(ZoneInfo("UTC")))
    event.add("sequence", int((moment - _SEQUENCE_BEGINS).total_seconds() // 60))
    if options.alarm is not None and event.get("status") == "CONFIRMED":
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", event["summary"])
        alarm.add("trigger", timedelta(minutes=-options.alarm))
        event.add_component(alarm)
    return event
