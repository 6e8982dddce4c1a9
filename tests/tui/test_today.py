"""Today: the day at a glance, started, left and gone on with by key, at 80x24."""

from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from banks.library import Given, Library
from banks.planning.intents import accept
from banks.views.exam import exam_topics
from banks.views.results import DayResult
from banks.views.today import QUIET_DAYS, LineKind, TodayLine, TodayView
from domain.plan.inputs import LAST_DAYS, ONE_DAY, PlanInputs
from domain.responses import Purpose, VisitEnd, VisitEnded
from domain.verdicts import Verdict
from tests.banks.planned import Clock, answer, miss_twice, planned_library
from tests.builders import FakeClock, bank, bares, full, library
from tests.tui.stage import Stage, settled, text_of, type_text
from tui.plan_words import last_days_words
from tui.screens.drill import DrillScreen
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.start import StartScreen
from tui.screens.today import TodayScreen
from tui.widgets.upcoming import result_text
from tui.widgets.virtual_list import VirtualList

SIZE = (80, 24)


def printed(chapters: int = 6, each: int = 50):
    subjects = {
        subject: {f"Chapter {n}": bares(each) for n in range(1, chapters + 1)}
        for subject in ("Clouds", "Tides")
    }
    return bank("Book", subjects)


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    made = library(tmp_path, printed())
    accept(made, PlanInputs(exam=date(2026, 6, 1)))
    return made


async def test_the_day_is_told_at_a_glance(opened: Library) -> None:
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        shown = text_of(pilot.app)

    assert "Today · Monday 2 March" in shown
    assert "91 days to the exam" in shown
    assert "Revise Clouds" in shown
    assert "round 1 of 2" in shown
    assert "> " in shown
    assert "Next sweep day" in shown
    assert "spare days" in shown


async def test_enter_opens_the_printed_bank_and_marks_count_at_once(opened: Library) -> None:
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        assert isinstance(pilot.app.screen, PrintedMarkingScreen)
        first = pilot.app.screen.sitting.scope.questions[0]
        await pilot.press("escape")
        opened.record([Given(question=first, verdict=Verdict.RIGHT)], Purpose.REVISION)
        pilot.app.screen.ready()
        await pilot.pause()
        shown = text_of(pilot.app)

    assert "1 of" in shown
    assert opened.history.responses(first)[0].purpose is Purpose.REVISION


async def test_questions_with_their_text_are_drilled(tmp_path: Path) -> None:
    questions = [full(n, f"Stem {n}?", ["red", "blue"]) for n in range(1, 9)]
    made = library(tmp_path, bank("Book", {"Clouds": {"One": questions}}))
    accept(made, PlanInputs(exam=date(2026, 6, 1)))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        assert isinstance(pilot.app.screen, DrillScreen)
        await pilot.press("a", "escape")
        shown = await settled(pilot)
        await pilot.press("enter")
        is_back = isinstance(pilot.app.screen, DrillScreen)

    assert "1 of 8" in shown
    assert "Resume:" not in shown
    assert is_back


async def test_a_line_that_was_begun_goes_on_where_it_was(tmp_path: Path) -> None:
    questions = [full(n, f"Stem {n}?", ["red", "blue"]) for n in range(1, 9)]
    made = library(tmp_path, bank("Book", {"Clouds": {"One": questions}}))
    accept(made, PlanInputs(exam=date(2026, 6, 1)))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("enter", "a", "enter", "a", "escape")
        await pilot.press("home", "enter")
        await pilot.pause()
        shown = text_of(pilot.app)

    assert "3 of 8" in shown
    assert len(made.history.sittings) == 1


async def test_the_days_lines_follow_one_another_with_one_line_of_result_between(tmp_path) -> None:
    chapters = {
        title: [full(n, f"{title} {n}?", ["red", "blue"], "a", shuffle=False) for n in numbers]
        for title, numbers in (("One", (1, 2)), ("Two", (1, 2, 3)))
    }
    made = library(tmp_path, bank("Book", {"Clouds": chapters}))
    mondays = ((90,), (), (), (), (), (60,), ())
    accept(made, PlanInputs(exam=date(2026, 6, 1), minutes=mondays))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("enter", "a", "enter", "b", "enter")
        await settled(pilot)
        between = await settled(pilot)
        await pilot.press("u")
        undone = await settled(pilot)
        await pilot.press("b", "enter")
        again = await settled(pilot)
        await pilot.press("a", "enter", "a", "enter", "a", "enter")
        over = await settled(pilot)
        await pilot.press("greater_than_sign")
        ahead = await settled(pilot)
        await pilot.press("greater_than_sign", "u")
        await settled(pilot)
        after_undo = text_of(pilot.app)

    assert "Two 1?" in between
    assert "Clouds · One · 1–2: 1 of 2 right, 1 missed" in between
    assert "One 2?" in undone
    assert "Two 1?" in again
    assert "All 5 done for today; > shows the next day" in over
    assert "5 questions, 80% right at first · 1 new sign · 0 settled" in over
    assert "Ahead" in ahead
    assert "2 of 3" in after_undo
    assert sum(bool(sitting.given) for sitting in made.history.sittings.values()) == 2


async def test_printed_lines_lead_on_to_the_next_too(tmp_path) -> None:
    made = library(
        tmp_path, bank("Book", {"Clouds": {"One": bares(2), "Two": bares(3), "Three": bares(1)}})
    )
    accept(made, PlanInputs(exam=date(2026, 6, 1), minutes=((90,), (), (), (), (), (60,), ())))
    async with Stage(made, TodayScreen()).run_test(size=SIZE, notifications=True) as pilot:
        await pilot.press("enter", "k", "enter")
        await pilot.app.workers.wait_for_complete()
        marked = await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        between = await settled(pilot)
        await pilot.press("j", "enter", "enter")
        await settled(pilot)
        last = await settled(pilot)
        await pilot.press("j", "enter")
        await settled(pilot)
        over = await settled(pilot)

    assert "Clouds · Three · 1  " in last
    assert "2 done, 1 missed. Next: Clouds · Two 1–3. Enter goes on." in marked
    assert " enter Next " in marked.splitlines()[-1]
    assert "Clouds · One · 1–2: 2 done, 1 missed" in between
    assert "Clouds · Two" in between
    assert "Clouds · Two · 1–3: 3 done, 0 missed" in last
    assert "All 6 done for today" in over
    assert "Clouds · Three · 1: 1 done, 0 missed" in over


def _ids(made: Library) -> list[str]:
    return [question.id for _, question in made.active_questions()]


async def test_a_sitting_can_be_ended_for_good(tmp_path: Path, opened: Library) -> None:
    questions = [question.id for _, question in opened.active_questions()][:5]
    name = opened.open_sitting("Evening go", Purpose.FREE, questions)
    opened.record([Given(question=questions[0], verdict=Verdict.RIGHT)], Purpose.FREE, sitting=name)
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        assert "Evening go" in text_of(pilot.app)
        await pilot.press("end", "x")
        await pilot.pause()
        shown = text_of(pilot.app)

    assert "Evening go" not in shown


async def test_a_sitting_in_which_nothing_was_recorded_is_not_offered(opened: Library) -> None:
    opened.open_sitting("Opened by mistake", Purpose.FREE, _ids(opened)[:5])
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        assert "Opened by mistake" not in text_of(pilot.app)


async def test_the_other_way_marks_printed_what_has_its_text(tmp_path: Path) -> None:
    questions = [full(n, f"Stem {n}?", ["red", "blue"]) for n in range(1, 9)]
    made = library(tmp_path, bank("Book", {"Clouds": {"One": questions}}))
    accept(made, PlanInputs(exam=date(2026, 6, 1)))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("o")
        marked = pilot.app.screen.sitting.scope

    assert (marked.purpose, len(marked.questions)) == (Purpose.REVISION, 8)


async def test_one_key_ends_the_days_sweep_and_undo_begins_it_again(tmp_path: Path) -> None:
    clock = Clock()
    made = planned_library(tmp_path, clock)
    swept, _ = miss_twice(made, clock, range(1, 13))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.app.workers.wait_for_complete()
        await settled(pilot)
        lines = pilot.app.screen.query_one(VirtualList)
        lines.selected = next(
            n for n, item in enumerate(lines.items) if getattr(item, "kind", None) is LineKind.SWEEP
        )
        await pilot.press("z")
        await pilot.app.workers.wait_for_complete()
        ended = await settled(pilot)
        how = [visit.how for visit in made.history.records_of(VisitEnded)]
        await pilot.press("u")

    assert f"The sweep of {swept} is done. u undoes it." in ended
    assert how == [VisitEnd.ENOUGH]
    assert made.history.records_of(VisitEnded) == []


async def test_a_finished_sitting_is_chosen_and_read_through(opened: Library) -> None:
    names = _ids(opened)[:2]
    sitting = opened.open_sitting("Evening", Purpose.FREE, names)
    given = [Given(question=name, verdict=Verdict.WRONG) for name in names]
    opened.record(given, Purpose.FREE, sitting=sitting)
    opened.close_sitting(sitting)
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("V")
        asked = await settled(pilot)
        await pilot.press("enter")
        shown = await settled(pilot)

    assert "Evening" in asked
    assert "all: 2 questions" in shown


async def test_a_day_of_rest_says_so(tmp_path: Path) -> None:
    sunday = FakeClock()
    made = library(tmp_path, printed(), clock=sunday)
    accept(made, PlanInputs(exam=date(2026, 6, 1)))
    sunday.go_on(days=6)
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        assert "A day of rest" in text_of(pilot.app)


async def test_a_plan_that_does_not_fit_is_said_without_scolding(opened: Library) -> None:
    inputs = replace(opened.settings.plan, exam=date(2026, 3, 9))
    accept(opened, inputs)
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        shown = text_of(pilot.app)

    assert "not reached" in shown


async def test_without_a_plan_the_footer_offers_only_what_does_something(tmp_path: Path) -> None:
    made = library(tmp_path)
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("escape")
        empty = (await settled(pilot)).splitlines()[-1]
        made.save_bank(printed())
        pilot.app.screen.refresh_bindings()
        with_questions = (await settled(pilot)).splitlines()[-1]

    assert empty.split() == ["e", "Exam", "&", "time", "?", "Help"]
    assert with_questions.split() == ["D", "Drill…", "e", "Exam", "&", "time", "?", "Help"]


async def test_a_bank_all_untried_has_one_line_per_tier_beside_the_day(tmp_path: Path) -> None:
    made = library(tmp_path, printed())
    accept(made, PlanInputs(exam=date(2026, 6, 1), minutes=((60,),) * 7))
    async with Stage(made, TodayScreen()).run_test(size=(120, 40)) as pilot:
        lines = (await settled(pilot)).splitlines()

    untried = next(place for place, line in enumerate(lines) if "untried" in line)
    assert "600  ━━━" in lines[untried]
    assert ["clear" in lines[untried + 1], "hard" in lines[untried + 2]] == [True, True]


async def test_the_first_run_asks_for_the_bank_and_the_exam(tmp_path: Path) -> None:
    made = library(tmp_path)
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(pilot.app.screen, StartScreen)
        await type_text(pilot, "Clouds 60 45")
        looked = text_of(pilot.app)
        await pilot.press("tab", *"2026-06-01")
        tried = text_of(pilot.app)
        assert made.banks == {}
        await pilot.press("ctrl+r")
        await pilot.pause()
        shown = text_of(pilot.app)

    assert "1 subject, 2 chapters, 105 questions" in looked
    assert "Fits if you keep" in tried
    assert "Today · Monday 2 March" in shown
    assert made.settings.plan.exam == date(2026, 6, 1)


@pytest.mark.parametrize(
    ("line", "typed", "message"),
    [
        ("exam", "soon", 'Exam day: "soon" is no day: expected a date such as 2027-05-15'),
        ("exam", "2026-01-01", "must come after"),
        ("minutes", "mon-fri 30+", "minutes"),
        ("rounds", "two", "rounds: expected a whole number"),
        ("times", "19:00, 6:30", "as when the parts of a day begin: expected times such as 6:30"),
    ],
)
async def test_what_does_not_fit_is_named_and_nothing_changes(
    opened: Library, line: str, typed: str, message: str
) -> None:
    before = opened.settings
    async with Stage(opened, StartScreen()).run_test(size=SIZE) as pilot:
        pilot.app.screen.query_one(f"#{line}").value = typed
        await pilot.pause()
        await pilot.press("ctrl+r")
        shown = text_of(pilot.app)

    assert message in " ".join(shown.split())
    assert opened.settings == before


async def test_on_a_narrow_terminal_every_line_of_the_day_is_in_sight(opened: Library) -> None:
    async with Stage(opened, TodayScreen()).run_test(size=(60, 20)) as pilot:
        shown = (await settled(pilot)).splitlines()
        rows = pilot.app.screen.query_one(VirtualList)
        in_sight = rows.size.height

    assert in_sight >= len(rows.items)
    assert not [line for line in shown if line.startswith("  min left")]
    assert [line for line in shown if "Tue  3 Mar" in line and line.endswith(" min")]


@pytest.mark.parametrize(
    ("days", "title", "words"),
    [
        (-12, "the exam was 12 days ago", "Press e to plan for another."),
        (-1, "the exam was yesterday", "The exam is behind you, and the plan ends here."),
        (0, "the exam is today", "All the best."),
        (1, "the exam is tomorrow", "The day before the exam: nothing to revise"),
        (3, "3 days to the exam", "Progress (f8) still has it."),
        (7, "7 days to the exam", "not reached"),
    ],
)
async def test_around_the_exam_the_day_is_told_in_words(
    opened: Library, days: int, title: str, words: str
) -> None:
    opened.now.go_on(days=(date(2026, 6, 1) - opened.today()).days - days)
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        shown = text_of(pilot.app)

    assert title in shown
    assert words in shown
    assert "A day of rest" not in shown or days > 0
    if 0 < days <= QUIET_DAYS:
        assert not any(word in shown for word in ("waiting", "not reached", "fits", "choose"))


def test_each_of_the_last_days_is_told_something_of_its_own() -> None:
    day = TodayView(today=date(2026, 6, 1), is_set_up=True, lines=(TodayLine(kind=LineKind.PASS),))
    words = {days: last_days_words(replace(day, days_to_exam=days)) for days in range(9)}
    assert words[8] == words[0] == ""
    assert len({words[days] for days in range(1, LAST_DAYS + 1)} - {""}) == LAST_DAYS
    assert last_days_words(replace(day, days_to_exam=5, lines=())) == ""


async def test_a_short_plan_asks_and_final_revision_fills_its_days(tmp_path: Path) -> None:
    made = library(tmp_path, printed(chapters=12))
    made.now.go_on(days=-30)
    names = list(made.banks["book"].questions)
    made.record([Given(question=name, verdict=Verdict.WRONG) for name in names], Purpose.STUDY)
    made.now.go_on(days=30)
    accept(made, PlanInputs(exam=date(2026, 3, 12), minutes=((40,),) * 7, papers=False))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        assert "10 days left, " in text_of(pilot.app)
        assert pilot.app.screen.query_one(VirtualList).item.days == 10
        await pilot.press("enter")
        await pilot.app.workers.wait_for_complete()
        asked = await settled(pilot)
        assert "Go on with the visits" in asked
        assert "lose their visit" in asked
        await pilot.press("w")
        await pilot.app.workers.wait_for_complete()
        shown = await settled(pilot)
        assert "not reached: choose" not in shown
        assert "Final revision · 47 questions · Clouds 47" in shown
        await pilot.press("c")
        why = await settled(pilot)
        assert "Clouds · Chapter 1: 1–47" in why
        assert "Not in it: 1,153 do not fit" in why
        await pilot.press("escape", "enter")
        assert pilot.app.screen.sitting.purpose is Purpose.PASS


async def test_after_days_away_a_short_first_day_stands_above_the_lines(tmp_path: Path) -> None:
    clock = Clock()
    made = planned_library(tmp_path, clock)
    answer(made, ["book/clouds.chapter-1/1"])
    clock.day += 7 * ONE_DAY
    app = Stage(made, TodayScreen())
    async with app.run_test(size=(80, 20)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.press("enter")  # leaves the page on the week
        shown = await settled(pilot)
        assert "1  Begin with 20 minutes only" in shown
        *_, last, space, _ = shown.splitlines()
        assert (last.strip(), space) == ("Welcome back after 6 days. No need to catch up.", "")
        assert app.screen.check_action("take_short_day", ())
        await pilot.press("1")
        await app.workers.wait_for_complete()
        assert "20 min left" in await settled(pilot)
        assert not app.screen.check_action("take_short_day", ())
    made.close()


def test_the_days_result_compares_with_the_last_time():
    result = DayResult(4, 3, tried_before=3, right_before=1, seconds=90, reading=0, signs=1,
                       settled=0)  # fmt: skip

    assert result_text(result).plain.startswith("4 questions, 75% right at first (33% last time) ·")


async def test_a_day_with_two_subjects_names_both(tmp_path: Path) -> None:
    subjects = {name: {"Chapter 1": bares(30)} for name in ("Clouds", "Tides", "Winds", "Maps")}
    made = library(tmp_path, bank("Book", subjects))
    accept(made, PlanInputs(exam=date(2026, 3, 10)))
    async with Stage(made, TodayScreen()).run_test(size=SIZE) as pilot:
        shown = text_of(pilot.app)

    assert "Revise Clouds and Tides" in shown
    assert "Clouds · Chapter 1" in shown
    assert "Tides · Chapter 1" in shown
    made.close()


async def test_after_the_exam_the_form_asks_for_another_and_begins_anew(opened: Library) -> None:
    kept = replace(opened.settings.plan, final_declined=True)
    opened.change_settings(plan=kept)
    opened.now.go_on(days=(date(2026, 6, 1) - opened.today()).days + 2)
    async with Stage(opened, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("n")
        await type_text(pilot, "Clouds; a question on halos")
        await pilot.press("enter")
        assert "2 topics recorded" in await settled(pilot)
        await pilot.press("e")
        await pilot.pause()
        asked = text_of(pilot.app)
        await pilot.press(*"2026-10-05", "ctrl+r")
        await pilot.pause()
        shown = text_of(pilot.app)

    assert exam_topics(opened) == ["Clouds", "a question on halos"]
    assert "Another exam · Book" in asked
    assert "Now the exam day." in asked
    assert "124 days to the exam" in shown
    assert "Round 1" in shown or "round 1" in shown
    plan = opened.settings.plan
    assert (plan.exam, plan.start, plan.final_declined) == (
        date(2026, 10, 5),
        date(2026, 6, 3),
        False,
    )
