"""The Bank screen at 80x24: browsing, searching, changing several at once, undo."""

from datetime import date

import pytest
from msgspec.structs import replace

from banks.library import Library
from domain.errors import StoreError
from domain.questions import Figure
from domain.responses import FirstStudyDone
from domain.tiers import Tier
from tests.builders import bank, bare, bares, full, library, respond
from tests.tui.stage import Stage, messages_of, settled, type_text
from tui.screens.bank import BankScreen

BOOK = {
    "Wind": {
        "Force": [
            full(1, "Which name belongs to force 3?", ["breeze", "gale"], "a"),
            full(2, "Which is [b]calm[/b]?", ["0", "1"], "a", tags=("old",)),
            full(3, "Knots in force 1?", ["1", "9"], "a"),
        ],
        "Gusts": [full(1, "What is a squall?", ["rain", "wind"], "b")],
    },
    "Sea": {"State": bares(3)},
}
FORCE, GUSTS = "observer/wind.force/{}", "observer/wind.gusts/{}"
TO_FORCE = ("j", "j", "j", "enter")


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, bank("Observer", BOOK))


def numbers(opened: Library, chapter: str) -> list[int]:
    return [question.number for question in opened.banks["observer"].in_chapter(chapter)]


async def test_headings_are_browsed_and_their_questions_listed(opened):
    respond(opened, FORCE.format(1), "wrong")
    opened.now.go_on(days=60)
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        everything = await settled(pilot)
        await pilot.press("j", "j", "j")
        chapter = await settled(pilot)

    assert "All questions" in everything
    assert "7 questions" in everything
    assert "Bank · Force" in chapter
    assert "1 waiting · 3 questions" in chapter
    assert "! hard  waiting  Wind" in chapter
    assert "Which is [b]calm[/b]?" in chapter
    assert "squall" not in chapter


async def test_words_are_looked_for_in_all_text_of_all_banks_while_typed(opened):
    explained = full(1, "Which sign?", ["x", "y"], "a", explanation="As before a squall.")
    opened.save_bank(bank("Extra", {"Radar": {"Echoes": [explained]}}))
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "slash")
        await type_text(pilot, "squall")
        await pilot.pause(0.06)
        shown = await settled(pilot)
        await pilot.press("escape")
        await pilot.pause(0.06)
        after = await settled(pilot)

    assert "2 questions" in shown
    assert "What is a squall?" in shown
    assert "As before a squall" in shown
    assert "Bank · Force" in after


async def test_enter_shows_all_of_a_question(opened):
    respond(opened, FORCE.format(1), "wrong")
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "enter")
        shown = await settled(pilot)

    for words in ("b  gale", "Answer key: a", "2 Mar ✗  missed: sign 1, now hard"):
        assert words in shown


async def test_ticked_questions_move_to_another_chapter_and_undo_moves_them_back(opened):
    respond(opened, FORCE.format(1), "wrong")
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "space", "space")
        ticked = await settled(pilot)
        await pilot.press("c", *"gus", "enter")
        await settled(pilot)
        moved = numbers(opened, "wind.force"), numbers(opened, "wind.gusts")
        await pilot.press("u")
        await settled(pilot)

    assert ticked.count("*   ") == 2
    assert moved == ([3], [1, 2, 3])
    assert opened.history.standing(FORCE.format(1)).tier is Tier.HARD
    assert (numbers(opened, "wind.force"), numbers(opened, "wind.gusts")) == ([1, 2, 3], [1])


async def test_tags_are_added_and_taken_off(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "a", "number_sign")
        await type_text(pilot, "wind, -old")
        await pilot.press("enter")

    tags = [opened.question(FORCE.format(number)).tags for number in (1, 2, 3)]
    assert tags == [("wind",), ("wind",), ("wind",)]


async def test_a_question_is_retired_shown_among_the_retired_and_taken_back(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "x")
        await settled(pilot)
        without = numbers(opened, "wind.force")
        await pilot.press("9")
        shown = await settled(pilot)
        await pilot.press("x")
        await settled(pilot)

    assert without == [2, 3]
    assert "Bank · retired" in shown
    assert "force 3?" in shown
    assert numbers(opened, "wind.force") == [1, 2, 3]


async def test_several_are_retired_only_when_that_is_confirmed(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "a", "x")
        asked = await settled(pilot)
        await pilot.press("n")
        kept = numbers(opened, "wind.force")
        await pilot.press("x", "y")
        await settled(pilot)

    assert "Retire 3 questions?" in asked
    assert (kept, numbers(opened, "wind.force")) == ([1, 2, 3], [])


async def test_disputed_keys_and_notes_are_listed(opened):
    opened.dispute(GUSTS.format(1), ("a",), "page 9")
    opened.note(FORCE.format(3), "knots")
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("6")
        noted = await settled(pilot)
        await pilot.press("8")
        shown = await settled(pilot)

    assert "1 question" in shown
    assert "What is a squall?" in shown
    assert "Bank · noted" in noted
    assert "Knots in force 1?" in noted


async def test_questions_to_check_are_listed_found_by_code_and_checked_by_one_key(tmp_path):
    doubtful = full(1, "What is a squall?", ["rain", "wind"], "b", code="W1A01", to_check="2 keys")
    opened = library(tmp_path, bank("Observer", {"Wind": {"Gusts": [doubtful, bare(2)]}}))
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("7")
        listed = await settled(pilot)
        await pilot.press("exclamation_mark")
        await settled(pilot)
        cleared = opened.banks["observer"].questions[GUSTS.format(1)].to_check
        await pilot.press("u")
        await settled(pilot)
        undone = opened.banks["observer"].questions[GUSTS.format(1)].to_check
        await pilot.press("0", "slash")
        await type_text(pilot, "w1a01")
        await pilot.pause(0.06)
        shown = await settled(pilot)

    assert "Bank · to check" in listed
    assert "1 question" in listed
    assert "! What is a squall?" in listed
    assert (cleared, undone) == ("", "2 keys")
    assert "1 question" in shown
    assert "W1A01" in shown


async def test_a_bank_with_subject_and_chapter_is_made_by_hand_and_keyed_in(tmp_path):
    empty = library(tmp_path)
    app = Stage(empty, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("N", "b")
        for title in ("My book", "Sea", "Waves"):
            await type_text(pilot, title)
            await pilot.press("enter")
            await settled(pilot)
        selected = await settled(pilot)
        await pilot.press("n")
        await type_text(pilot, "Why?")
        await pilot.press("ctrl+r", "escape")
        shown = await settled(pilot)

    made = empty.banks["my-book"]
    assert [(subject.title, [c.title for c in subject.chapters]) for subject in made.subjects] == [
        ("Sea", ["Waves"])
    ]
    assert "Bank · Waves" in selected
    assert [question.stem for question in made.questions.values()] == ["Why?"]
    assert "Why?" in shown


async def test_headings_are_added_and_renamed(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("j", "j", "N", "c")
        await type_text(pilot, "Squalls")
        await pilot.press("enter")
        await settled(pilot)
        await pilot.press("e", *["backspace"] * 7)
        await type_text(pilot, "Lulls")
        await pilot.press("enter")
        await settled(pilot)

    titles = [chapter.title for chapter in opened.banks["observer"].subjects[0].chapters]
    assert titles == ["Force", "Gusts", "Lulls"]


async def test_editing_comes_back_to_the_same_question(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "j", "e", "end", "exclamation_mark", "ctrl+r")
        shown = await settled(pilot)

    assert opened.question(FORCE.format(2)).stem == "Which is [b]calm[/b]?!"
    assert ">    2" in shown


async def test_a_missing_figure_is_told(tmp_path):
    pictured = full(1, "Which?", ["x", "y"], "a", figures=(Figure("gone.png"),))
    app = Stage(library(tmp_path, bank("Observer", {"Wind": {"Force": [pictured]}})), BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("right", "v")
        messages = messages_of(app)

    assert messages == ["gone.png: this figure was not kept with the bank"]


async def test_a_large_bank_is_saved_behind_the_screen(opened, monkeypatch):
    monkeypatch.setattr("tui.save_in_background.SOON", 0)
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "x")
        await app.workers.wait_for_complete()
        shown = await settled(pilot)
        await pilot.press("u")
        await app.workers.wait_for_complete()
        await settled(pilot)

    assert "2 questions" in shown
    assert numbers(opened, "wind.force") == [1, 2, 3]


async def test_a_change_that_can_not_be_saved_is_told_and_nothing_changes(opened, monkeypatch):
    def full_drive(bank) -> None:
        raise StoreError("the drive is full; nothing was changed")

    monkeypatch.setattr(opened.store, "save_bank", full_drive)
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "x")
        messages = messages_of(app)

    assert messages == ["the drive is full; nothing was changed"]
    assert numbers(opened, "wind.force") == [1, 2, 3]


async def test_wide_and_combining_characters_keep_the_columns(tmp_path):
    stems = ["風の強さはどれですか", "Ποια ισχύς; H₂O e\u0301", "ما هي قوة الريح؟", "plain"]
    wide = [full(n, stem, ["x", "y"], "a") for n, stem in enumerate(stems, 1)]
    app = Stage(library(tmp_path, bank("Observer", {"Wind": {"Force": wide}})), BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE)
        await settled(pilot)
        rows = app.screen.rows
        widths = {rows.render_line(y).cell_length - rows.size.width for y in range(len(stems))}

    assert widths == {0}


async def test_the_key_of_a_chapter_is_opened_from_its_heading(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("j", "j", "j", "y")
        await settled(pilot)
        name = app.screen.NAME

    assert name == "key"


async def test_arrows_go_between_headings_and_questions(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("j", "j", "j", "right", "j")
        inside = await settled(pilot)
        await pilot.press("left", "j")
        outside = await settled(pilot)

    assert ">    2" in inside
    assert "Bank · Gusts" in outside


async def test_duplicates_of_the_selected_bank_are_one_key_away(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press("j", "tilde")
        await app.workers.wait_for_complete()
        shown = await settled(pilot)

    assert "No duplicates found" in shown


async def test_after_retiring_the_next_question_is_selected_not_the_first(opened):
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await pilot.press(*TO_FORCE, "right", "down", "x")
        shown = await settled(pilot)

    assert ">    3" in shown


async def test_first_study_of_a_heading_is_said_and_undone_and_a_bank_taken_up(opened):
    opened.save_bank(bank("Extra", {"Radar": {"Echoes": bares(2)}}))
    plan = replace(opened.settings.plan, exam=date(2026, 9, 1))
    opened.save_settings(replace(opened.settings, plan=plan))
    app = Stage(opened, BankScreen())
    async with app.run_test() as pilot:
        await settled(pilot)
        await pilot.press("j", "j", "F", "l", *"2026-06-01", "enter")
        later = await settled(pilot)
        await pilot.press("F", "d")
        studied = await settled(pilot)
        records = opened.history.records_of(FirstStudyDone)
        await pilot.press("u", "u")
        neither = await settled(pilot)
        await pilot.press("G", "k", "k", "F")
        asked = await settled(pilot)
        await pilot.press("y")
        await settled(pilot)

    assert "Extra does not count in the plan; taken up: " in " ".join(asked.split())
    assert "revised from 1 Jun on" in later.splitlines()[0]
    assert "studied by 2 Mar" in studied.splitlines()[0]
    assert [(record.subject, record.chapter) for record in records] == [("wind", "")]
    assert opened.history.records_of(FirstStudyDone) == []
    assert "studied" not in neither.splitlines()[0]
    assert opened.settings.plan.banks == ("observer", "extra")
