"""Inputs that no plan can be made of are told in plain sentences."""

from datetime import date, timedelta

import msgspec
import pytest

from domain.plan.inputs import DayMinutes, Pin, PlanInputs, Role

TODAY = date(2027, 1, 4)
EXAM = date(2027, 7, 5)


def test_inputs_without_an_exam_are_not_set_up_yet():
    assert not PlanInputs().is_set_up
    assert PlanInputs().problems(TODAY) == ["The plan needs the day of the exam."]


def test_the_usual_week_has_no_problems():
    assert PlanInputs(exam=EXAM, start=TODAY).problems(TODAY) == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"exam": TODAY - timedelta(days=1)}, "must come after the first day"),
        ({"start": EXAM}, "must come after the first day"),
        ({"exam": date(2040, 1, 1)}, "five years"),
        ({"minutes": ((),) * 7}, "No minutes to revise"),
        ({"roles": (Role.REVISION,) * 7}, "No minutes to sweep"),
        ({"off": tuple(TODAY + timedelta(days=n) for n in range(200))}, "Every day"),
        ({"minutes": ((2000,),) * 7}, "no more than 1440"),
        ({"minutes": ((30,),)}, "seven entries"),
        ({"rounds": 0}, "Rounds: 1 to 6, not 0"),
        ({"seconds": 0}, "Seconds per question: 1 to 3600"),
    ],
)
def test_a_problem_is_told_plainly(changes, words):
    inputs = msgspec.structs.replace(PlanInputs(exam=EXAM, start=TODAY), **changes)
    assert any(words in problem for problem in inputs.problems(TODAY))


def test_inputs_survive_json():
    inputs = PlanInputs(
        exam=EXAM,
        start=TODAY,
        off=(date(2027, 4, 2),),
        changed_days=(DayMinutes(date(2027, 4, 3), (20,)),),
        pins=(Pin("clouds", date(2027, 4, 5)),),
        order=("clouds", "wind"),
    )
    assert msgspec.json.decode(msgspec.json.encode(inputs), type=PlanInputs) == inputs
