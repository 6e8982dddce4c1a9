"""The form of a free drill, and what can be done to a question while it is drilled."""

import pytest
from msgspec.structs import replace

from banks.library import Given, Library
from banks.views.drill import drill_candidates
from domain.drill_choice import DrillChoice, TierChoice, matching
from domain.responses import Flag, Purpose, Reason
from domain.timers import QuestionTimer
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock, bank, bare, bares, full, library, respond
from tests.tui.stage import Stage, settled, type_text
from tui.screens.bank import BankScreen
from tui.screens.drill import DrillScreen
from tui.screens.drill_form import DrillFormScreen
from tui.screens.triage import TriageScreen

NAME = "observer/wind.force/{}"


@pytest.fixture
def opened(tmp_path) -> Library:
    questions = [
        full(number, f"Which name belongs to force {number}?", ["Breeze", "Calm"], "a",
             shuffle=False)
        for number in range(1, 9)
    ]  # fmt: skip
    return library(tmp_path, bank("Observer", {"Wind": {"Force": questions}}), clock=FakeClock())


def answer(opened: Library, number: int, chosen: str, **fields: object) -> None:
    given = Given(question=NAME.format(number), chosen=(chosen,), **fields)
    opened.record([given], Purpose.REVISION)


def numbers(opened: Library, **conditions: object) -> list[int]:
    candidates = drill_candidates(opened, with_reasons="reason" in conditions)
    matches = matching(candidates, DrillChoice(**conditions))
    return [int(candidate.question.rpartition("/")[2]) for candidate in matches]


def test_the_conditions_are_read_from_the_history(opened):
    answer(opened, 1, "b", reason=Reason.SLIP)
    answer(opened, 2, "a", confidence=Confidence.UNSURE)
    answer(opened, 3, "a", confidence=Confidence.GUESS)
    answer(opened, 3, "a")
    opened.note(NAME.format(4), "mind the gap")
    opened.put_on_record(Flag, question=NAME.format(5), on=True)
    opened.put_on_record(Flag, question=NAME.format(6), on=True)
    opened.put_on_record(Flag, question=NAME.format(6), on=False)
    opened.now.go_on(days=60)

    assert numbers(opened, reason=Reason.SLIP) == [1]
    assert numbers(opened, unsure=True) == [2]
    assert numbers(opened, noted=True) == [4]
    assert numbers(opened, flagged=True) == [5]
    assert numbers(opened, waiting=True) == [1, 2, 3]
    assert numbers(opened, tier=TierChoice.UNTRIED) == [4, 5, 6, 7, 8]


async def test_the_form_counts_while_it_is_filled_and_drills_the_same_again_in_two_keys(opened):
    for number in (1, 2, 3):
        answer(opened, number, "b")
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("D")
        at_first = await settled(pilot)
        await pilot.press("t", "t", "t", "2", "o")
        chosen = await settled(pilot)
        await pilot.press("enter")
        title = (await settled(pilot)).splitlines()[0]
        sitting = app.screen.run.sitting.opened
        await pilot.press("escape", "D", "enter")
        again = app.screen.run.sitting.opened

    assert "8 questions match." in at_first
    assert "3 questions match. 2 of them are drilled." in chosen
    assert "Drill · all subjects, hard  " in title  # not a drill twice
    assert sitting.questions == (NAME.format(1), NAME.format(2))
    assert (sitting.title, sitting.purpose) == ("Drill · all subjects, hard", Purpose.FREE)
    assert again.questions == sitting.questions
    assert again.id != sitting.id
    assert opened.settings.drill.tier is TierChoice.HARD


async def test_a_wide_form_says_where_the_questions_are_by_subject_or_chapter(tmp_path):
    shape = {"Wind": {"Force": bares(3), "Gusts": bares(4)}, "Sea": {"State": bares(5)}}
    made = library(tmp_path, bank("Book", shape))
    respond(made, "book/wind.force/1", "wrong")
    async with Stage(made, DrillFormScreen()).run_test(size=(120, 40)) as pilot:
        everything = beside(await settled(pilot))
        await pilot.press("t", "t", "t")
        hard = beside(await settled(pilot))
        await pilot.press("a", "s")
        await type_text(pilot, "Wind")
        await pilot.press("enter")
        in_wind = beside(await settled(pilot))

    assert everything == ["Where they are", "Book 12", "Wind 7", "Sea 5"]
    assert hard == ["Where they are", "Book 1", "Wind 1"]
    assert in_wind == ["Where they are", "Book 7", "Wind 7", "Force 3", "Gusts 4"]


def beside(shown: str) -> list[str]:
    """The lines to the right of the form, without the gaps in them."""
    lines = [" ".join(line.partition("│")[2].split()) for line in shown.splitlines()]
    return [line for line in lines if line]


async def test_bank_opens_the_form_on_its_heading_and_a_heading_chosen_in_it_stays(tmp_path):
    mixed = [full(1, "Which force?", ["Calm", "Breeze"], "a"), *map(bare, range(2, 6))]
    book = bank("Book", {"Wind": {"Force": mixed}, "Clouds": {"Genera": [*map(bare, range(1, 4))]}})
    opened = library(tmp_path, book, clock=FakeClock())
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await settled(pilot)
        await pilot.press("down", "down", "D")
        of_wind = await settled(pilot)
        await pilot.press("s", *"gen", "enter")
        of_genera = await settled(pilot)
        await pilot.press("s", *"wind", "enter", *["down"] * 7, "space")
        with_text = await settled(pilot)
        await pilot.press("enter")
        drilled = app.screen.run.sitting.opened

    assert "5 questions match" in of_wind
    assert "3 questions match" in of_genera
    assert "Clouds · Genera" in of_genera
    assert "1 question matches" in with_text
    assert drilled.questions == ("book/wind.force/1",)


async def test_only_flagged_questions_a_value_before_and_all_conditions_dropped(opened):
    opened.put_on_record(Flag, question=NAME.format(5), on=True)
    answer(opened, 1, "b")
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("D", "asterisk")
        flagged = await settled(pilot)
        await pilot.press("a", "t")
        tier = await settled(pilot)
        await pilot.press("left")
        before = await settled(pilot)
        await pilot.press("asterisk", "a")
        dropped = await settled(pilot)

    assert "1 question matches" in flagged
    assert "7 questions match." in tier
    assert "8 questions match." in before
    assert "8 questions match." in dropped


async def test_the_form_is_reached_from_a_drill_and_its_minutes_run_down(opened, monkeypatch):
    sitting = opened.open_sitting("Force", Purpose.FREE, [NAME.format(1)])
    now = [0.0]
    timer = "banks.sittings.drill_sitting.QuestionTimer"
    monkeypatch.setattr(timer, lambda _, cap: QuestionTimer(lambda: now[0], cap))
    app = Stage(opened, DrillScreen(sitting))
    async with app.run_test() as pilot:
        await pilot.press("ctrl+t", "o", *["down"], "1", "a", "enter")
        await settled(pilot)
        await pilot.press("a")
        now[0] += 25
        await pilot.press("enter")
        early = await settled(pilot)
        now[0] += 40
        await pilot.press("a", "enter")
        late = await settled(pilot)

    assert "0:35 left" in early
    assert "0:00 left" in late
    assert "2 of 8 answered" in late


async def test_a_question_is_flagged_edited_and_retired_from_the_palette_of_the_drill(opened):
    sitting = opened.open_sitting("Force", Purpose.FREE, [NAME.format(n) for n in (1, 2, 3)])
    app = Stage(opened, DrillScreen(sitting))
    async with app.run_test() as pilot:
        entries = [entry.title for entry in app.get_system_commands(app.screen)]
        await pilot.press("asterisk")
        flagged = await settled(pilot)
        await pilot.press("ctrl+e")
        await type_text(pilot, "Well? ")
        await pilot.press("ctrl+r")
        edited = await settled(pilot)
        await pilot.press("ctrl+x", "y")
        retired = await settled(pilot)
        questions = [opened.question(NAME.format(n)) for n in (1, 2)]
        await pilot.press("u")
        back = await settled(pilot)
        await pilot.press("u", "u")

    for label in ("Flag", "Note", "Edit", "Retire", "Dispute"):
        assert any(title.startswith(f"{label}  (") for title in entries), label
    assert "flagged" in flagged
    assert "Well? Which name" in edited
    assert [question.retired for question in questions] == [True, False]
    assert "1 of 2" in retired
    assert "force 2?" in retired
    assert "1 of 3" in back
    assert "Well? Which name" in back
    assert not opened.history.is_flagged(NAME.format(1))
    assert opened.question(NAME.format(1)).stem == "Which name belongs to force 1?"


async def test_after_right_and_sure_the_next_comes_by_itself_and_left_looks_back(opened):
    looks = replace(opened.settings.looks, goes_on=True)
    opened.save_settings(replace(opened.settings, looks=looks))
    sitting = opened.open_sitting("Force", Purpose.FREE, [NAME.format(n) for n in (1, 2, 3)])
    app = Stage(opened, DrillScreen(sitting))
    async with app.run_test() as pilot:
        await pilot.press("a")
        second = await settled(pilot)
        await pilot.press("left")
        looked = await settled(pilot)
        await pilot.press("enter", "A")
        unsure = await settled(pilot)
        await pilot.press("enter", "b")
        wrong = await settled(pilot)

    assert "force 2?" in second
    assert "✓ 1 right" in second
    assert "force 1?" in looked
    assert "The key is a" in looked
    assert "unsure" in unsure
    assert "force 2?" in unsure
    assert "✗ Wrong" in wrong
    assert "force 3?" in wrong
    verdicts = [
        opened.history.verdict(response) for response in opened.sitting(sitting).given.values()
    ]
    assert verdicts == [Verdict.RIGHT, Verdict.RIGHT, Verdict.WRONG]
