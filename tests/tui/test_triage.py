"""Triage at 80x24: counts, filters, trail, tiers by hand, and what is started from here."""

import pytest

from banks.library import Library
from banks.views.listing import match
from domain.responses import Purpose, Reason
from domain.tiers import Tier
from tests.builders import bank, bare, bares, full, library, respond
from tests.tui.stage import Stage, settled, type_text
from tui.screens.triage import TriageScreen
from tui.widgets.triage_lines import question_words

BOOK = {
    "Wind": {
        "Force": [
            full(1, "Which name belongs to force 3?", ["breeze", "gale"], "a"),
            full(2, "Which is [b]calm[/b]?", ["0", "1"], "a"),
        ],
        "Gusts": [full(1, "What is a squall?", ["rain", "wind"], "b")],
    },
    "Sea": {"State": bares(3)},
}
FORCE, GUSTS, STATE = "observer/wind.force/{}", "observer/wind.gusts/{}", "observer/sea.state/{}"


@pytest.fixture
def opened(tmp_path) -> Library:
    """hardest: State 1; harder: Force 1; hard: Force 2; clear: State 2; the others untried."""
    made = library(tmp_path, bank("Observer", BOOK))
    respond(made, STATE.format(1), "wrong", "wrong", "wrong")
    respond(made, FORCE.format(1), "wrong", "blank")
    respond(made, FORCE.format(2), "wrong")
    respond(made, STATE.format(2), "right")
    return made


def listed(shown: str) -> list[str]:
    """The lines of the list, from the tier's mark on."""
    lines = [line.lstrip("> ") for line in shown.splitlines()]
    return [line for line in lines if line.startswith(("!", "o ", "· ")) and "  " in line[:14]]


async def test_it_opens_on_the_hard_tiers_hardest_first_with_all_counts(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        shown = await settled(pilot)

    assert "[!!! hardest 1] [!! harder 1] [! hard 1]  o clear 1   · untried 2" in shown
    assert [line.split()[1] for line in listed(shown)] == ["hardest", "harder", "hard"]
    assert "3 of 6 questions" in shown
    assert "Which is [b]calm[/b]?" in shown


async def test_the_trail_tells_dated_why_the_selected_question_stands_there(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        shown = await settled(pilot)

    for line in (
        "3 signs (2 Mar, 3 Mar, 4 Mar); 3 clean days at least 7 days apart settle it",
        " 4 Mar  missed: sign 3, now hardest",
        " 2 Mar  missed: sign 1, now hard",
    ):
        assert line in shown


async def test_tiers_are_taken_in_and_out_by_their_digits(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("1", "3", "4")
        shown = await settled(pilot)
        await pilot.press("0")
        everything = await settled(pilot)

    assert [line.split()[1] for line in listed(shown)] == ["harder", "clear"]
    assert len(listed(everything)) == 6


async def test_untried_questions_are_listed_by_their_digit(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("1", "2", "3", "5")
        shown = await settled(pilot)

    assert "[· untried 2]" in shown
    assert [line.split()[1] for line in listed(shown)] == ["untried", "untried"]


async def test_days_missed_narrow_the_list(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("plus", "plus")
        twice = await settled(pilot)
        await pilot.press("plus")
        thrice = await settled(pilot)
        await pilot.press("minus", "minus")
        once = await settled(pilot)

    assert [len(listed(shown)) for shown in (twice, thrice, once)] == [2, 1, 3]
    assert "missed on 2 days or more" in twice


async def test_words_are_looked_for_while_typed_and_escape_ends_it(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("0", "slash")
        await type_text(pilot, "SQUALL what")
        await pilot.pause(0.06)
        shown = await settled(pilot)
        await pilot.press("escape")
        await pilot.pause(0.06)
        after = await settled(pilot)

    assert len(listed(shown)) == 1
    assert "What is a squall?" in shown
    assert len(listed(after)) == 6


async def test_a_subject_is_chosen_from_its_counts_and_then_a_chapter(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("0", "s")
        choice = await settled(pilot)
        await pilot.press(*"win", "enter", "c")
        chapters = await settled(pilot)
        await pilot.press(*"gus", "enter")
        shown = await settled(pilot)

    wind = next(line for line in choice.splitlines() if "Wind" in line)
    assert wind.split()[-7:-1] == ["0", "1", "1", "0", "0", "0"]
    assert "Force" in chapters
    assert "Gusts" in chapters
    assert "All tiers: Wind · Gusts" in shown
    assert len(listed(shown)) == 1


async def test_a_tier_is_set_by_hand_with_a_reason_and_undone(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("t", "4")
        await type_text(pilot, "known now")
        await pilot.press("enter")
        set_to = opened.history.standing(STATE.format(1)).tier
        shown = await settled(pilot)
        await pilot.press("u")

    assert set_to is Tier.CLEAR
    assert len(listed(shown)) == 2
    assert opened.history.standing(STATE.format(1)).tier is Tier.HARDEST


async def test_without_a_reason_the_tier_stays(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("t", "4", "enter")

    assert opened.history.standing(STATE.format(1)).tier is Tier.HARDEST


async def test_undo_takes_back_nothing_but_tiers(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("u")

    assert opened.history.standing(STATE.format(2)).tier is Tier.CLEAR


async def test_what_is_listed_is_drilled_in_its_order(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("3", "d")
        shown = await settled(pilot)

    sitting = list(opened.history.sittings.values())[-1].opened
    assert sitting.questions == (FORCE.format(1), FORCE.format(2))
    assert sitting.purpose is Purpose.FREE
    assert "Which name belongs to force 3?" in shown


async def test_what_has_no_text_is_swept_with_the_book_open(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("1", "2", "w")
        await settled(pilot)
        name = app.screen.NAME

    assert name == "paper"


async def test_the_other_way_drills_on_screen_what_has_no_text(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("1", "2", "o")
        shown = await settled(pilot)

    assert "Question 1 in the printed bank." in shown
    assert list(opened.history.sittings.values())[-1].opened.purpose is Purpose.SWEEP


async def test_a_large_bank_is_read_behind_the_screen(opened, monkeypatch):
    monkeypatch.setattr("tui.question_list.AT_ONCE", 0)
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await app.workers.wait_for_complete()
        shown = await settled(pilot)

    assert len(listed(shown)) == 3


@pytest.mark.parametrize("at_once", [5_000, 0])
async def test_what_a_reason_was_said_of_is_listed(opened, monkeypatch, at_once):
    monkeypatch.setattr("tui.screens.triage.AT_ONCE", at_once)
    [response] = opened.history.responses(FORCE.format(2))
    opened.reason(response.id, Reason.MIXED_UP)
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("7", "m")
        await app.workers.wait_for_complete()
        shown = await settled(pilot)

    assert "1 of 6 questions" in shown
    assert "[b]calm[/b]?" in "".join(listed(shown))


async def test_a_long_list_asks_how_many(tmp_path):
    many = library(tmp_path, bank("Observer", {"Sea": {"State": bares(250)}}))
    app = Stage(many, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("0", "d")
        asked = await settled(pilot)
        await pilot.press("backspace", "backspace", "backspace", "7", "enter")
        await settled(pilot)
        taken = app.screen.sitting.scope.questions

    assert "Drill how many of 250?" in asked
    assert len(taken) == 7


async def test_the_subjects_tell_what_waits_and_is_settled_at_80_columns(opened):
    opened.now.go_on(days=60)
    app = Stage(opened, TriageScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("s")
        shown = await settled(pilot)

    assert "waiting settled" in shown
    every = next(line for line in shown.splitlines() if "All subjects" in line)
    assert every.split()[-3:-1] == ["4", "0"]  # the last is the frame's edge


async def test_enter_shows_the_question_in_full(opened):
    respond(opened, GUSTS.format(1), "wrong")
    app = Stage(opened, TriageScreen())
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.press("s", "down", "enter", "c", "down", "down", "enter", "enter")
        shown = await settled(pilot)

    for words in ("What is a squall?", "b  wind", "Answer key: b", "Day by day", "✗"):
        assert words in shown


async def test_coming_back_keeps_the_selected_question(opened):
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await pilot.press("j", "enter", "escape")
        shown = await settled(pilot)

    assert "> !!   harder" in shown


async def test_an_empty_bank_says_what_to_do(tmp_path):
    app = Stage(library(tmp_path, bank("Observer", {"Sea": {"State": [bare(1)]}})), TriageScreen())
    async with app.run_test() as pilot:
        assert "Nothing tried yet: mark or drill" in await settled(pilot)


async def test_where_only_printed_questions_are_listed_their_place_has_room(tmp_path):
    title = "Anatomy of Bridges"
    made = library(tmp_path, bank("Book", {title: {"1 Foundations": bares(3)}}))
    respond(made, "book/anatomy-of-bridges.1-foundations/2", "wrong")
    async with Stage(made, TriageScreen()).run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
    async with Stage(made, TriageScreen()).run_test(size=(60, 20)) as pilot:
        narrow = await settled(pilot)
    async with Stage(made, TriageScreen()).run_test(size=(120, 40)) as pilot:
        wide = await settled(pilot)

    assert "Anatomy of Bridges · 1 Foundations " in shown
    assert " in the book" in shown
    assert " in the book " in wide  # beside the list there is less room for it
    assert "Anatomy o… · 1 Foundations" in narrow
    assert "   2  in…" in narrow


async def test_what_waits_is_listed_by_its_digit_and_drilled_like_any_list(opened):
    opened.now.go_on(days=60)
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await settled(pilot)
        await pilot.press("6")
        waiting = await settled(pilot)
        await pilot.press("6")
        again = await settled(pilot)

    assert "Waiting: all subjects" in waiting
    assert "waiting 4 · settled 0" in waiting
    assert "4 of 6 questions" in waiting
    assert "The hard-tiers: all subjects" in again


async def test_the_waiting_list_is_printed_with_the_signs_of_each(opened, tmp_path):
    opened.now.go_on(days=60)
    app = Stage(opened, TriageScreen())
    async with app.run_test() as pilot:
        await settled(pilot)
        await pilot.press("6", "P")
        app.screen.query_one("Input").value = str(tmp_path / "list.txt")
        await pilot.press("enter")

    sheet = (tmp_path / "list.txt").read_text(encoding="utf-8")
    assert sheet.startswith("Waiting, all subjects\n")
    assert sheet.count("[ ][ ][ ]") == 4


def test_a_match_far_in_the_text_is_brought_into_sight_and_marked():
    question = full(1, "Which of the many winds of this coast is a gale?", ["a"], "a")
    line = question_words(question, match(question, "", "gale"), 20)

    assert line.plain == "… is a gale?"
    assert [line.plain[span.start : span.end] for span in line.spans] == ["gale"]
    assert question_words(question, None, 20).plain.startswith("Which of")


async def test_a_wide_terminal_has_the_question_beside_the_list_and_the_board_under_it(opened):
    opened.now.go_on(days=60)
    app = Stage(opened, TriageScreen())
    async with app.run_test(size=(120, 40)) as pilot:
        shown = (await settled(pilot)).splitlines()
        await pilot.press("j")
        moved = (await settled(pilot)).splitlines()

    board = next(at for at, line in enumerate(shown) if "!!! hardest   !! harder" in line)
    columns = [line.split("│")[0].replace("━", "").split() for line in shown[board + 1 :][:2]]
    assert columns == [["Sea", "1", "0", "0", "2"], ["Wind", "0", "1", "1", "2"]]
    assert " · 1 " in shown[5].split("│")[1], "the number is never cut off"
    assert moved[board + 1 :][:2] == shown[board + 1 :][:2]


async def test_a_wide_list_of_subjects_names_their_banks_in_full(tmp_path):
    shape = {"Wind and the Beaufort scale": {"Force": bares(3)}}
    made = library(tmp_path, bank("Observers", shape), bank("The other book", shape))
    async with Stage(made, TriageScreen()).run_test(size=(120, 40)) as pilot:
        await pilot.press("s")
        shown = await settled(pilot)

    assert "Wind and the Beaufort scale · Observers " in shown
    assert "Wind and the Beaufort scale · The other book " in shown
