"""The strict reader that the calendar file is checked with, against the RFC's own examples.

RFC 5545 (B. Desruisseaux, 2009): section 3.1 (folding), 3.3.11 (TEXT escapes), 3.6.1 (an
all-day event's DTEND is the day after its last).
"""

from banks.exporters.calendar import CalendarOptions, to_calendar
from tests.banks.exporters.strict_calendar import components, read_strictly
from tests.banks.exporters.test_calendar import OPTIONS
from tests.domain.plan.scenes import EXAM, alike, planned, usual


def test_the_folding_example_of_section_3_1():
    folded = b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
    expected = "This is a long description that exists on a long line."
    assert read_strictly(folded)[0].value == expected


def test_the_text_example_of_section_3_3_11():
    line = rb"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared." + b"\r\n"
    expected = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    assert read_strictly(line)[0].value == expected


def test_the_exam_ends_on_the_day_after_as_in_section_3_6_1():
    subjects = alike(1)
    titles = {s.id: s.title for s in subjects} | {c.id: c.title for c in subjects[0].chapters}
    options = CalendarOptions("Europe/Oslo", OPTIONS.stamp)
    plan = planned(usual(), subjects)
    read = components(to_calendar(plan, usual(), titles, options), "VEVENT")
    exam = next(event for event in read if event["UID"] == "exam@plan.resieve")
    assert (exam["DTSTART"], exam["DTEND"]) == ("20270705", "20270706")
    assert EXAM.isoformat() == "2027-07-05"
