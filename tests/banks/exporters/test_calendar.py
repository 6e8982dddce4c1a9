"""The calendar file: byte by byte as RFC 5545 wants it, and the same events every time."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from msgspec.structs import replace

from banks.exporters.calendar import CalendarOptions, to_calendar
from domain.errors import InputError
from domain.plan.changes import with_day_off
from domain.plan.inputs import Use
from tests.banks.exporters.strict_calendar import components, read_strictly
from tests.domain.plan.scenes import MONDAY, alike, planned, usual

SUBJECTS = alike(6)
INPUTS = usual(papers=False)
PLAN = planned(INPUTS, SUBJECTS)
TITLES = {s.id: f"Wolken, Wind; Wetter ☁ αβγ \\ {s.title}" for s in SUBJECTS} | {
    c.id: f"Überlanges Kapitel über die Beobachtung der Wolken: {c.title}"
    for s in SUBJECTS
    for c in s.chapters
}
OPTIONS = CalendarOptions("Europe/Oslo", datetime(2027, 1, 4, 12, tzinfo=UTC), alarm=10)
FILE = to_calendar(PLAN, INPUTS, TITLES, OPTIONS)


def events(data):
    from icalendar import Calendar

    return {str(event["uid"]): event for event in Calendar.from_ical(data).walk("VEVENT")}


def test_every_line_ends_in_crlf_and_has_at_most_75_octets():
    assert FILE.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in FILE.replace(b"\r\n", b"")
    assert max(map(len, FILE.split(b"\r\n"))) <= 75


def test_no_line_is_split_inside_a_character():
    assert any(byte > 127 for byte in FILE)
    for line in FILE.split(b"\r\n"):
        line.decode("utf-8")


def test_every_uid_is_there_once():
    uids = [component["UID"] for component in components(FILE, "VEVENT")]
    assert len(uids) == len(set(uids)) > 100


def test_a_strict_reader_finds_what_the_plan_has():
    read = {component["UID"]: component for component in components(FILE, "VEVENT")}
    for day in PLAN.days(INPUTS):
        work = [(entry, part) for entry in day.visits for part in entry.parts]
        for number in {part.part for _, part in work}:
            event = read[f"{day.day}-{number + 1}@plan.resieve"]
            own = [(entry, part) for entry, part in work if part.part == number]
            assert event["STATUS"] == "CONFIRMED"
            assert f"{sum(part.questions for _, part in own)} questions" in event["SUMMARY"]
            assert TITLES[own[0][0].subject] in event["SUMMARY"]
            assert len(event["DESCRIPTION"].split("\n")) >= len(own)


def test_the_library_reads_the_same_events_at_local_times():
    read = events(FILE)
    first = read[f"{MONDAY}-1@plan.resieve"]
    assert first["dtstart"].dt.isoformat() == "2027-01-04T06:30:00+01:00"
    assert (first["dtend"].dt - first["dtstart"].dt) == timedelta(minutes=33)
    summer = read["2027-05-03-1@plan.resieve"]
    assert summer["dtstart"].dt.isoformat() == "2027-05-03T06:30:00+02:00"
    assert read["exam@plan.resieve"]["dtstart"].dt == date(2027, 7, 5)


def test_a_second_independent_library_reads_the_file():
    vobject = pytest.importorskip("vobject")
    read = {event.uid.value: event for event in vobject.readOne(FILE.decode()).vevent_list}
    assert len(read) == len(events(FILE))
    first = read[f"{MONDAY}-1@plan.resieve"]
    assert first.dtstart.value.isoformat() == "2027-01-04T06:30:00+01:00"
    assert first.summary.value == f"Revise {TITLES['s01']}: 38 questions (round 1)"


def test_exporting_again_gives_the_same_uids_and_a_higher_sequence():
    later = replace(OPTIONS, stamp=OPTIONS.stamp + timedelta(days=1))
    again = events(to_calendar(PLAN, INPUTS, TITLES, later))
    before = events(FILE)
    assert again.keys() == before.keys()
    assert all(again[uid]["sequence"] > before[uid]["sequence"] for uid in again)


def test_a_day_that_lost_its_work_is_cancelled_not_left_behind():
    inputs = with_day_off(INPUTS, MONDAY)
    after = events(to_calendar(planned(inputs, SUBJECTS), inputs, TITLES, OPTIONS))
    assert str(events(FILE)[f"{MONDAY}-2@plan.resieve"]["status"]) == "CONFIRMED"
    assert str(after[f"{MONDAY}-2@plan.resieve"]["status"]) == "CANCELLED"


def test_rest_days_have_no_events():
    resting = [day.day for day in PLAN.days(INPUTS) if day.role is Use.REST]
    assert resting
    assert not any(uid.startswith(str(day)) for uid in events(FILE) for day in resting)


def test_alarms_come_only_when_asked_for_and_only_before_work():
    assert len(components(FILE, "VALARM")) == sum(
        component["STATUS"] == "CONFIRMED"
        for component in components(FILE, "VEVENT")
        if "STATUS" in component
    )
    silent = to_calendar(PLAN, INPUTS, TITLES, replace(OPTIONS, alarm=None))
    assert components(silent, "VALARM") == []


def test_the_zone_comes_with_its_rules():
    assert [component["TZID"] for component in components(FILE, "VTIMEZONE")] == ["Europe/Oslo"]
    assert read_strictly(FILE)[0].params == {}


def test_a_part_without_a_set_time_follows_the_part_before():
    inputs = usual(minutes=((20, 20, 20),) * 7, starts=(time(8),))
    plan = planned(inputs, SUBJECTS)
    read = events(to_calendar(plan, inputs, TITLES, OPTIONS))
    parts = [read[f"{MONDAY}-{part}@plan.resieve"] for part in (1, 2, 3)]
    assert parts[0]["dtstart"].dt.hour == 8
    assert [part["dtstart"].dt for part in parts[1:]] == [part["dtend"].dt for part in parts[:2]]


def test_an_unknown_zone_is_refused():
    with pytest.raises(InputError, match="Nowhere/Land: no known time zone"):
        to_calendar(PLAN, INPUTS, TITLES, replace(OPTIONS, zone="Nowhere/Land"))


@pytest.mark.parametrize(
    "broken",
    [b"SUMMARY:one\nX:two\r\n", b"SUMMARY:a, b\r\n", b"no colon\r\n", b"SUMMARY:x", b"A B:c\r\n"],
)
def test_the_strict_reader_refuses_what_the_grammar_does_not_allow(broken):
    with pytest.raises(ValueError):
        read_strictly(broken)
