"""Keying in, at 80x24."""

import pytest
from textual.events import Paste

from banks.library import Library
from domain.questions import Kind
from domain.tiers import Tier
from tests.builders import bank, bares, full, keyed, library, respond
from tests.tui.stage import Stage, messages_of, settled, type_text
from tui.screens.question_form import QuestionForm

BOOK = {
    "Wind": {
        "Force": [
            full(1, "Which is calm?", ["0", "1"], "a", explanation="Nought."),
            *bares(3)[1:],
            keyed(4, "b"),
        ],
        "Gusts": [],
    }
}
NAME = "observer/wind.force/{}"


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, bank("Observer", BOOK))


def question(opened: Library, name: str):
    return opened.banks["observer"].questions[name]


async def test_typing_tab_and_enter_key_in_one_question_after_the_other(opened):
    app = Stage(opened, QuestionForm("observer", "wind.gusts"))
    async with app.run_test() as pilot:
        await type_text(pilot, "What is a squall?")
        await pilot.press("tab")
        await type_text(pilot, "rain")
        await pilot.press("enter")
        await type_text(pilot, "wind")
        await pilot.press("tab", "b", "enter")
        await type_text(pilot, "How many knots?")
        await pilot.press("tab", "tab")
        await type_text(pilot, "12 +- 1")
        await pilot.press("enter")
        shown = await settled(pilot)

    first, second = (question(opened, f"observer/wind.gusts/{number}") for number in (1, 2))
    assert (first.stem, first.answer_key) == ("What is a squall?", ("b",))
    assert [option.text for option in first.options] == ["rain", "wind"]
    assert (second.kind, second.answer_key, second.tolerance) == (Kind.NUMERIC, ("12",), 1.0)
    assert "new question 3 · 2 saved" in shown


async def test_a_bare_question_gets_its_text_and_keeps_its_history(opened):
    respond(opened, NAME.format(2), "wrong", "wrong")
    app = Stage(opened, QuestionForm(NAME.format(2)))
    async with app.run_test() as pilot:
        await type_text(pilot, "Which?")
        await pilot.press("tab", "x", "enter", "y", "tab", "a", "enter")
        shown = await settled(pilot)

    assert question(opened, NAME.format(2)).stem == "Which?"
    assert opened.history.standing(NAME.format(2)).tier is Tier.HARDER
    assert "question 3 · 1 saved" in shown


async def test_after_the_last_question_without_text_the_form_closes(opened):
    app = Stage(opened, QuestionForm(NAME.format(4)))
    async with app.run_test() as pilot:
        await type_text(pilot, "Which?")
        await pilot.press("tab", "x", "enter", "y", "ctrl+r")
        await settled(pilot)
        name = app.screen.NAME

    assert name == "wings"
    assert question(opened, NAME.format(4)).answer_key == ("b",)


async def test_editing_a_full_question_saves_and_goes_back(opened):
    app = Stage(opened, QuestionForm(NAME.format(1)))
    async with app.run_test() as pilot:
        await pilot.press("end", "backspace", "exclamation_mark", "ctrl+r")
        await settled(pilot)
        name = app.screen.NAME

    assert name == "wings"
    assert question(opened, NAME.format(1)).stem == "Which is calm!"
    assert question(opened, NAME.format(1)).explanation == "Nought."


async def test_a_key_typed_takes_the_place_of_the_one_that_stood_there(opened):
    app = Stage(opened, QuestionForm(NAME.format(4)))
    async with app.run_test() as pilot:
        await pilot.press("tab", "tab", "c", "enter")
        await settled(pilot)

    assert question(opened, NAME.format(4)).answer_key == ("c",)


@pytest.mark.parametrize("key", ["c", "z"])
async def test_what_does_not_fit_is_told_and_nothing_is_lost(opened, key):
    app = Stage(opened, QuestionForm(NAME.format(2)))
    async with app.run_test() as pilot:
        await type_text(pilot, "Which?")
        await pilot.press("tab", "x", "enter", "y", "tab", key, "enter")
        messages = messages_of(app)
        shown = await settled(pilot)

    assert messages == [f"key: '{key}' is not one of the letters a to b"]
    assert "Which?" in shown
    assert question(opened, NAME.format(2)).stem == ""


async def test_a_taken_number_is_refused(opened):
    app = Stage(opened, QuestionForm("observer", "wind.force"))
    async with app.run_test() as pilot:
        await type_text(pilot, "Which?")
        await pilot.press("shift+tab", "end", "backspace", "2", "enter")
        messages = messages_of(app)

    assert messages == ["number 2 is taken in Force; the next free one is 5"]


async def test_leaving_with_something_unsaved_is_asked_about(opened):
    app = Stage(opened, QuestionForm(NAME.format(1)))
    async with app.run_test() as pilot:
        await pilot.press("x", "escape")
        asked = await settled(pilot)
        await pilot.press("n")
        still = app.screen.NAME
        await pilot.press("escape", "y")
        await settled(pilot)
        left = app.screen.NAME

    assert "Leave without saving" in asked
    assert (still, left) == ("question", "wings")
    assert question(opened, NAME.format(1)).stem == "Which is calm?"


async def test_a_save_is_taken_back_and_opened_again(opened):
    app = Stage(opened, QuestionForm("observer", "wind.gusts"))
    async with app.run_test() as pilot:
        await type_text(pilot, "Which?")
        await pilot.press("ctrl+r", "f12")
        shown = await settled(pilot)

    assert opened.banks["observer"].in_chapter("wind.gusts") == ()
    assert "new question 1" in shown


async def test_an_empty_question_is_not_kept(opened):
    app = Stage(opened, QuestionForm("observer", "wind.gusts"))
    async with app.run_test() as pilot:
        await pilot.press("ctrl+r")
        messages = messages_of(app)

    assert messages == ["type the question, or at least its key, before saving"]
    assert opened.banks["observer"].in_chapter("wind.gusts") == ()


async def test_what_is_pasted_enters_the_bank_without_what_drives_a_terminal(opened):
    app = Stage(opened, QuestionForm("observer", "wind.gusts"))
    async with app.run_test() as pilot:
        app.post_message(Paste("What \x1b[31mis\x1b[0m \u202ethis\u202c?\nA\u0308?"))
        await pilot.pause()
        await pilot.press("tab", "tab", "x", "enter")

    assert question(opened, "observer/wind.gusts/1").stem == "What is this?\nÄ?"
