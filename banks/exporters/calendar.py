"""The plan as a calendar file (RFC 5545): an event for every part of a day with work.

An event's UID is made of its day and part, so a later export updates the event instead of
doubling it; a part that has lost its work is sent as cancelled for the same reason.
"""

import math
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec import Struct

from banks.store.files import replace_file
from banks.store.filesystem import System
from domain.errors import InputError
from domain.plan.inputs import ONE_DAY, PlanInputs, Use
from domain.plan.study_plan import EntryKind, PlanEntry, PlanPart, StudyDay, StudyPlan
from domain.text import listed, safe_line

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
    plan: StudyPlan, inputs: PlanInputs, titles: Mapping[str, str], options: CalendarOptions
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
    for day in plan.days(inputs):
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


def _add_zone(calendar: "Calendar", plan: StudyPlan) -> None:
    """The rules of the zone for the plan's own years, as RFC 5545 wants beside every TZID."""
    calendar.add_missing_timezones(
        first_date=date(plan.first.year, 1, 1), last_date=date(plan.exam.year + 1, 1, 1)
    )


Work = tuple[PlanEntry, PlanPart]
"""An entry and what of it stands in one part of the day."""


def _events(
    day: StudyDay, inputs: PlanInputs, titles: Mapping[str, str], zone: ZoneInfo
) -> Iterator["Event"]:
    by_part: dict[int, list[Work]] = {}
    for entry in day.entries:
        for piece in entry.parts:
            if entry.kind is not EntryKind.PASS:
                by_part.setdefault(piece.part, []).append((entry, piece))
    if day.role is Use.REST:
        return
    begin = None
    for part, minutes in enumerate(day.parts or inputs.minutes[day.day.weekday()]):
        begin = _begin(day.day, part, inputs, zone, begin)
        work = by_part.get(part, [])
        planned = math.ceil(sum(piece.minutes for _, piece in work) - 1e-9)
        end = begin + timedelta(minutes=planned or minutes)
        yield _event(day, part, begin, end, work, titles)
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
    day: StudyDay,
    part: int,
    begin: datetime,
    end: datetime,
    work: list[Work],
    titles: Mapping[str, str],
) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", f"{day.day.isoformat()}-{part + 1}@plan.resieve")
    event.add("dtstart", begin)
    event.add("dtend", end)
    if not work:
        event.add("summary", "Free: nothing is planned here any more")
        event.add("status", "CANCELLED")
        return event
    event.add("summary", _summary(work, titles))
    event.add("description", "\n".join(_line(entry, piece, titles) for entry, piece in work))
    event.add("status", "CONFIRMED")
    event.add("categories", [day.role.value])
    return event


def _summary(work: list[Work], titles: Mapping[str, str]) -> str:
    entry = work[0][0]
    questions = sum(piece.questions for _, piece in work)
    if entry.kind is EntryKind.PAPER:
        return f"{(entry.paper or 'paper').capitalize()}: {questions} questions"
    verb = "Sweep" if entry.kind is EntryKind.SWEEP else "Revise"
    subjects = listed(titles[e.subject] for e, _ in work if e.subject)
    return f"{verb} {subjects}: {questions} questions (round {entry.round})"


def _line(entry: PlanEntry, piece: PlanPart, titles: Mapping[str, str]) -> str:
    if entry.kind is EntryKind.PAPER:
        return f"{(entry.paper or 'paper').capitalize()}: {piece.questions} questions"
    if piece.chapter is None:
        return f"{titles[entry.subject or '']}: {piece.questions} repeatedly missed questions"
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
