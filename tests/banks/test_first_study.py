"""First study: what is said, what the plan and the day make of it."""

from datetime import date, timedelta

import pytest

from banks.library import Library
from banks.planning.first_study import (
    StudiedAlready,
    parse_studied,
    say_studied,
    studied_text,
    waiting_subjects,
    with_studied,
)
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import evidence_log
from banks.views.sweeping import candidates
from banks.views.today import LineKind, TodayLine, today_view
from domain.errors import InputError
from domain.responses import FirstStudyDone, Purpose
from tests.banks.planned import Clock, answer, planned_library, printed_bank
from tests.domain.plan.scenes import MONDAY, usual

LATER = MONDAY + timedelta(days=60)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def opened(tmp_path, clock) -> Library:
    """Clouds and Wind are studied; Tides and Instruments can be revised in two months."""
    planned = printed_bank(questions=20)
    studied = StudiedAlready(("book/clouds", "book/wind"), LATER)
    return planned_library(tmp_path, clock, with_studied(usual(), planned, studied), planned)


def offered(opened: Library) -> list[TodayLine]:
    return [line for line in today_view(opened).lines if line.kind is LineKind.FIRST_STUDY]


def test_the_plan_begins_with_what_is_studied_and_the_others_not_before_their_day(opened):
    plan = PlanWorkload(opened).plan()

    first = {visit.visit.subject: visit.first for visit in reversed(plan.visits) if visit.first}
    assert min(first["book/tides"], first["book/instruments"]) >= LATER
    assert min(first.values()) == MONDAY


def test_today_offers_the_next_chapter_beside_the_plan_without_its_minutes(opened):
    before = today_view(opened)
    (line,) = offered(opened)

    assert (line.subject, line.chapter_title, line.count) == ("tides", "Chapter 1", 20)
    assert line.offer
    assert line.purpose is Purpose.STUDY
    assert line not in before.planned
    assert before.lines[-1] == line


def test_a_chapter_half_done_goes_on_and_one_done_stands_with_the_next(opened, clock):
    (line,) = offered(opened)
    answer(opened, line.questions[:8], Purpose.STUDY)
    assert [question.left for question in offered(opened)] == [12]

    answer(opened, line.questions[8:], Purpose.STUDY)
    assert [(question.chapter_title, question.left) for question in offered(opened)] == [
        ("Chapter 1", 0),
        ("Chapter 2", 20),
    ]

    clock.day += timedelta(days=1)
    assert [question.chapter_title for question in offered(opened)] == ["Chapter 2"]


def test_first_study_moves_nothing_of_the_plan(opened, clock):
    before = PlanWorkload(opened).plan(MONDAY + timedelta(days=1)).visits
    answer(opened, offered(opened)[0].questions, Purpose.STUDY)

    assert PlanWorkload(opened).plan(MONDAY + timedelta(days=1)).visits == before


def test_a_chapter_said_to_be_studied_is_not_offered_and_can_be_taken_back(opened):
    chapter = offered(opened)[0].chapter
    say_studied(opened, "book", "tides", chapter)

    assert offered(opened)[0].chapter_title == "Chapter 2"
    assert waiting_subjects(opened).keys() == {"book/tides", "book/instruments"}
    opened.undo()
    assert offered(opened)[0].chapter_title == "Chapter 1"


def test_a_subject_said_to_be_studied_can_be_revised_from_today(opened):
    before = opened.settings.plan
    say_studied(opened, "book", "tides")

    assert waiting_subjects(opened).keys() == {"book/instruments"}
    assert offered(opened)[0].subject == "instruments"
    assert PlanWorkload(opened).request().inputs.open_from != before.open_from
    opened.undo()
    assert opened.settings.plan == before
    assert opened.history.records_of(FirstStudyDone) == []


def test_untried_questions_are_chosen_only_where_first_study_is_said_to_be_done(opened):
    def since() -> dict[str, int | None]:
        choosable = candidates(opened, evidence_log(opened))
        return {
            question.question.rpartition("/")[0]: question.since
            for question in choosable.choosables()
        }

    say_studied(opened, "book", "tides", "tides.chapter-2")

    days = since()
    assert days["book/tides.chapter-2"] == MONDAY.toordinal()
    assert days["book/tides.chapter-1"] is None


@pytest.mark.parametrize(
    ("text", "subjects"),
    [
        ("all", ("book/clouds", "book/wind", "book/tides", "book/instruments")),
        ("none", ()),
        ("clouds, Tid", ("book/clouds", "book/tides")),
    ],
)
def test_what_is_studied_is_typed_by_the_beginnings_of_titles(text, subjects):
    assert parse_studied(text, LATER, printed_bank()) == StudiedAlready(subjects, LATER)


def test_nothing_said_is_nothing_assumed():
    assert parse_studied(" ", None, printed_bank()) is None


@pytest.mark.parametrize(
    ("text", "day", "words"),
    [
        ("Clouds", None, "from which day can the subjects not studied yet be revised"),
        ("none", None, "from which day"),
        ("Rain", LATER, '"Rain" is no subject'),
    ],
)
def test_what_cannot_be_taken_is_asked_for(text: str, day: date | None, words: str):
    with pytest.raises(InputError, match=words):
        parse_studied(text, day, printed_bank())


def test_what_was_said_is_shown_as_it_is_typed(opened):
    planned = printed_bank(questions=20)
    assert studied_text(opened, planned) == ""
    say_studied(opened, "book", "clouds")
    assert studied_text(opened, planned) == "Clouds"
    for subject in ("wind", "tides", "instruments"):
        say_studied(opened, "book", subject)
    assert studied_text(opened, planned) == "all"


def test_none_studied_is_told_by_every_subject_waiting(tmp_path, clock):
    planned = printed_bank(questions=20)
    inputs = with_studied(usual(), planned, StudiedAlready((), LATER))
    opened = planned_library(tmp_path, clock, inputs, planned)

    assert studied_text(opened, planned) == "none"
    everything = tuple(f"book/{subject.id}" for subject in planned.subjects)
    accept(opened, with_studied(opened.settings.plan, planned, StudiedAlready(everything)))
    assert waiting_subjects(opened) == {}
