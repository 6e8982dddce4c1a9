"""Marking paper work at 80x24: three ways in one place."""

import pytest

from banks.library import Library
from domain.responses import Purpose
from domain.tiers import Tier
from domain.verdicts import Verdict
from tests.builders import FakeClock, respond
from tests.tui.paper_desk import burst, opened, paper, spelled, told, type_keys
from tests.tui.stage import Stage, settled
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.widgets.grid import NumberGrid


async def test_walking_marks_and_moves_on(tmp_path):
    one = opened(tmp_path)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkl .x")

        assert spelled(one, 6) == "rwRbbw"
        assert ">  7  ·" in await settled(pilot)


async def test_exceptions_in_any_order_then_the_rest_right(tmp_path):
    one = opened(tmp_path, 20)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "17 3x 12-15 9? 20.")
        echoed = await settled(pilot)
        await type_keys(pilot, "\n")

        assert "17  ✗" in echoed
        assert "> 17✗ 3✗ 12-15✗ 9? 20–" in echoed
        assert "12 left of 20" in echoed
        assert spelled(one, 20) == "rrwrrrrrRrrwwwwrwrrb"
        assert "all 20 marked" in await settled(pilot)


async def test_responses_grade_themselves_as_they_are_typed(tmp_path):
    one = opened(tmp_path, has_key=True)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "caDbb 7a")

        assert spelled(one, 8) == "rrRrwbw."
        assert "3 D?" in await settled(pilot)
        assert ">  8" in await settled(pilot)


async def test_a_letter_too_many_is_said_at_once_and_marks_nothing(tmp_path):
    one = opened(tmp_path, 3, has_key=True)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "cadb")

        assert "! one too many: 3 was the last question" in await settled(pilot)
        assert spelled(one, 3) == "rrr"


async def test_a_letter_out_of_range_is_said_at_once(tmp_path):
    one = opened(tmp_path, 3, has_key=True)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "ce")

        assert "! 2: 'e' is not one of its options (a to d)" in await settled(pilot)
        assert spelled(one, 3) == "r.."


async def test_without_a_key_a_letter_says_how_to_get_one(tmp_path):
    one = opened(tmp_path, 3)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "a")

        assert "! 1: has no key yet" in await settled(pilot)
        assert "enter it with y" in await settled(pilot)
        assert spelled(one, 3) == "..."


async def test_a_number_that_is_not_there_marks_nothing_until_it_is_mended(tmp_path):
    one = opened(tmp_path)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "107")

        assert "! 107: no such question here" in await settled(pilot)
        await type_keys(pilot, " ")
        assert told(one) == {}
        await pilot.press("backspace")
        await type_keys(pilot, " ")
        assert told(one) == {10: "w"}


async def test_keys_in_a_burst_keep_their_order(tmp_path):
    one = opened(tmp_path)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "7k8l9j")

        assert told(one) == {7: "w", 8: "R", 9: "r"}


async def test_undo_goes_back_key_by_key_to_nothing_and_the_cursor_with_it(tmp_path):
    one = opened(tmp_path, 20)
    seen = []
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jk15 \n")
        for _ in range(4):
            seen.append(spelled(one, 20))
            await type_keys(pilot, "u")
        await type_keys(pilot, "u")

        assert seen == ["rw" + "r" * 12 + "wrrrrr", "rw" + "." * 12 + "w.....",
                        "rw" + "." * 18, "r" + "." * 19]  # fmt: skip
        assert told(one) == {}
        assert "Nothing to undo here" in await settled(pilot)
        assert ">  1" in await settled(pilot)


async def test_a_new_mark_takes_the_place_of_the_old(tmp_path):
    one = opened(tmp_path)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "kkk2j")

        assert spelled(one, 4) == "wrw."
        assert one.history.standing("book/instruments.barometers/2").tier is Tier.CLEAR
        await type_keys(pilot, "u")
        assert spelled(one, 4) == "www."


async def test_the_walk_passes_over_what_was_typed_as_an_exception(tmp_path):
    one = opened(tmp_path)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "2 3 jj")

        assert spelled(one, 5) == "rwwr."


async def test_broken_off_it_goes_on_where_it_was(tmp_path):
    one = opened(tmp_path)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkj")
    one = Library.open(tmp_path, FakeClock())
    one.now.go_on(seconds=60)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
        await type_keys(pilot, "k")

        assert "Resumed: 3 marked so far." in shown
        assert ">  4" in shown
        assert spelled(one, 5) == "rwrw."
        assert len(one.history.sittings) == 1
        await type_keys(pilot, "uuuu")
        assert told(one) == {}


async def test_a_chapter_marked_twice_on_a_day_can_be_corrected(tmp_path):
    one = opened(tmp_path, 4)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkjk")
    one = Library.open(tmp_path, FakeClock())
    one.now.go_on(seconds=60)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        asked = await settled(pilot)
        await type_keys(pilot, "c2j")

        assert "4 of 4 questions here are already marked today" in asked
        assert spelled(one, 4) == "rrrw"
        assert all(
            len(one.history.responses(q.id)) == 1
            for _, q in one.active_questions()
            if q.number < 5 and "barometers" in q.id
        )
        await type_keys(pilot, "u")
        assert spelled(one, 4) == "rwrw"


async def test_or_it_can_be_a_second_go(tmp_path):
    one = opened(tmp_path, 4)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkjk")
    one = Library.open(tmp_path, FakeClock())
    one.now.go_on(seconds=60)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_keys(pilot, "sjj")
        both = one.history.responses("book/instruments.barometers/2")

        assert [response.verdict for response in both] == [Verdict.WRONG, Verdict.RIGHT]


async def test_part_of_a_chapter_is_all_there_is_to_mark(tmp_path):
    one = opened(tmp_path)
    async with paper(one, first=61, last=70).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "65 \n")

        assert "Barometers · 61–70" in await settled(pilot)
        assert told(one) == dict.fromkeys(range(61, 71), "r") | {65: "w"}


async def test_a_list_of_several_chapters_is_marked_chapter_by_chapter(tmp_path):
    one = opened(tmp_path)
    listed = ("vanes/9", "barometers/12", "barometers/3", "vanes/2")
    names = [f"book/instruments.{question}" for question in listed]
    app = Stage(one, PrintedMarkingScreen("Sweep", Purpose.SWEEP, names))
    async with app.run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
        await type_keys(pilot, "12 \n9?\n")

        assert shown.index("Barometers") < shown.index(" 12") < shown.index("Vanes")
        assert told(one) == {3: "r", 12: "w"}
        assert told(one, "vanes") == {2: "r", 9: "R"}


async def test_time_is_shared_over_what_is_marked_and_not_counted_when_off(tmp_path):
    one = opened(tmp_path, 4)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jt")
        one.now.go_on(seconds=30)
        await type_keys(pilot, "k")
        one.now.go_on(seconds=20)
        await type_keys(pilot, "t")
        one.now.go_on(seconds=500)
        await type_keys(pilot, "\n")
        seconds = [
            r.seconds for _, q in one.active_questions() for r in one.history.responses(q.id)
        ]

        assert seconds[0] == 0
        assert 30 <= seconds[1] <= 40
        assert seconds[2] == seconds[3] > 9
        assert sum(seconds) < 80


async def test_the_title_tells_the_time_and_whether_it_runs(tmp_path):
    one = opened(tmp_path, 4)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        titles = [(await settled(pilot)).splitlines()[0]]
        for _ in range(2):
            await type_keys(pilot, "t")
            one.now.go_on(seconds=60)
            titles.append((await settled(pilot)).splitlines()[0])

        assert titles[0].endswith("   revision")
        assert "revision · 0:0" in titles[1]
        assert titles[2].endswith("paused")
        assert "revision · 1:0" in titles[2]


async def test_a_narrow_terminal_has_five_numbers_a_row(tmp_path):
    one = opened(tmp_path, 25)
    async with paper(one).run_test(size=(44, 20)) as pilot:
        await type_keys(pilot, "jk")
        lines = (await settled(pilot)).splitlines()

        assert [" ".join(line.split()) for line in lines[1:3]] == [
            "1 ✓ 2 ✗> 3 · 4 · 5 ·", "6 · 7 · 8 · 9 · 10 ·",
        ]  # fmt: skip


async def test_a_cell_without_a_mark_shows_what_the_pencil_left_before(tmp_path):
    one = opened(tmp_path, 6)
    first, second = (question.id for _, question in list(one.active_questions())[:2])
    for verdict in ("wrong", "wrong", "right", "right"):
        respond(one, first, verdict)
        one.now.go_on(days=6)
    respond(one, second, "wrong", "wrong", "wrong")
    async with paper(one).run_test(size=(80, 24)) as pilot:
        before = (await settled(pilot)).splitlines()[1]
        await type_keys(pilot, "k")
        marked = (await settled(pilot)).splitlines()[1]

    assert before.split()[:4] == [">", "1●!!", "2!!!", "3"]
    assert marked.split()[:4] == ["1", "✗>", "2!!!", "3"]


async def test_a_wide_terminal_shows_the_question_beside_ten_numbers_a_row(tmp_path):
    one = opened(tmp_path, 25)
    async with paper(one).run_test(size=(120, 30)) as pilot:
        await type_keys(pilot, "k1")
        lines = (await settled(pilot)).splitlines()

        assert "10  ·" in lines[1]
        assert lines[1].endswith("Barometers · 1")
        assert lines[2].endswith("! hard, missed on 1 day")
        assert "missed: sign 1" in "".join(lines)


async def test_a_chapter_that_begins_in_a_decade_keeps_its_place(tmp_path):
    one = opened(tmp_path, 25)
    async with paper(one, first=8, last=12).run_test(size=(80, 24)) as pilot:
        lines = (await settled(pilot)).splitlines()

        assert lines[1].index("8") == lines[2].index("12") + 1 + 6 * 7
        assert " ".join(lines[2].split()) == "11 · 12 ·"


async def test_a_click_puts_the_cursor_on_a_number(tmp_path):
    one = opened(tmp_path, 25)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await pilot.click(NumberGrid, offset=(17, 1))
        await type_keys(pilot, "k")

        assert told(one) == {13: "w"}


async def test_what_is_shown_as_marked_is_on_the_drive(tmp_path):
    one = opened(tmp_path, 12)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        for keys, marks in (
            ("j", "r"),
            ("3 ", "r.w"),
            ("u", "r"),
            ("k", "rw"),
            ("\n", "rw" + "r" * 10),
        ):
            await type_keys(pilot, keys)
            read = Library.open(tmp_path, FakeClock(), read_only=True)

            assert spelled(read, 12).rstrip(".") == marks


async def test_what_can_t_be_saved_is_not_shown_as_marked(tmp_path):
    one = opened(tmp_path, 4)
    one.close()
    one = Library.open(tmp_path, FakeClock(), read_only=True)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "j")

        shown = await settled(pilot)

        assert "! not saved, so not marked; press the key again to retry" in shown
        assert [one.message for one in pilot.app._notifications if "looking only" in one.message]
        assert ">  1  ·" in shown


async def test_the_grid_redraws_only_the_rows_that_changed(tmp_path):
    one = opened(tmp_path, 600)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "j")
        await settled(pilot)
        grid = pilot.app.screen.query_one("NumberGrid")
        drawn: list[int] = []
        draw = grid.render_line
        grid.render_line = lambda y: (drawn.append(y), draw(y))[1]
        await type_keys(pilot, "j")
        await settled(pilot)

        assert set(drawn) == {0}


async def test_a_number_can_be_given_its_text_on_the_spot_and_keeps_its_history(tmp_path):
    one = opened(tmp_path, 20)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "12 12i")
        form = pilot.app.screen
        await type_keys(pilot, "Why")
        await pilot.press("tab")
        await type_keys(pilot, "one\ntwo")
        await pilot.press("tab", "b", "enter")
        await pilot.press("escape")
        back = await settled(pilot)

    twelve = one.question("book/instruments.barometers/12")
    assert type(form).__name__ == "QuestionForm"
    assert (twelve.stem, twelve.answer_key) == ("Why", ("b",))
    assert one.history.standing(twelve.id).tier is Tier.HARD
    assert "12  ✗" in back


async def test_escape_drops_a_number_first_and_then_leaves(tmp_path):
    one = opened(tmp_path, 20)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "12")
        await pilot.press("escape")
        still = type(pilot.app.screen).__name__
        await pilot.press("escape")

        assert (still, type(pilot.app.screen).__name__) == ("PrintedMarkingScreen", "Wings")
        assert told(one) == {}


@pytest.mark.parametrize(
    ("keys", "closed"), [("jjj", [True]), ("jj", [False]), ("jju u", [False]), ("ju", []), ("", [])]
)
async def test_a_finished_go_is_closed_a_broken_one_stays_an_empty_one_leaves_no_trace(
    tmp_path, keys, closed
):
    one = opened(tmp_path, 3)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, keys)
        await pilot.press("escape")
        await settled(pilot)

    assert [sitting.closed for sitting in one.history.sittings.values()] == closed
    read = Library.open(tmp_path, FakeClock(), read_only=True)
    assert [sitting.closed for sitting in read.history.sittings.values()] == closed
