"""Marking in the printed bank at 80x24: every sign, three ways in one place."""

from datetime import date, timedelta

import pytest
from textual._styles_cache import StylesCache

from banks.library import Given, Library
from banks.planning.intents import accept
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose, Reason
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock, full, respond
from tests.tui.marking_stage import burst, opened, paper, spelled, told, type_keys
from tests.tui.stage import Stage, messages_of, screen_text, settled
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.widgets.grid import NumberGrid


async def test_walking_marks_and_moves_on(tmp_path):
    library = opened(tmp_path)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkl..x")

        assert spelled(library, 6) == "rwRbbw"
        assert ">7" in await settled(pilot)
        await pilot.press("ctrl+c")
        assert "again to quit. Everything shown as recorded is saved." in await settled(pilot)


@pytest.mark.parametrize("way", ["one by one", "numbers"])
async def test_every_sign_is_one_key_or_one_suffix(tmp_path, way):
    library = opened(tmp_path, 12)
    signs = "jlmkKMiIrs."
    keys = signs if way == "one by one" else "".join(f"{n}{s}" for n, s in enumerate(signs, 1))
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, keys)
        shown = await settled(pilot)

    recorded = {
        question.number: (
            library.history.verdict(last),
            library.history.reason(last),
            last.was_sure,
        )
        for _, question in library.active_questions()
        for last in library.history.responses(question.id)
    }
    right, wrong, blank = Verdict.RIGHT, Verdict.WRONG, Verdict.BLANK
    assert list(recorded.values()) == [
        (right, None, False), (right, None, False), (right, Reason.MIXED_UP, False),
        (wrong, None, False), (wrong, None, True), (wrong, Reason.MIXED_UP, False),
        (blank, Reason.UNKNOWN, False), (wrong, Reason.UNKNOWN, False),
        (wrong, Reason.MISREAD, False), (wrong, Reason.SLIP, False), (blank, None, False),
    ]  # fmt: skip
    assert told(library)[2] == told(library)[3] == "R"
    for sign in ("✓", "?", "?m", "✗", "✗✗", "✗m", "–i", "✗i", "✗r", "✗s", "–"):
        assert sign in shown.split()


async def test_a_reason_said_of_a_letter_keeps_the_letter(tmp_path):
    library = opened(tmp_path, 4, has_key=True)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "d1mB2m")
        first, second = (
            library.history.responses(f"book/instruments.barometers/{n}")[-1] for n in (1, 2)
        )

    assert (first.chosen, first.reason, library.history.verdict(first)) == (
        ("d",), Reason.MIXED_UP, Verdict.WRONG,
    )  # fmt: skip
    assert (second.chosen, second.confidence) == (("b",), Confidence.UNSURE)


async def test_enter_before_any_mark_asks_and_enter_again_marks_all_right(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await pilot.press("enter")
        asked = await settled(pilot)
        nothing = told(library)
        await pilot.press("enter")

    assert "Nothing is marked yet. Enter again: all 4 right." in asked
    assert (nothing, spelled(library, 4)) == ({}, "rrrr")


async def test_mondays_chapter_on_tuesday_is_one_key_more(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "<2 \n")
        shown = await settled(pilot)

    days = {library.history.day(last.at) for last in marks_of(library)}
    assert days == {library.today() - timedelta(days=1)}
    assert "revision, Sun  1 Mar (1 day ago) · 4 of 4" in shown


async def test_day_and_purpose_take_along_what_was_marked_here_and_undo_gives_it_back(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "2k\n<p")
        await pilot.pause()
        await pilot.press("f")
        moved = await settled(pilot)
        then = {(last.purpose, library.history.day(last.at)) for last in marks_of(library)}
        await type_keys(pilot, "uu")
        shown = await settled(pilot)

    yesterday = library.today() - timedelta(days=1)
    assert then == {(Purpose.STUDY, yesterday)}
    assert "Marks are for first study, Sun  1 Mar; 4 marks moved." in moved
    assert {(last.purpose, library.history.day(last.at)) for last in marks_of(library)} == {
        (Purpose.REVISION, library.today())
    }
    assert "Undone: marks are for revision, Mon  2 Mar again." in shown
    assert spelled(library, 4) == "rwrr"


async def test_a_day_to_come_is_refused(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, ">")

        assert "! that day is still to come" in await settled(pilot)


async def test_a_day_that_has_marks_already_asks_what_they_mean(tmp_path):
    library = opened(tmp_path, 4)
    missed(library, 2, "wrong")
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "<")
        await pilot.pause()
        asked = await settled(pilot)
        await type_keys(pilot, "c2j")

    assert "1 of 4 questions here are already marked on Mon" in asked
    assert spelled(library, 4) == ".r.."


async def test_exceptions_in_any_order_then_the_rest_right(tmp_path):
    library = opened(tmp_path, 20)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "17 3x 12-15 9? 20.")
        echoed = await settled(pilot)
        await type_keys(pilot, "\n")

        assert "> 17✗ 3✗ 12-15✗ 9? 20–" in echoed
        assert "12 left of 20" in echoed
        assert spelled(library, 20) == "rrwrrrrrRrrwwwwrwrrb"
        assert "all 20 marked" in await settled(pilot)
        assert "20 done, 7 missed." in await settled(pilot)


async def test_the_footer_names_enter_by_what_it_does_now(tmp_path):
    library = opened(tmp_path, 3)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        footers = [(await settled(pilot)).splitlines()[-1]]
        for keys in ("2", " ", "\n", "1", "⌫", "u"):
            await type_keys(pilot, keys)
            footers.append((await settled(pilot)).splitlines()[-1])

    assert spelled(library, 3) == ".w."
    begun, typing, ended, done, correcting, done_again, undone = footers
    for footer in (begun, ended, undone):
        assert "enter Rest right" in footer
    for footer in (typing, correcting):
        assert "enter End number" in footer
    for footer in (done, done_again):
        assert "enter" not in footer
        assert "? Help" in footer


async def test_a_mark_frames_no_more_than_its_own_row_and_lays_nothing_out(tmp_path, monkeypatch):
    library, framed, laid_out = opened(tmp_path, 30), [], []
    render_line, refresh_layout = StylesCache.render_line, PrintedMarkingScreen._refresh_layout

    def counted_line(*arguments):
        framed.append(arguments)
        return render_line(*arguments)

    def counted_layout(*arguments, **options):
        laid_out.append(arguments)
        return refresh_layout(*arguments, **options)

    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "j")
        before = await settled(pilot)
        monkeypatch.setattr(StylesCache, "render_line", counted_line)
        monkeypatch.setattr(PrintedMarkingScreen, "_refresh_layout", counted_layout)
        await type_keys(pilot, "k")
        after = await settled(pilot)
        monkeypatch.undo()

    assert "28 left of 30" in after
    assert before != after
    assert 1 <= len(framed) <= 4
    assert not laid_out


async def test_responses_grade_themselves_as_they_are_typed(tmp_path):
    library = opened(tmp_path, has_key=True)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "caDbb.7a")

        assert spelled(library, 8) == "rrRrwbw."
        assert "D?" in await settled(pilot)
        assert ">8" in await settled(pilot)


@pytest.mark.parametrize(
    ("has_key", "typed", "words", "marked"),
    [
        (True, "cadb", ["! one too many: 3 was the last question"], "rrr"),
        (True, "ce", ["! 2: 'e' is not one of its options (a to d)"], "r.."),
        (False, "a", ["! 1: has no key yet", "y enters it"], "..."),
    ],
)
async def test_a_letter_that_cannot_be_graded_is_said_at_once_and_marks_nothing(
    tmp_path, has_key, typed, words, marked
):
    library = opened(tmp_path, 3, has_key=has_key)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, typed)
        shown = await settled(pilot)

        assert all(word in shown for word in words)
        assert spelled(library, 3) == marked


async def test_a_number_that_is_not_there_is_told_at_once_and_can_be_mended(tmp_path):
    library = opened(tmp_path)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "107")
        told_at_once = await settled(pilot)
        await pilot.press("backspace")
        await type_keys(pilot, " ")

        assert "! 107: no such question here" in told_at_once
        assert told(library) == {10: "w"}


async def test_a_number_that_is_not_there_is_closed_named_and_kept_out(tmp_path):
    library = opened(tmp_path)
    async with paper(library, first=37, last=59).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "5 2 4 5 3 7 41 ")

        assert told(library) == {41: "w"}
        assert "(3 left out) (7 left out) 41✗" in await settled(pilot)


async def test_keys_in_a_burst_keep_their_order(tmp_path):
    library = opened(tmp_path)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, "7k8l9j")

        assert told(library) == {7: "w", 8: "R", 9: "r"}


async def test_undo_goes_back_key_by_key_to_nothing_and_the_cursor_with_it(tmp_path):
    library = opened(tmp_path, 20)
    seen = []
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jk15 \n")
        for _ in range(4):
            seen.append(spelled(library, 20))
            await type_keys(pilot, "u")
        await type_keys(pilot, "u")

        assert seen == ["rw" + "r" * 12 + "wrrrrr", "rw" + "." * 12 + "w.....",
                        "rw" + "." * 18, "r" + "." * 19]  # fmt: skip
        assert told(library) == {}
        assert "Nothing to undo here" in await settled(pilot)
        assert ">1" in await settled(pilot)


async def test_a_new_mark_takes_the_place_of_the_old(tmp_path):
    library = opened(tmp_path)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "kkk2j")

        assert spelled(library, 4) == "wrw."
        assert library.history.standing("book/instruments.barometers/2").tier is Tier.CLEAR
        await type_keys(pilot, "u")
        assert spelled(library, 4) == "www."


async def test_the_walk_passes_over_what_was_typed_as_an_exception(tmp_path):
    library = opened(tmp_path)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "2 3 jj")

        assert spelled(library, 5) == "rwwr."


async def test_broken_off_it_goes_on_where_it_was(tmp_path):
    library = opened(tmp_path)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkj")
    library = Library.open(tmp_path, FakeClock())
    library.now.go_on(seconds=60)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
        await type_keys(pilot, "k")

        assert "Resumed: 3 marked so far." in shown
        assert ">4" in shown
        assert spelled(library, 5) == "rwrw."
        assert len(library.history.sittings) == 1
        await type_keys(pilot, "uuuu")
        assert told(library) == {}


async def test_a_chapter_marked_twice_on_a_day_can_be_corrected(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkjk")
    library = Library.open(tmp_path, FakeClock())
    library.now.go_on(seconds=60)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        asked = await settled(pilot)
        await type_keys(pilot, "c2j")

        assert "4 of 4 questions here are already marked today" in asked
        assert spelled(library, 4) == "rrrw"
        assert all(
            len(library.history.responses(q.id)) == 1
            for _, q in library.active_questions()
            if q.number < 5 and "barometers" in q.id
        )
        await type_keys(pilot, "u")
        assert spelled(library, 4) == "rwrw"


async def test_or_it_can_be_a_second_go(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "jkjk")
    library = Library.open(tmp_path, FakeClock())
    library.now.go_on(seconds=60)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_keys(pilot, "sjj")
        both = library.history.responses("book/instruments.barometers/2")

        assert [response.verdict for response in both] == [Verdict.WRONG, Verdict.RIGHT]


async def test_part_of_a_chapter_is_all_there_is_to_mark(tmp_path):
    library = opened(tmp_path)
    async with paper(library, first=61, last=70).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "65 \n")

        assert "Barometers · 61–70" in await settled(pilot)
        assert told(library) == dict.fromkeys(range(61, 71), "r") | {65: "w"}


async def test_a_list_of_several_chapters_is_marked_chapter_by_chapter(tmp_path):
    library = opened(tmp_path)
    listed = ("vanes/9", "barometers/12", "barometers/3", "vanes/2")
    names = [f"book/instruments.{question}" for question in listed]
    app = Stage(library, PrintedMarkingScreen("Sweep", Purpose.SWEEP, names))
    async with app.run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
        await type_keys(pilot, "12 \n9?\n")

        assert shown.index("Barometers") < shown.index(" 12") < shown.index("Vanes")
        assert told(library) == {3: "r", 12: "w"}
        assert told(library, "vanes") == {2: "r", 9: "R"}


async def test_page_keys_go_from_chapter_to_chapter_and_arrows_from_number_to_number(tmp_path):
    library = opened(tmp_path)
    listed = [f"barometers/{n}" for n in range(1, 23)] + ["vanes/2", "vanes/9"]
    names = [f"book/instruments.{question}" for question in listed]
    app = Stage(library, PrintedMarkingScreen("Sweep", Purpose.SWEEP, names))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("pagedown", "k", "pageup", "k", "right", "down", "k", "left", "left", "k")
        await pilot.press("end", "l")

    assert told(library, "vanes") == {2: "w"}
    assert told(library) == {1: "w", 13: "w", 12: "w", 2: "R"}


async def test_a_note_is_written_on_the_question_under_the_cursor(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await pilot.press("right", "n", *"mind", "enter")
        shown = await settled(pilot)

    assert library.history.note("book/instruments.barometers/2") == "mind"
    assert "mind" in shown


async def test_time_is_shared_over_what_is_marked_and_not_counted_when_off(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "j:")
        library.now.go_on(seconds=30)
        await type_keys(pilot, "k")
        library.now.go_on(seconds=20)
        await type_keys(pilot, ":")
        library.now.go_on(seconds=500)
        await type_keys(pilot, "\n")
        seconds = [
            r.seconds
            for _, q in library.active_questions()
            for r in library.history.responses(q.id)
        ]

        assert seconds[0] == 0
        assert 30 <= seconds[1] <= 40
        assert seconds[2] == seconds[3] > 9
        assert sum(seconds) < 80


async def test_the_title_tells_purpose_day_count_and_the_time_while_it_runs(tmp_path):
    library = opened(tmp_path, 4)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        titles = [(await settled(pilot)).splitlines()[0]]
        for _ in range(2):
            await type_keys(pilot, ":")
            library.now.go_on(seconds=60)
            titles.append((await settled(pilot)).splitlines()[0])

        assert titles[0].endswith("   revision, Mon  2 Mar · 0 of 4")
        assert "0 of 4 · 0:0" in titles[1]
        assert titles[2].endswith("paused")
        assert "0 of 4 · 1:0" in titles[2]


async def test_a_narrow_terminal_has_five_numbers_a_row(tmp_path):
    library = opened(tmp_path, 25)
    async with paper(library).run_test(size=(44, 24)) as pilot:
        await type_keys(pilot, "jk")
        lines = (await settled(pilot)).splitlines()

        assert [" ".join(lines[n].split()) for n in (1, 3)] == [
            "1 ✓ 2 ✗ >3 4 5", "6 7 8 9 10",
        ]  # fmt: skip


def marks_of(library):
    return [
        library.history.responses(question.id)[-1]
        for _, question in library.active_questions()
        if library.history.responses(question.id)
    ]


def missed(library, number, *marks):
    respond(library, f"book/instruments.barometers/{number}", *marks)


async def test_every_cell_shows_its_past_below_its_number_and_the_mark_below_that(tmp_path):
    library = opened(tmp_path, 6)
    missed(library, 2, "wrong", "wrong", "wrong")
    for verdict in ("wrong", "wrong", "right", "right"):
        missed(library, 1, verdict)
        library.now.go_on(days=6)
    name = "book/instruments.barometers/3"
    respond(library, name, "right", confidence=Confidence.UNSURE)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "kK")
        numbers, before, now = (await settled(pilot)).splitlines()[1:4]

    assert numbers.split() == ["1", "2", ">3", "4", "5", "6"]
    assert before.split() == ["●!!", "!!!x", "!~", "·", "·", "·", "before"]
    assert now.split() == ["✗", "✗✗", "now"]
    assert [before.index(mark) for mark in ("●!!", "!!!")] == [
        numbers.index("1") - 2, numbers.index("2") - 2,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("count", "height", "lines"), [(40, 24, 3), (60, 24, 2), (105, 24, 1), (105, 40, 2)]
)
async def test_the_more_numbers_the_closer_they_stand_and_all_are_in_sight(
    tmp_path, count, height, lines
):
    library = opened(tmp_path, count)
    missed(library, 13, "wrong", "wrong", "wrong")
    async with paper(library).run_test(size=(80, height)) as pilot:
        shown = (await settled(pilot)).splitlines()

    assert shown[1 + lines].split()[0][:2] == "11"
    assert any(f"{count}" in line for line in shown[1:])
    assert ("!!!x" if lines > 1 else "13!3x") in " ".join(shown[1 + lines : 3 + lines])


async def test_numbers_that_do_not_fit_take_all_lines_but_the_two_kept_free(tmp_path):
    async with paper(opened(tmp_path, 105)).run_test(size=(80, 18)) as pilot:
        shown = (await settled(pilot)).splitlines()

    assert [line.lstrip(" >").split()[0] for line in shown[1:8]] == [
        str(number) + "·" for number in range(1, 71, 10)
    ]
    assert "not done as a whole before" in shown[9]


async def test_a_chapter_done_is_told_beside_last_time_with_what_comes_next(tmp_path):
    library = opened(tmp_path, 10)
    for number in (3, 4, 5):
        missed(library, number, "wrong")
    library.now.go_on(days=1)
    accept(library, PlanInputs(exam=date(2026, 9, 1)))
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "4 7 \n")
        await pilot.app.workers.wait_for_complete()
        shown = await settled(pilot)

    assert "10 done, 2 missed (3 last time). Next: Instruments · Vanes 1–25." in shown


async def test_free_rows_tell_of_earlier_days_and_show_text_and_note(tmp_path):
    library = opened(tmp_path, 10, first=full(1, "Which falls before a storm?", ["a", "b"]))
    for number in range(1, 9):
        library.record(
            [Given(question=f"book/instruments.barometers/{number}", verdict=Verdict.WRONG)],
            Purpose.REVISION,
        )
    library.note("book/instruments.barometers/1", "the glass")
    library.now.go_on(days=3)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)

    assert "last time 2 Mar: 8 of 8 missed" in shown
    assert "1  Which falls before a storm?" in shown
    assert "Note: the glass" in shown


async def test_a_wide_terminal_shows_the_question_beside_ten_numbers_a_row(tmp_path):
    library = opened(tmp_path, 25)
    missed(library, 1, "wrong")
    async with paper(library).run_test(size=(120, 30)) as pilot:
        await type_keys(pilot, "1")
        lines = (await settled(pilot)).splitlines()

        assert "10 " in lines[1]
        assert lines[1].endswith("Barometers · 1")
        assert lines[2].endswith("! hard, missed on 1 day")
        assert "missed: sign 1" in "".join(lines)


@pytest.mark.parametrize("sizes", [((120, 30), (80, 24)), ((80, 24), (120, 30))])
async def test_lines_under_a_dialog_fit_the_terminal_that_became_another_size(tmp_path, sizes):
    library = opened(tmp_path, 5, first=full(1, "Which falls before a long storm at sea? " * 4))
    missed(library, 1, "wrong")
    size, other = sizes
    async with paper(library).run_test(size=size) as pilot:
        before = await settled(pilot)
        await pilot.press("n")
        for now in (other, size):
            await pilot.resize_terminal(*now)
            await settled(pilot)
        under = pilot.app.screen_stack[-2]

        assert screen_text(under) == before


async def test_single_numbers_of_a_list_stand_at_the_left(tmp_path):
    names = ["book/instruments.barometers/88", "book/instruments.vanes/37"]
    screen = PrintedMarkingScreen("List", Purpose.FREE, names)
    async with Stage(opened(tmp_path), screen).run_test(size=(80, 24)) as pilot:
        lines = (await settled(pilot)).splitlines()

    assert [line.split()[0] for line in lines if line[:6].strip().isdigit()] == ["37"]
    assert any(line.startswith("  >88") for line in lines)


async def test_a_chapter_that_begins_in_a_decade_keeps_its_place(tmp_path):
    library = opened(tmp_path, 25)
    async with paper(library, first=8, last=12).run_test(size=(80, 24)) as pilot:
        lines = (await settled(pilot)).splitlines()

        assert lines[1].index("8") == lines[5].index("12") + 1 + 6 * 7
        assert lines[5].split() == ["11", "12"]


async def test_a_click_puts_the_cursor_on_a_number(tmp_path):
    library = opened(tmp_path, 25)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await pilot.click(NumberGrid, offset=(17, 4))
        await type_keys(pilot, "k")

        assert told(library) == {13: "w"}


async def test_what_is_shown_as_marked_is_on_the_drive(tmp_path):
    library = opened(tmp_path, 12)
    async with paper(library).run_test(size=(80, 24)) as pilot:
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
    library = opened(tmp_path, 4)
    library.close()
    library = Library.open(tmp_path, FakeClock(), read_only=True)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "j")

        shown = await settled(pilot)

        assert "! not saved, so not marked; press the key again to retry" in shown
        assert [library for library in messages_of(pilot.app) if "looking only" in library]
        assert ">1 " in shown


async def test_the_grid_redraws_only_the_rows_that_changed(tmp_path):
    library = opened(tmp_path, 600)
    async with paper(library).run_test(size=(80, 24)) as pilot:
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
    library = opened(tmp_path, 20)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "12 12")
        await pilot.press("ctrl+e")
        form = pilot.app.screen
        await type_keys(pilot, "Why")
        await pilot.press("tab")
        await type_keys(pilot, "one\ntwo")
        await pilot.press("tab", "b", "enter")
        await pilot.press("escape")
        back = await settled(pilot)

    twelve = library.question("book/instruments.barometers/12")
    assert type(form).__name__ == "QuestionForm"
    assert (twelve.stem, twelve.answer_key) == ("Why", ("b",))
    assert library.history.standing(twelve.id).tier is Tier.HARD
    assert "✗" in back


async def test_escape_drops_a_number_first_and_then_leaves(tmp_path):
    library = opened(tmp_path, 20)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "12")
        await pilot.press("escape")
        still = type(pilot.app.screen).__name__
        await pilot.press("escape")

        assert (still, type(pilot.app.screen).__name__) == ("PrintedMarkingScreen", "Wings")
        assert told(library) == {}


@pytest.mark.parametrize(
    ("keys", "closed"), [("jjj", [True]), ("jj", [False]), ("jju.u", [False]), ("ju", []), ("", [])]
)
async def test_a_finished_go_is_closed_a_broken_one_stays_an_empty_one_leaves_no_trace(
    tmp_path, keys, closed
):
    library = opened(tmp_path, 3)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, keys)
        await pilot.press("escape")
        await settled(pilot)

    assert [sitting.closed for sitting in library.history.sittings.values()] == closed
    read = Library.open(tmp_path, FakeClock(), read_only=True)
    assert [sitting.closed for sitting in read.history.sittings.values()] == closed
