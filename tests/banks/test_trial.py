"""Changes are tried out on the plan; what was accepted can be taken back."""

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.planning.accepting import accept
from banks.planning.trial import PlanTrial
from banks.views.plan_weeks import week_of
from domain.errors import InputError
from domain.plan.days import Use
from domain.plan.edits import day_off, pinned, swapped
from tests.banks.planned import Clock, planned_library
from tests.domain.plan.scenes import EXAM, MONDAY


@pytest.fixture
def library(tmp_path):
    opened = planned_library(tmp_path, Clock())
    yield opened
    opened.close()


@pytest.fixture
def trial(library):
    return PlanTrial(library)


def test_a_trial_begins_as_what_is_kept(trial):
    assert not trial.is_tried
    assert trial.difference.is_none


def test_changes_add_up_until_they_are_dropped(trial):
    trial.change(lambda inputs: day_off(inputs, MONDAY))
    trial.change(lambda inputs: swapped(inputs, trial.plan, "book/clouds", 1))
    assert trial.is_tried
    assert trial.weeks[0].days[0].use is Use.OFF
    assert trial.weeks[0].blocks[0].title == "Wind"
    trial.drop()
    assert trial.weeks[0].blocks[0].title == "Clouds"


def test_a_change_that_allows_no_plan_leaves_the_trial_as_it_was(trial):
    before = trial.plan
    with pytest.raises(InputError):
        trial.change(lambda inputs: replace(inputs, minutes=((),) * 7))
    assert trial.plan == before
    assert not trial.is_tried


def test_what_was_accepted_can_be_taken_back_step_by_step(library):
    first = library.settings.plan
    accept(library, replace(first, rounds=1))
    accept(library, replace(first, rounds=3))
    assert library.undo().label == "the plan"
    assert library.settings.plan.rounds == 1
    library.undo()
    assert library.settings.plan == first


def test_what_was_accepted_is_undone_after_a_restart_too(tmp_path):
    first = planned_library(tmp_path / "again", Clock())
    kept = first.settings.plan
    accept(first, replace(kept, rounds=1))
    first.close()
    again = Library.open(tmp_path / "again", Clock())
    assert again.undo().label == "the plan"
    assert again.settings.plan == kept
    again.close()


def test_the_weeks_run_to_the_exam_and_name_who_is_revised_and_swept(trial):
    weeks = trial.weeks
    assert (weeks[0].monday, weeks[-1].monday) == (MONDAY, EXAM)
    assert [week.exam for week in weeks[-2:]] == [None, 0]
    assert [(turn.title, turn.questions) for turn in weeks[0].blocks] == [("Clouds", 320)]
    assert [turn.title for turn in weeks[0].sweeps] == ["Tides"]
    assert weeks[0].rounds == (1,)
    assert weeks[0].subject_on(5) == "book/tides"
    assert weeks[0].subject_on(6) == "book/clouds"
    assert weeks[-1].subject_on(0) == ""


def test_a_pinned_subject_is_marked_in_its_week(trial):
    week = trial.weeks[5].monday
    trial.change(lambda inputs: pinned(inputs, trial.plan, "book/wind", week))
    place = week_of(trial.weeks, "book/wind")
    assert (place, trial.weeks[place].blocks[0].pinned) == (5, True)
