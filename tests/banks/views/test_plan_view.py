"""The plan read from banks and log, with what is said about it; and the inputs' acceptance."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.planning.intents import accept, begin_day
from banks.planning.workload import PlanWorkload, try_out
from banks.sittings.drill_sitting import DrillSitting
from banks.views.plan import plan_outlook, plan_view
from banks.views.today import today_view
from domain.errors import InputError
from domain.plan.inputs import ONE_DAY, PlanInputs
from domain.verdicts import Verdict
from tests.banks.planned import answer, planned_library, printed_bank
from tests.domain.plan.scenes import MONDAY, usual


def test_accepting_keeps_the_first_day_and_the_order(library):
    kept = library.settings.plan
    assert kept.start == MONDAY
    assert kept.order == ("book/clouds", "book/wind", "book/tides", "book/instruments")


def test_accepted_inputs_are_still_there_when_the_store_is_opened_again(tmp_path, clock):
    planned_library(tmp_path / "kept", clock).close()
    again = Library.open(tmp_path / "kept", clock)
    assert again.settings.plan.exam == usual().exam
    again.close()


@pytest.mark.parametrize(
    "changes",
    [
        {"exam": MONDAY},
        {"minutes": ((),) * 7},
        {"off": tuple(MONDAY + n * ONE_DAY for n in range(182))},
        {"exam": None},
    ],
)
def test_inputs_that_allow_no_plan_change_nothing(library, changes):
    before = library.settings
    with pytest.raises(InputError, match="The plan is unchanged"):
        accept(library, replace(before.plan, **changes))
    assert library.settings == before


def test_an_exam_before_today_is_refused_even_if_it_is_after_the_first_day(library, clock):
    clock.day += timedelta(days=30)
    with pytest.raises(InputError, match="must come after today"):
        accept(library, replace(library.settings.plan, exam=MONDAY + timedelta(days=20)))


def test_trying_out_changes_nothing(library):
    before = library.settings
    workload = PlanWorkload(library)
    tried = try_out(workload, replace(before.plan, rounds=1))
    assert [span.round for span in tried.rounds] == [1]
    assert library.settings == before


def test_the_heaviest_subject_leads_when_the_plan_is_first_made(tmp_path, clock):
    library = Library.open(tmp_path / "heavy", clock)
    book = printed_bank()
    weighed = tuple(
        replace(subject, weight=9.0 if subject.id == "tides" else 1.0) for subject in book.subjects
    )
    library.save_bank(book.with_subjects(weighed))
    accept(library, usual())
    order = library.settings.plan.order
    library.close()
    assert order[0] == "book/tides"


def test_the_order_stays_when_strengths_change(library, clock):
    before = plan_view(PlanWorkload(library)).plan.order
    answer(library, [f"book/tides.chapter-1/{n}" for n in range(1, 31)], verdict=Verdict.WRONG)
    clock.day += ONE_DAY
    assert plan_view(PlanWorkload(library)).plan.order == before


def outlook(library):
    workload = PlanWorkload(library)
    return plan_outlook(workload, workload.plan())


def test_a_plan_that_fits_has_no_levers_and_says_what_a_lost_week_costs(library):
    view, ahead = plan_view(PlanWorkload(library)), outlook(library)
    assert view.plan.feasible
    assert ahead.levers == ()
    assert view.plan.slack_days - 7 <= ahead.without_a_week < view.plan.slack_days
    assert (ahead.attendance, ahead.is_assumed) == (0.8, True)


def test_days_on_which_nothing_was_planned_are_none_that_were_missed(tmp_path, clock):
    """All that is planned is done for three weeks, and most of their days hold no visit."""
    book = printed_bank(subjects=2, chapters=2)
    library = planned_library(tmp_path / "idle", clock, usual(papers=False), book)
    for _ in range(21):
        workload = begin_day(library)
        for entry in workload.plan().on(library.today()):
            if entry.is_visit:
                chapters = [(part.chapter, n) for part in entry.parts for n in part.numbers]
                named = workload.named(chapters or workload.numbered(book.questions))
                answer(library, [question for *_, question in named])
        clock.day += ONE_DAY
    ahead, days = outlook(library), {event.day for event in PlanWorkload(library).events}
    library.close()
    assert len(days) < 14
    assert (ahead.attendance, ahead.is_assumed) == (1.0, False)


def test_every_lever_of_a_short_plan_makes_it_fit_but_the_last_which_says_what_goes(
    tmp_path, clock
):
    inputs = usual(exam=MONDAY + timedelta(days=11), papers=False)
    library = planned_library(tmp_path / "short", clock, inputs)
    view, ahead = plan_view(PlanWorkload(library)), outlook(library)
    assert not view.plan.feasible
    assert len(ahead.levers) > 1
    for lever in ahead.levers[:-1]:
        assert try_out(PlanWorkload(library), lever.inputs).feasible
    assert ahead.levers[-1].unreached > 0
    library.close()


def test_the_own_pace_is_offered_and_never_applied_by_itself(library, clock):
    names = [f"book/clouds.chapter-{c}/{n}" for c in (1, 2, 3, 4) for n in range(1, 61)]
    answer(library, names, seconds=20.0)
    clock.day += ONE_DAY
    view, ahead = plan_view(PlanWorkload(library)), outlook(library)
    assert view.inputs.seconds == 51
    assert ahead.pace.own < 35
    accept(library, ahead.pace.inputs)
    assert library.settings.plan.seconds == ahead.pace.inputs.seconds < 35


def test_once_the_own_pace_is_accepted_a_day_takes_what_it_promises_reading_included(
    tmp_path, clock
):
    """Thinking 20 to 34 s and 25 s on each answer, where 20 s a question were written."""
    library = planned_library(
        tmp_path / "slow", clock, usual(seconds=20.0, minutes=((36,),) * 6 + ((),))
    )
    tick = [0.0]

    def lived_and_promised() -> tuple[float, float]:
        before, view = tick[0], today_view(library)
        for line in view.planned:
            sitting = library.open_sitting(line.title, line.purpose, line.questions)
            run = DrillSitting(library, sitting, lambda: tick[0])
            while not run.is_over:
                tick[0] += 20 + 7 * len(run.sitting.given) % 21
                run.record(run.given(verdict=Verdict.RIGHT))
                tick[0] += 25
                run.next()
        clock.day += ONE_DAY
        return (tick[0] - before) / 60, sum(line.minutes for line in view.planned)

    lived, promised = lived_and_promised()
    while outlook(library).pace is None:
        lived_and_promised()
    assert lived > 1.5 * promised
    accept(library, outlook(library).pace.inputs)
    lived, promised = lived_and_promised()
    assert promised > 20
    assert abs(lived - promised) <= 0.05 * promised
    library.close()


def test_a_pause_counts_no_more_than_the_idle_cap(library, clock):
    answer(library, ["book/clouds.chapter-1/1"], seconds=9000.0)
    clock.day += ONE_DAY
    assert plan_view(PlanWorkload(library)).seconds < (300 + 30 * 51) / 31 + 1


def test_finish_days_come_after_three_weeks_with_a_range(library, clock):
    assert outlook(library).finishes == ()
    for day in range(15):
        clock.day = MONDAY + timedelta(days=day)
        for line in today_view(library).planned:
            answer(library, line.questions[: 10 if day % 2 else None], line.purpose)
    clock.day = MONDAY + timedelta(days=21)
    ahead = outlook(library)
    assert 0 < ahead.share_done < 1
    assert not ahead.is_assumed
    assert ahead.finishes
    for finish in ahead.finishes:
        assert finish.most[0] <= finish.half[0] <= finish.likely


def test_only_the_banks_named_are_planned(library):
    other = printed_bank(subjects=1)
    questions = {
        key.replace("book/", "more/"): replace(q, id=q.id.replace("book/", "more/"))
        for key, q in other.questions.items()
    }
    library.save_bank(type(other)(
        id="more", title="More", subjects=other.subjects, questions=questions
    ))  # fmt: skip
    assert len(PlanWorkload(library).subjects) == 4  # an import joins only when asked
    accept(library, replace(library.settings.plan, banks=("book", "more")))
    assert len(PlanWorkload(library).subjects) == 5


def test_a_plan_that_is_not_set_up_says_what_it_needs(tmp_path, clock):
    library = Library.open(tmp_path / "new", clock)
    library.save_settings(replace(library.settings, plan=PlanInputs()))
    with pytest.raises(InputError, match="the day of the exam"):
        plan_view(PlanWorkload(library))
    library.close()
