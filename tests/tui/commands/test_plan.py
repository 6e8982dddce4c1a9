"""`resieve plan` and `resieve today`: what goes in, what comes out, what is refused."""

import json
from datetime import date, time, timedelta

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.views.plan import PaceOffer, PlanOutlook
from domain.errors import StoreError
from domain.plan.changes import summary_of
from domain.plan.inputs import ONE_DAY, SubjectOpens
from domain.plan.levers import Lever, PlanAdvice, PlanLever
from domain.plan.outlook import Finish
from tests.banks.exporters.strict_calendar import components
from tests.banks.planned import Clock, answer, miss_twice, printed_bank
from tests.domain.plan.scenes import MONDAY, alike, planned, usual
from tui.cli import main
from tui.plan_words import attendance_words, finish_words, lever_words, offer_words

EXAM = "2027-07-05"
EARLY, AFTER = date(2027, 2, 1), date(2027, 3, 1)
"""Before and after an exam on the 40th day."""


@pytest.fixture
def store(tmp_path):
    folder = tmp_path / "store"
    library = Library.open(folder, Clock())
    library.save_bank(printed_bank())
    library.close()
    return folder


@pytest.fixture
def resieve(store, capsys):
    def run(*words, today=MONDAY):
        status = main(["--store", str(store), "--today", str(today), *words])
        out, err = capsys.readouterr()
        return status, out, err

    return run


def test_the_exam_day_is_enough_to_get_a_plan(resieve):
    status, out, err = resieve("plan", "--exam", EXAM)
    assert (status, err) == (0, "")
    assert "Exam on Mon 05 Jul 2027, in 182 days." in out
    assert "Fits if you keep" in out
    assert "Mon-Thu Clouds (320)" in out


def test_the_plan_as_json_has_exactly_the_contracts_keys(resieve):
    status, out, _ = resieve("plan", "--exam", EXAM, "--json")
    plan = json.loads(out)
    assert status == 0
    assert list(plan) == [
        "feasible", "at_own_pace", "exam", "needs_attendance", "rounds", "slack_days", "days",
        "beyond", "shortfall_minutes", "remedies", "advice",
    ]  # fmt: skip
    assert list(plan["rounds"][0]) == ["round", "first_day", "last_day", "slack_days"]
    first = plan["days"][0]
    assert list(first) == [
        "date",
        "role",
        "round",
        "subject",
        "kind",
        "over_minutes",
        "reserve",
        "parts",
    ]
    assert first["date"] == "2027-01-04"
    assert (first["role"], first["round"], first["subject"]) == ("revision", 1, "Clouds")
    assert first["parts"][0] == {
        "chapter": "Chapter 1", "from": 1, "to": 35, "questions": 35, "minutes": 29.8,
    }  # fmt: skip
    assert plan["feasible"] is True
    assert plan["shortfall_minutes"] == 0


def test_a_plan_that_does_not_fit_is_told_with_its_remedies(resieve):
    _, out, _ = resieve("plan", "--exam", "2027-01-15", "--json")
    plan = json.loads(out)
    assert plan["feasible"] is False
    assert plan["shortfall_minutes"] > 0
    assert {"lever", "value", "words", "command", "score_difference"} <= set(plan["remedies"][0])
    assert plan["beyond"][0].keys() == {"subject", "round", "questions"}
    _, out, _ = resieve("plan")
    assert "do not fit before the exam" in out
    name = plan["remedies"][0]["command"].removeprefix("resieve plan --accept ")
    assert f"--accept {name}" in out
    accepted = json.loads(resieve("plan", "--accept", name, "--json")[1])
    assert accepted["feasible"] is True


def test_what_is_not_on_offer_cannot_be_accepted(resieve):
    resieve("plan", "--exam", EXAM)
    status, _, err = resieve("plan", "--accept", "revision+500")
    assert status == 1
    assert "is not offered now" in err


def test_today_prints_its_lines_and_they_are_a_sitting(resieve, store, tmp_path):
    resieve("plan", "--exam", EXAM)
    sheet = tmp_path / "day.txt"
    status, out, _ = resieve("today", "--sheet", str(sheet), "--line", "1")
    assert (status, "35 questions to look up" in out) == (0, True)
    resieve("today", "--sheet", str(sheet), "--line", "1")
    library = Library.open(store, Clock(), read_only=True)
    sittings = [sitting.opened for sitting in library.history.sittings.values()]
    library.close()
    items = json.loads(resieve("today", "--json")[1])["lines"][0]["items"]
    assert [(sitting.sheet, len(sitting.questions)) for sitting in sittings] == [(True, 35)]
    assert [item["number"] for item in items] == list(range(1, 36))


def test_all_the_subjects_swept_on_a_day_are_named(resieve):
    _, out, _ = resieve("plan", "--exam", "2027-01-25", "--papers", "off", "--passes", "off")
    assert " and " in "".join(line for line in out.splitlines() if "sweep" in line)


def test_where_no_single_change_helps_that_is_said(resieve):
    _, out, _ = resieve("plan", "--exam", "2027-01-06")
    assert "How do you want to use the days?" in out
    _, out, _ = resieve("plan", "--final-revision", "0")
    assert "Most valuable chapters first" in out
    assert out.count("--accept") == 1


def test_every_input_can_be_set_and_is_kept(resieve, store):
    resieve(
        "plan", "--exam", EXAM, "--start", "2027-01-11", "--rounds", "1", "--seconds", "40",
        "--minutes", "mon-fri 45, sat 200, sun 0", "--roles", "sun rest",
        "--off", "2027-02-01..2027-02-03", "--bank", "book", "--times", "7:15,20:00",
    )  # fmt: skip
    library = Library.open(store, Clock(), read_only=True)
    kept = library.settings.plan
    library.close()
    assert kept.start == MONDAY + timedelta(days=7)
    assert (kept.rounds, kept.seconds, kept.banks) == (1, 40.0, ("book",))
    assert kept.minutes == ((45,),) * 5 + ((200,), ())
    assert len(kept.off) == 3
    assert kept.starts == (time(7, 15), time(20))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--minutes", "mon-fri 30+"], "expected such as"),
        (["--minutes", "mon-sun 0"], "No minutes to revise"),
        (["--exam", "2026-12-01"], "must come after"),
        (["--off", "2027-01-04..2027-07-04"], "Every day"),
        (["--roles", "mon-sun revision"], "No minutes to sweep"),
        (["--rounds", "9"], "Rounds: 1 to 6, not 9."),
        (["--bank", "nowhere"], "not found"),
        (["--times", "half past six"], "expected times such as"),
    ],
)
def test_what_cannot_be_planned_is_one_line_on_standard_error_and_changes_nothing(
    resieve, words, message
):
    resieve("plan", "--exam", EXAM)
    before = resieve("plan", "--json")
    status, out, err = resieve("plan", *words)
    assert (status, out) == (1, "")
    assert message in err
    assert err.count("\n") == 1
    assert resieve("plan", "--json") == before


@pytest.mark.parametrize("exam", ["5 July 2027", "5.7.2027", "July 5, 2027", "13/07/2027"])
def test_dates_are_read_as_people_write_them(resieve, store, exam):
    words = ("--off", "2.4.2027..5.4.2027", "--open-from", "Wind=1 March 2027")
    assert resieve("plan", "--exam", exam, *words)[0] == 0
    plan = Library.open(store, read_only=True).settings.plan
    assert plan.exam == date(2027, 7, 13 if exam.startswith("13") else 5)
    assert plan.off[0] == date(2027, 4, 2)
    assert plan.open_from == (SubjectOpens("book/wind", date(2027, 3, 1)),)


@pytest.mark.parametrize(
    "words", [("--off", "3/4/2027"), ("--open-from", "Wind=3/4/2027"), ("--exam", "3/4/2027")]
)
def test_a_date_that_reads_two_ways_is_wrong_use_and_names_both(resieve, capsys, words):
    resieve("plan", "--exam", EXAM)
    try:
        status, out, err = resieve("plan", *words)
    except SystemExit as left:
        status, (out, err) = left.code, capsys.readouterr()
    assert (status, out) == (2, "")
    assert "can be 3 April 2027 or 4 March 2027: write 2027-04-03 or 2027-03-04" in err


def test_a_date_that_is_none_is_wrong_use(resieve):
    with pytest.raises(SystemExit) as left:
        resieve("plan", "--exam", "soon")
    assert left.value.code == 2


def test_without_a_plan_both_commands_say_how_to_make_one(resieve):
    assert resieve("plan")[0] == 1
    status, _, err = resieve("today")
    assert status == 1
    assert "resieve plan --exam" in err


def test_the_calendar_file_is_written_and_written_again(resieve, tmp_path):
    file = tmp_path / "plan.ics"
    resieve("plan", "--exam", EXAM, "--calendar", str(file), "--alarm", "10")
    first = {component["UID"] for component in components(file.read_bytes(), "VEVENT")}
    resieve("plan", "--calendar", str(file))
    assert {component["UID"] for component in components(file.read_bytes(), "VEVENT")} == first
    assert components(file.read_bytes(), "VALARM") == []


def test_a_calendar_that_can_not_be_written_is_told_before_a_plan_is_accepted(resieve, tmp_path):
    (tmp_path / "file").write_bytes(b"")
    for path in (tmp_path, tmp_path / "file" / "plan.ics"):
        status, _, err = resieve("plan", "--exam", EXAM, "--calendar", str(path))
        assert (status, err.splitlines()) == (
            1,
            [f"resieve: {path}: no file can be written there; nothing was changed"],
        )
    assert resieve("plan")[0] == 1


def test_a_calendar_whose_disk_fills_later_takes_back_no_accepted_plan(
    resieve, tmp_path, monkeypatch
):
    def save(data, path):
        raise StoreError(f"{path}: could not be written (No space left on device)")

    monkeypatch.setattr("banks.exporters.calendar.save", save)
    file = str(tmp_path / "plan.ics")
    status, out, err = resieve("plan", "--exam", EXAM, "--calendar", file)
    assert status == 0
    assert "Exam on Mon 05 Jul 2027" in out
    assert err.startswith("resieve: the plan is accepted; its calendar was not written: ")
    assert resieve("plan")[:2] == (0, out)
    assert resieve("plan", "--calendar", file)[0] == 1


def test_today_names_the_lines_of_the_day(resieve):
    resieve("plan", "--exam", EXAM)
    status, out, _ = resieve("today")
    assert status == 0
    assert "182 days to the exam, round 1" in out
    assert "Morning  Clouds · Chapter 1 1-35: 0 of 35 done" in out


def test_today_as_json_counts_what_is_done(resieve):
    resieve("plan", "--exam", EXAM)
    resieve("mark", "--subject", "Clouds", "--chapter", "1", "--wrong", "3", "--right", "1,2")
    today = json.loads(resieve("today", "--json")[1])
    assert today["lines"][0]["done"] == 3
    assert today["lines"][0]["questions"] == 35
    assert today["next_sweep"] == {"date": "2027-01-09", "subject": "Tides"}


def test_a_planned_sweep_is_ended_once_there_is_one_that_is_due(resieve, store):
    resieve("plan", "--exam", EXAM)
    clock = Clock()
    library = Library.open(store, clock)
    swept, _ = miss_twice(library, clock, range(1, 13))
    library.close()

    _, before, _ = resieve("today", today=clock.day)
    status, out, _ = resieve("sweep", "--enough", "--subject", swept, today=clock.day)
    _, after, _ = resieve("today", today=clock.day)
    again, _, err = resieve("sweep", "--enough", "--subject", swept, today=clock.day)

    assert (status, out) == (0, f"The sweep of {swept} is done; u on Today undoes it.\n")
    assert f"{swept} · sweep" in before
    assert f"{swept} · sweep" not in after
    assert (again, err) == (1, f"resieve: {swept}: no sweep is due; nothing was changed\n")
    assert resieve("sweep", "--enough")[0] == resieve("sweep")[0] == 2


def test_a_rest_day_says_what_comes_next(resieve):
    resieve("plan", "--exam", EXAM)
    _, out, _ = resieve("today", today=MONDAY + timedelta(days=6))
    assert "A day of rest: nothing planned." in out
    assert "Next: " in out


def test_once_the_exam_is_past_today_says_so_and_what_is_left(resieve):
    resieve("plan", "--exam", EXAM)
    status, out, _ = resieve("today", today=date.fromisoformat(EXAM) + timedelta(days=2))
    assert status == 0
    assert out.splitlines()[0].endswith("the exam was 2 days ago; the plan is over.")
    assert "exam --came" in out


def test_another_exam_begins_the_rounds_anew_and_keeps_what_was_answered(resieve, store):
    after, next_exam = date.fromisoformat(EXAM) + timedelta(days=1), "2027-11-22"
    resieve("plan", "--exam", EXAM, "--minutes", "mon-fri 45, sat 200", "--off", "2027-03-01")
    library = Library.open(store, Clock())
    answer(library, [f"book/clouds.chapter-1/{number}" for number in range(1, 81)])
    final = replace(
        library.settings.plan, final_from=date(2027, 6, 21), left_out=("book/clouds.chapter-2",)
    )
    accept(library, final)
    library.close()

    _, out, _ = resieve("plan", "--exam", next_exam, today=after)
    _, day, _ = resieve("today", today=after)
    again = Library.open(store, Clock(after))
    plan = PlanWorkload(again).plan()

    assert "The exam of 05 Jul 2027 is over: the rounds begin anew." in out
    assert f"--start {MONDAY} goes on from what is done" in out
    assert "139 days to the exam" in day
    kept = again.settings.plan
    assert (kept.start, kept.off, kept.final_from, kept.left_out) == (after, (), None, ())
    assert kept.minutes[0] == (45,)
    assert sum(visit.questions for visit in plan.visits if not visit.visit.sweep) == 4 * 320
    assert again.history.standing("book/clouds.chapter-1/1").days == 1
    assert again.undo().label == "the plan"
    assert again.settings.plan == final


def test_a_range_of_days_names_a_month_once_and_nothing_beyond_the_exam():
    exam = date(2027, 7, 5)
    finish = Finish(2, date(2027, 6, 29), (date(2027, 6, 29), date(2027, 6, 30)), (exam, None))
    words = "Round 2 ends around 29 Jun (50 %: 29–30 Jun, 90 %: after the exam)."
    assert finish_words(finish, exam) == words
    wide = replace(finish, half=(date(2027, 5, 28), date(2027, 6, 2)), most=(exam - ONE_DAY, None))
    assert "50 %: 28 May to 2 Jun, 90 %: 4 Jul to after the exam" in finish_words(wide, exam)


@pytest.mark.parametrize(
    ("share", "late", "unreached", "words"),
    [
        (0.9, EARLY, 0, "At your 90 of 100 it does."),
        (0.6, EARLY, 0, "At your 60 of 100 it still does, packed closer."),
        (0.9, AFTER, 0, "At your 90 of 100, finishing in time is as likely as not."),
        (0.5, None, 0, "At your 50 of 100, finishing in time is unlikely."),
        (0.5, EARLY, 1040, "At your 50 of 100, 1,040 questions are not reached."),
    ],
)
def test_where_the_own_days_lead_is_told_beside_what_the_plan_needs(share, late, unreached, words):
    plan = planned(usual(exam=MONDAY + timedelta(days=40)), alike(4))
    at_attendance = replace(summary_of(plan), feasible=not unreached, unreached=unreached)
    early = EARLY if late else AFTER
    finish = Finish(2, EARLY, (early, late), (early, late))
    outlook = PlanOutlook(
        (), None, None, 3, (finish,), None, share, is_assumed=False, at_attendance=at_attendance
    )

    assert 60 < plan.needs_attendance < 90
    assert attendance_words(outlook, plan) == words
    assumed = attendance_words(replace(outlook, is_assumed=True), plan)
    assert " (assumed until your own days are known)" in assumed
    assert "your 90" not in assumed


def test_an_offer_of_more_minutes_than_were_ever_kept_up_says_so():
    lever = PlanLever(Lever.REVISION_MINUTES, 40, 0, "revision+40", usual(), is_beyond_habit=True)
    words = lever_words(lever, None, {})
    assert words == "40 more minutes on revision days; more than you have kept up in any week"


def test_the_own_pace_is_offered_before_advice_on_a_plan_that_fits():
    plan = planned(usual(exam=MONDAY + timedelta(days=40)), alike(4))
    advice = PlanAdvice(15, None, None, "revision+15", usual())
    pace = PaceOffer(51.0, 40.0, usual(seconds=40.0), 20)
    outlook = PlanOutlook(
        (), advice, pace, 3, (), None, 0.8, is_assumed=True, at_attendance=summary_of(plan)
    )
    assert list(offer_words(outlook, None)) == list(outlook.offers) == ["own-pace", "revision+15"]
