"""Typing and pasting a chapter's answer key at 80x24."""

from textual.events import Paste

from banks.library import Library
from tests.tui.marking_stage import burst, opened, paper, place, spelled
from tests.tui.stage import Stage, settled
from tui.screens.key_entry import KeyEntryScreen


def key_of(library: Library, count: int) -> str:
    (book,) = library.banks.values()
    keys = {q.number: q.answer_key for q in book.in_chapter("instruments.barometers")}
    return " ".join("".join(keys[number]) or "-" for number in range(1, count + 1))


async def test_letters_run_on_and_enter_saves_them(tmp_path):
    library = opened(tmp_path, 6)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "bcA")
        typed = await settled(pilot)
        await burst(pilot.app, "\n")

        assert "1 b*" in typed
        assert "Then     enter saves it" in typed
        assert "* 3 not saved   3 without: 4–6" in typed
        assert key_of(library, 6) == "b c a - - -"
        assert "Saved: 3 new, 0 corrected" in await settled(pilot)
    assert key_of(Library.open(tmp_path, read_only=True), 6) == "b c a - - -"


async def test_a_number_goes_on_from_there_space_skips_and_plus_adds(tmp_path):
    library = opened(tmp_path, 6)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "4b a+c\n")

        assert key_of(library, 6) == "- - - b - ac"


async def test_a_wide_screen_lists_the_keys_of_the_subjects_chapters(tmp_path):
    library = opened(tmp_path, 6)
    location = place(library)
    async with Stage(library, KeyEntryScreen(location)).run_test(size=(120, 40)) as pilot:
        await burst(pilot.app, "bc")
        beside = [line.partition("│")[2].split() for line in (await settled(pilot)).splitlines()]

    lines = [" ".join(words) for words in beside if words]
    assert lines[0] == location.subject.title
    assert f"> {location.chapter.title} 2 of 6" in lines
    assert len(lines) == 1 + len(location.subject.chapters)


async def test_a_letter_too_many_or_out_of_range_is_said_at_once(tmp_path):
    library = opened(tmp_path, 2)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "ae")
        out_of_range = await settled(pilot)
        await burst(pilot.app, "bc")
        too_many = await settled(pilot)

        assert "! 2: 'e' is not one of its options (a to d)" in out_of_range
        assert "! one too many: 2 is the last number" in too_many
        assert "no gaps" in too_many


async def test_the_last_letters_are_taken_back_one_by_one(tmp_path):
    library = opened(tmp_path, 3, has_key=True)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "1b2b⌫⌫")
        shown = await settled(pilot)
        await burst(pilot.app, "3a\n")

        assert "not saved" not in shown
        assert key_of(library, 3) == "c a a"


async def test_a_pasted_key_is_taken_and_what_is_wrong_is_said_by_number(tmp_path):
    library = opened(tmp_path, 6)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        pilot.app.post_message(Paste("1. (b)  2. (c)  4. (a)\n4. (d)  5. (e)  6. (a)  9. (a)"))
        await pilot.pause()
        shown = await settled(pilot)
        await burst(pilot.app, "\n")

        assert "! 3 has no letter" in shown
        assert "! 4 occurs twice (a kept, d not)" in shown
        assert "! 5: 'e' is not one of a–d" in shown
        assert "! 9 is not in the chapter (1–6)" in shown
        assert key_of(library, 6) == "b c - a - a"


async def test_a_corrected_key_grades_again_what_was_marked_by_letter(tmp_path):
    library = opened(tmp_path, 3, has_key=True)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "caa")
        before = spelled(library, 3)
        await pilot.press("y")
        await burst(pilot.app, "3a\n")
        shown = await settled(pilot)
        await pilot.press("escape")
        back = await settled(pilot)

        assert (before, spelled(library, 3)) == ("rrw", "rrr")
        assert "0 new, 1 corrected; 1 marked before re-graded" in shown
        assert "a✓" in back
        assert "✓ 3 right" in back


async def test_leaving_asks_about_letters_not_saved(tmp_path):
    library = opened(tmp_path, 3)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "ab")
        await pilot.press("escape")
        asked = await settled(pilot)
        await pilot.press("s")

        assert "2 letters are not saved yet" in asked
        assert key_of(library, 3) == "a b -"


async def test_a_chapter_without_a_key_gets_one_from_the_paper_screen_and_is_graded(tmp_path):
    library = opened(tmp_path, 3)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await pilot.press("y")
        await burst(pilot.app, "bcd\n")
        await pilot.press("escape")
        await burst(pilot.app, "bdd")

        assert spelled(library, 3) == "rwr"


async def test_arrows_go_about_the_numbers_and_end_to_the_first_gap(tmp_path):
    library = opened(tmp_path, 25)
    async with Stage(library, KeyEntryScreen(place(library))).run_test(size=(80, 24)) as pilot:
        await pilot.press("a", "right", "b", "down", "c", "up", "left", "left", "d", "end", "a")
        await pilot.press("enter")

        key = dict(enumerate(key_of(library, 25).split(), 1))
        typed = {number: letter for number, letter in key.items() if letter != "-"}
        assert typed == {1: "a", 2: "a", 3: "d", 14: "c"}
