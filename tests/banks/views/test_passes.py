"""The day's pass: when there is one, what it may hold, and what fixes its list."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from banks.library import Given
from banks.planning.intents import accept
from banks.planning.visits import chosen_pass
from banks.sittings.printed_sheets import print_lines
from banks.sittings.printed_sitting import usual_purpose
from banks.views.open_sittings import open_sittings
from banks.views.today import LineKind, today_view
from domain.chooser import LeftOut
from domain.plan.inputs import ONE_DAY
from domain.responses import Purpose, VisitBegun, VisitKind
from domain.verdicts import Verdict
from tests.banks.planned import Clock, answer, planned_library, printed_bank
from tests.domain.plan.scenes import MONDAY, usual
from tui.cli import main
from tui.commands.planning import today_json
from tui.plan_words import pass_words

SATURDAY = MONDAY + 5 * ONE_DAY
EXAM = MONDAY + timedelta(days=60)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def library(tmp_path, clock):
    """Clouds was revised on Monday, some of it missed; it is Saturday, with nothing to sweep."""
    book = printed_bank(subjects=3, chapters=2, questions=15)
    opened = planned_library(tmp_path, clock, usual(exam=EXAM, papers=False), book)
    answer(opened, names("clouds", 1, range(1, 16)))
    answer(opened, names("clouds", 2, range(1, 16)), verdict=Verdict.WRONG)
    clock.day = SATURDAY
    yield opened
    opened.close()


def names(subject, chapter, numbers):
    return [f"book/{subject}.chapter-{chapter}/{number}" for number in numbers]


def given_right(questions):
    return [Given(question=question, verdict=Verdict.RIGHT) for question in questions]


def pass_line(library):
    return next((line for line in today_view(library).lines if line.kind is LineKind.PASS), None)


def begun_passes(library):
    records = library.history.records_of(VisitBegun)
    return [record for record in records if record.kind is VisitKind.PASS]


def test_a_pass_fills_idle_minutes_as_an_offer_and_stands_for_no_visit(library, clock):
    clock.day = MONDAY + 3 * ONE_DAY  # Clouds was tried in the last four days, nothing else ever
    assert pass_line(library) is None
    clock.day = SATURDAY
    view = today_view(library)
    line = pass_line(library)
    assert (line.offer, line.purpose, view.count) == (True, Purpose.PASS, 0)
    assert line.questions == (*names("clouds", 1, range(1, 16)), *names("clouds", 2, range(1, 16)))
    assert line.minutes <= 300
    (listed,) = today_json(view)["lines"]
    assert (listed["kind"], listed["offer"], listed["subject"], listed["round"]) == (
        "pass",
        True,
        None,
        None,
    )
    assert [(i["chapter"], i["number"]) for i in listed["items"][:2]] == [
        ("Chapter 1", 1),
        ("Chapter 1", 2),
    ]
    assert pass_words(line) == "Pass · 30 questions · Clouds 30"
    left_out = chosen_pass(library, SATURDAY).left_out
    assert left_out[LeftOut.FIRST_STUDY].questions == 60


def test_the_list_stays_all_day_and_is_on_record_once_it_is_begun(library):
    listed = pass_line(library).questions
    answer(library, listed[3:5], Purpose.FREE)
    assert pass_line(library).questions == listed
    assert pass_line(library).done == 2
    assert begun_passes(library) == []
    assert usual_purpose(library, listed, SATURDAY) is Purpose.PASS
    answer(library, listed[:1], Purpose.PASS)
    assert [question.questions for question in begun_passes(library)] == [listed]
    day_before = library.today() - ONE_DAY
    given = given_right(listed[:10])
    library.record(given, Purpose.FREE, day=day_before)
    assert pass_line(library).questions == listed
    library.undo()
    library.undo()
    assert begun_passes(library) == []
    library.record(given, Purpose.FREE, day=day_before)
    assert pass_line(library).questions == listed[10:]


def test_what_a_pass_brings_credits_no_visit(library, clock):
    before = today_view(library).next_sweep
    answer(library, pass_line(library).questions, Purpose.PASS)
    clock.day += 2 * ONE_DAY
    assert [line.subject_title for line in today_view(library).planned][:1] == ["Wind"]
    assert today_view(library).next_sweep == before


def test_a_printed_pass_is_entered_like_any_sheet_and_not_asked_again(library, clock, tmp_path):
    line = pass_line(library)
    print_lines(library, [line], tmp_path / "pass.txt")
    assert "Pass" in (tmp_path / "pass.txt").read_text("utf-8")
    (left,) = open_sittings(library)
    assert (left.is_sheet, left.purpose, left.total) == (True, Purpose.PASS, line.count)
    assert library.sitting(left.id).opened.visit == begun_passes(library)[0].id
    clock.day += 5 * ONE_DAY
    assert pass_line(library) is None
    answer(library, line.questions, Purpose.PASS)
    assert open_sittings(library) == []


def test_passes_are_off_or_kept_from_spare_weeks_by_one_setting(library):
    inputs = library.settings.plan
    accept(library, replace(inputs, passes=False))
    assert pass_line(library) is None
    accept(library, replace(inputs, keep_weeks=8))
    assert pass_line(library) is None


def test_a_pass_that_is_still_to_be_chosen_holds_up_no_screen(library):
    view = today_view(library, may_choose=False)
    assert view.is_choosing
    assert view.lines == ()
    # What a command chose, though it only looks, is the choice of the morning for the app too.
    assert main(["--store", str(library.store.folder), "--today", str(SATURDAY), "today"]) == 0
    view = today_view(library, may_choose=False)
    assert not view.is_choosing
    assert view.lines


def test_after_the_last_visit_passes_are_over_the_whole_bank_and_the_last_days_are_half(
    library, clock
):
    accept(library, replace(library.settings.plan, rounds=1))
    for name, day in (("wind", 7), ("tides", 8)):
        clock.day = MONDAY + day * ONE_DAY
        answer(library, [q for chapter in (1, 2) for q in names(name, chapter, range(1, 16))])
    clock.day = EXAM - 8 * ONE_DAY
    line = pass_line(library)
    assert {item.subject for item in line.items} == {"Clouds", "Wind", "Tides"}
    kinds = {}
    for days in range(7, 0, -1):
        clock.day = EXAM - days * ONE_DAY
        line = pass_line(library)
        if line is not None:
            kinds[days] = line.pass_kind
            assert line.minutes <= 150
    assert 1 not in kinds


def test_what_a_paper_asked_today_is_not_asked_again(library):
    first = pass_line(library).questions
    paper = library.open_sitting("Sample paper", Purpose.PAPER, first[:7])
    library.record(given_right(first[:7]), Purpose.PAPER, sitting=paper)

    line = pass_line(library)

    assert set(line.questions) == set(first[7:])
    library.record(given_right(line.questions[:1]), Purpose.PASS)
    other = library.open_sitting("Rehearsal", Purpose.PAPER, first[8:])
    library.record(given_right(first[9:12]), Purpose.PAPER, sitting=other)
    assert pass_line(library).questions == line.questions
