"""What a change of plan brings, told only where the model can be trusted."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import EvidenceLog
from banks.views.exam import exam_blueprint
from banks.views.plan import PlanTrial, final_revision, plan_outlook
from banks.views.plan_worth import PlanWorth
from banks.views.sweeping import first_study_worth, sweep
from banks.views.week import absence_cost
from domain.evidence.differences import ScoreDifference
from domain.evidence.memory.learning import Check, Memory, PredictionScore
from domain.evidence.memory.logistic import fit
from domain.plan.levers import PatternKind
from domain.responses import Purpose
from tests.banks.planned import TITLES, Clock, answer, planned_library, printed_bank
from tests.domain.plan.scenes import MONDAY, usual
from tui.plan_words import final_question, pattern_words, worth_figure, worth_words
from tui.screens.week import absence_words
from tui.sweep_words import study_worth_words

SCORE = PredictionScore(0.5, 0.2)
TRUSTED = Check(1000, SCORE, SCORE, SCORE, [], True, 0.2)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def library(tmp_path, clock):
    """Four subjects, all studied for the first time, and ten weeks to the exam."""
    inputs = usual(exam=MONDAY + timedelta(days=70), papers=False)
    opened = planned_library(tmp_path, clock, inputs, printed_bank(chapters=2, questions=60))
    names = [
        f"book/{s.lower()}.chapter-{c}/{n}"
        for s in TITLES[:4]
        for c in (1, 2)
        for n in range(1, 61)
    ]
    clock.day = MONDAY - timedelta(days=40)
    answer(opened, names, Purpose.STUDY)
    clock.day = MONDAY
    yield opened
    opened.close()


@pytest.fixture
def fitted(monkeypatch):
    """A model that may be used: the prior, as after few responses."""
    model = fit([], [f"book/{title.lower()}" for title in TITLES[:4]])
    memory = Memory(model, "the memory model", TRUSTED)
    monkeypatch.setattr(EvidenceLog, "memory", memory)


def test_before_there_is_a_model_nothing_is_told(library):
    trial = PlanTrial(library)
    worth = trial.worth.of(replace(trial.inputs, passes=False))
    assert worth is None
    assert absence_cost(library, PlanWorkload(library), 3) is None
    assert worth_words(worth) == "the effect on the score can't be told yet"


def test_an_absence_that_leaves_no_day_to_plan_for_tells_no_cost(tmp_path, clock, fitted):
    inputs = usual(exam=MONDAY + timedelta(days=3), papers=False, last_week=False)
    library = planned_library(tmp_path, clock, inputs, printed_bank(chapters=2, questions=60))
    assert absence_cost(library, PlanWorkload(library), 3) is None
    library.close()


def test_an_absence_costs_what_as_many_days_from_today_on_would(library, fitted):
    workload = PlanWorkload(library)
    few, many = (absence_cost(library, workload, days) for days in (3, 20))
    days = sorted({entry.day for entry in workload.plan().entries if entry.is_visit})[:20]
    lost = PlanWorth(library, workload).of(replace(workload.inputs, off=tuple(days)))

    assert 0 <= few[0] <= few[1] < many[1]
    assert sum(many) / 2 == pytest.approx(-lost.score, rel=1e-6) or many[0] == 0
    assert absence_words(3, few).startswith("3 planned days in a row without work cost too few")
    assert absence_words(9, (0.2, 4.1)).startswith(
        "9 planned days in a row without work cost about 0–4"
    )
    assert "cost" not in absence_words(3, None)


def test_a_first_study_has_to_bring_what_the_same_hours_bring_elsewhere(library, monkeypatch):
    assert first_study_worth(library, "book/tides", 5) is None
    assert list(study_worth_words(None)) == [
        "That can't be told yet: no forecast from your responses has proved reliable."
    ]
    model = fit([], [f"book/{title.lower()}" for title in TITLES[:4]])
    monkeypatch.setattr(EvidenceLog, "memory", Memory(model, "the memory model", TRUSTED))
    subject = f"book/{TITLES[3].lower()}"
    worth = first_study_worth(library, subject, 2)
    gain, read = sweep(library, 120).gain, EvidenceLog(library)
    sections = {part.subject: part.questions for part in exam_blueprint(library, read).sections}

    assert worth.questions == sections[subject]
    assert worth.marks == pytest.approx((gain / 1.26, gain / 0.69))
    for share, marks in zip(worth.right_then, worth.marks, strict=True):
        assert worth.questions * (share - 0.25) == pytest.approx(marks)
    assert "not the 25 % of a random pick" in " ".join(study_worth_words(worth))
    assert first_study_worth(library, "book/gone", 2).right_then is None


def test_the_kept_plan_differs_from_itself_by_nothing_and_passes_off_cost_marks(library, fitted):
    trial = PlanTrial(library)
    assert trial.worth.of(trial.inputs).score == 0
    off = trial.worth.of(replace(trial.inputs, passes=False))
    assert off.score < -3
    sure = ScoreDifference(off.score, 1.0)
    assert worth_words(sure).endswith("less (over 99 % sure it is less)")
    assert worth_figure(sure) == f"−{-off.score:.0f} marks, over 99 % sure"


def test_patterns_are_compared_with_what_they_leave_spare(library, fitted):
    patterns = PlanTrial(library).patterns()
    kinds = [(question.pattern.kind, question.pattern.value) for question in patterns]
    assert (PatternKind.ROUNDS, 1) in kinds
    assert (PatternKind.ROUNDS, 2) not in kinds
    assert (PatternKind.PASSES, 0) in kinds
    assert all(question.slack_days is not None for question in patterns)
    words = [pattern_words(question) for question in patterns]
    assert any(line.startswith("Passes off (") for line in words)
    # No visit stands in the last days, so final revision would change nothing.
    assert PatternKind.FINAL_REVISION not in dict(kinds)


def test_a_plan_that_fits_may_give_its_last_visits_up_for_final_revision(library, fitted):
    accept(library, usual(exam=MONDAY + timedelta(days=25), papers=False))
    kept = PlanTrial(library)
    assert kept.plan.feasible
    final = kept.patterns()[-1]
    words = f"Final revision in the last 21 days ({final.unreached} questions get no visit)"
    assert pattern_words(final) == words
    last = [v.visit for v in kept.plan.visits if v.last >= final.pattern.inputs.final_from]

    accept(library, final.pattern.inputs)

    taken = PlanTrial(library)
    assert final.unreached == sum(left.questions for left in taken.plan.beyond)
    assert {left.visit for left in taken.plan.beyond} <= set(last)
    assert last
    back = taken.patterns()[-1]
    assert pattern_words(back).startswith("Visits instead of final revision (")
    assert back.pattern.inputs == kept.inputs


def test_a_short_plan_asks_once_how_its_last_days_shall_go(tmp_path, clock, fitted):
    clock.day = MONDAY + timedelta(days=1)
    inputs = usual(exam=MONDAY + timedelta(days=22), papers=False)
    opened = planned_library(tmp_path, clock, inputs, printed_bank(chapters=9, questions=60))
    assert final_revision(PlanWorkload(opened)).days == 21
    clock.day -= timedelta(days=1)
    assert final_revision(PlanWorkload(opened)) is None
    clock.day += timedelta(days=1)
    workload = PlanWorkload(opened)
    worth = PlanWorth(opened, workload)
    outlook = plan_outlook(workload, workload.plan(), worth)
    asked = outlook.final_revision
    assert asked.unreached == sum(left.questions for left in workload.plan().beyond)
    assert final_question(asked).startswith("21 days to the exam, and ")
    begun = {scheduled.visit.subject for scheduled in workload.plan().visits}
    assert not begun & {f"book/{title.lower()}" for title in asked.subjects}
    opened.accept_plan(outlook.offers["final-revision"])
    workload = PlanWorkload(opened)
    assert final_revision(workload) is None
    assert plan_outlook(workload, workload.plan()).levers == ()
    opened.accept_plan(outlook.offers["go-on"])
    workload = PlanWorkload(opened)
    assert final_revision(workload) is None
    assert workload.inputs.final_from is None
    opened.close()
