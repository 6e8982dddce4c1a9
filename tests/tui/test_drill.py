"""The drill at 80x24, key by key."""

import pytest
from msgspec.structs import replace
from textual._styles_cache import StylesCache
from textual.events import Key

from banks.library import Library
from banks.views.open_sittings import open_sittings
from domain.errors import StoreError
from domain.questions import Figure, Kind
from domain.responses import Purpose, Reason
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock, bank, bare, full, keyed, library, respond
from tests.tui.stage import Stage, messages_of, settled
from tui.screens.drill import DrillScreen

WIND = {
    "Wind": {
        "Force": [
            full(
                1, "Which name belongs to force 3?", ["Gentle breeze", "Light air"], "a",
                explanation="Light air is 1.", reference="p. 4", shuffle=False,
            ),
            full(2, "Which is [b]calm[/b]?", ["0", "1", "2"], "a", shuffle=False),
            keyed(3, "c"),
            bare(4),
            full(5, "Which are breezes?", ["2", "3", "9"], "ab", kind=Kind.MULTIPLE, shuffle=False),
            full(6, "Knots in force 1, at least?", key=("1",), kind=Kind.NUMERIC, tolerance=0.5),
        ]
    }
}  # fmt: skip
NAME = "observer/wind.force/{}"


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, bank("Observer", WIND), clock=FakeClock())


def drill(opened: Library, *numbers: int, tick=lambda: 0.0) -> tuple[Stage, str]:
    sitting = opened.open_sitting("Force", Purpose.REVISION, [NAME.format(n) for n in numbers])
    return Stage(opened, DrillScreen(sitting, tick)), sitting


def given(opened: Library, sitting: str, number: int):
    return opened.history.sittings[sitting].given.get(NAME.format(number))


async def test_a_letter_answers_and_feedback_tells_key_explanation_page_and_tier(opened):
    app, sitting = drill(opened, 1, 2)
    async with app.run_test() as pilot:
        await pilot.press("b")
        shown = await settled(pilot)

    assert given(opened, sitting, 1).chosen == ("b",)
    for words in ("✗ Wrong", "The key is a.", "Light air is 1.", "p. 4", "sign 1",
                  "the first time", "✓ a", "✗ b"):  # fmt: skip
        assert words in shown


async def test_a_shifted_letter_is_unsure_and_a_comma_first_makes_a_guess(opened):
    app, sitting = drill(opened, 1, 2)
    async with app.run_test() as pilot:
        await pilot.press("A", "enter", "comma", "a")

    assert given(opened, sitting, 1).confidence is Confidence.UNSURE
    assert given(opened, sitting, 2).confidence is Confidence.GUESS


async def test_a_click_on_an_option_answers_too(opened):
    app, sitting = drill(opened, 1)
    async with app.run_test() as pilot:
        lines = (await settled(pilot)).splitlines()
        row = next(y for y, line in enumerate(lines) if "Light air" in line)
        await pilot.click(offset=(lines[row].index("Light"), row))
        await pilot.click(offset=(lines[row].index("Light"), row - 1))

    assert given(opened, sitting, 1).chosen == ("b",)


async def test_dont_know_is_a_blank(opened):
    app, sitting = drill(opened, 1)
    async with app.run_test() as pilot:
        await pilot.press("full_stop")
        assert "– Blank" in await settled(pilot)

    assert opened.history.verdict(given(opened, sitting, 1)) is Verdict.BLANK


async def test_text_from_a_bank_is_never_markup(opened):
    app, _ = drill(opened, 2)
    async with app.run_test() as pilot:
        assert "Which is [b]calm[/b]?" in await settled(pilot)


async def test_a_keyed_question_takes_the_printed_letter(opened):
    app, sitting = drill(opened, 3)
    async with app.run_test() as pilot:
        assert "Question 3 in the printed bank." in await settled(pilot)
        await pilot.press("c")
        assert "✓ Right" in await settled(pilot)

    assert given(opened, sitting, 3).chosen == ("c",)


@pytest.mark.parametrize(
    ("key", "verdict", "confidence"),
    [
        ("j", Verdict.RIGHT, Confidence.SURE),
        ("l", Verdict.RIGHT, Confidence.UNSURE),
        ("k", Verdict.WRONG, Confidence.SURE),
        ("full_stop", Verdict.BLANK, Confidence.SURE),
    ],
)
async def test_a_bare_question_takes_the_candidates_own_verdict(opened, key, verdict, confidence):
    app, sitting = drill(opened, 4)
    async with app.run_test() as pilot:
        await pilot.press(key)

    response = given(opened, sitting, 4)
    assert (opened.history.verdict(response), response.confidence) == (verdict, confidence)


async def test_verdict_keys_do_nothing_where_there_is_a_key(opened):
    app, sitting = drill(opened, 1)
    async with app.run_test() as pilot:
        await pilot.press("j", "k")

    assert given(opened, sitting, 1) is None


async def test_keys_in_one_burst_are_taken_in_turn(opened):
    app, sitting = drill(opened, 1, 2)
    async with app.run_test() as pilot:
        for key in ("b", "enter", "A"):
            app.post_message(Key(key, key if len(key) == 1 else None))
        await settled(pilot)

    assert given(opened, sitting, 1).chosen == ("b",)
    assert given(opened, sitting, 2).confidence is Confidence.UNSURE


async def test_several_options_are_ticked_and_given_with_enter(opened):
    app, sitting = drill(opened, 5)
    async with app.run_test() as pilot:
        await pilot.press("a", "c", "c", "b")
        assert "* a" in await settled(pilot)
        await pilot.press("enter")

    assert given(opened, sitting, 5).chosen == ("a", "b")
    assert opened.history.verdict(given(opened, sitting, 5)) is Verdict.RIGHT


@pytest.mark.parametrize(
    ("typed", "verdict", "confidence"),
    [
        ("1,2", Verdict.RIGHT, Confidence.SURE),
        ("1?", Verdict.RIGHT, Confidence.UNSURE),
        ("7??", Verdict.WRONG, Confidence.GUESS),
        ("", Verdict.BLANK, Confidence.SURE),
    ],
)
async def test_numbers_are_typed_and_question_marks_say_how_sure(
    opened, typed, verdict, confidence
):
    app, sitting = drill(opened, 6)
    async with app.run_test() as pilot:
        await pilot.press(*typed, "enter")

    response = given(opened, sitting, 6)
    assert (opened.history.verdict(response), response.confidence) == (verdict, confidence)


async def test_earlier_responses_are_told_with_their_dates(opened):
    respond(opened, NAME.format(1), "wrong", "right")
    app, _ = drill(opened, 1)
    async with app.run_test() as pilot:
        assert "2 Mar" not in await settled(pilot)
        await pilot.press("a")
        assert "3 Mar ✓ right · 2 Mar ✗ wrong" in await settled(pilot)


async def test_undo_takes_the_response_back_and_asks_again(opened):
    app, sitting = drill(opened, 1, 2)
    async with app.run_test() as pilot:
        await pilot.press("b", "enter", "u")
        assert "Which name belongs to force 3?" in await settled(pilot)
        assert given(opened, sitting, 1) is None
        await pilot.press("u")

    assert opened.history.standing(NAME.format(1)).tier is Tier.UNTRIED


async def test_seconds_are_measured_and_idle_time_is_capped(opened):
    now = [0.0]
    app, sitting = drill(opened, 1, 2, tick=lambda: now[0])
    async with app.run_test() as pilot:
        now[0] += 12.34
        await pilot.press("a", "enter")
        now[0] += 4000
        await pilot.press("a")

    assert given(opened, sitting, 1).seconds == 12.3
    assert given(opened, sitting, 2).seconds == opened.settings.idle_cap


async def test_a_reason_a_note_and_a_disputed_key_are_kept(opened):
    app, sitting = drill(opened, 1)
    async with app.run_test() as pilot:
        await pilot.press("b", "m", "n", *"hm", "enter", "y", "b", *"p9", "enter")
        shown = await settled(pilot)

    response = given(opened, sitting, 1)
    assert opened.history.reason(response) is Reason.MIXED_UP
    assert opened.history.note(NAME.format(1)) == "hm"
    assert opened.history.dispute(NAME.format(1)).key == ("b",)
    assert "✓ Right" in shown
    assert "the bank's key is a, yours b: p9" in shown


async def test_a_reason_can_be_said_of_what_was_right_but_unsure_and_of_nothing_sure(opened):
    app, sitting = drill(opened, 1, 2)
    async with app.run_test() as pilot:
        await pilot.press("A")
        asked = await settled(pilot)
        await pilot.press("m", "enter", "a", "m")
        shown = await settled(pilot)

    assert "m mixed up" in asked
    assert opened.history.reason(given(opened, sitting, 1)) is Reason.MIXED_UP
    assert "mixed up" not in shown
    assert opened.history.reason(given(opened, sitting, 2)) is None


async def test_a_sitting_is_left_and_resumed_where_it_was(opened):
    app, sitting = drill(opened, 1, 2, 4)
    async with app.run_test() as pilot:
        await pilot.press("a", "enter", "escape")
    waiting = open_sittings(opened)
    again = Stage(opened, DrillScreen(sitting))
    async with again.run_test() as pilot:
        shown = await settled(pilot)

    assert [(row.id, row.left, row.total) for row in waiting] == [(sitting, 2, 3)]
    assert "Which is [b]calm" in shown
    assert "2 of 3 · 1 right of 1" in shown


async def test_the_end_sums_up_and_closes_the_sitting(opened):
    app, sitting = drill(opened, 1, 4)
    async with app.run_test() as pilot:
        await pilot.press("a", "enter", "k", "enter")
        shown = await settled(pilot)
        await pilot.press("enter")

    assert opened.history.sittings[sitting].closed
    assert open_sittings(opened) == []
    for words in ("2 of 2 answered", "1  ✓ right", "1  ✗ wrong", "1  promoted", "0  settled"):
        assert words in shown


async def test_a_sitting_is_ended_before_its_end_once_that_is_meant(opened):
    app, sitting = drill(opened, 1, 2, 4)
    async with app.run_test() as pilot:
        await pilot.press("a", "enter", "z")
        asked = await settled(pilot)
        await pilot.press("n")
        is_open = not opened.history.is_closed(sitting)
        await pilot.press("z", "y")

    assert "End this sitting with 2 questions not answered?" in asked
    assert is_open
    assert opened.history.is_closed(sitting)
    assert open_sittings(opened) == []


async def test_a_finished_drill_is_read_through(opened):
    app, _ = drill(opened, 1, 4)
    async with app.run_test() as pilot:
        await pilot.press("a", "enter", "k", "enter", "V")
        shown = await settled(pilot)

    assert "Read through · Force" in shown
    assert "all: 2 questions" in shown


async def test_what_was_missed_can_be_taken_again(opened):
    app, _ = drill(opened, 1, 4)
    async with app.run_test() as pilot:
        await pilot.press("a", "enter", "k", "enter")
        page = await settled(pilot)
        await pilot.press("w")
        shown = await settled(pilot)

    assert "w: missed ones again" in page
    assert "Force, missed again" in shown
    assert "1 of 1" in shown


async def test_an_earlier_response_is_corrected_in_three_keys_after_a_restart(opened):
    app, sitting = drill(opened, 1, 2, 4)
    async with app.run_test() as pilot:
        await pilot.press("b", "enter")
    again = Stage(opened, DrillScreen(sitting, lambda: 0.0))
    async with again.run_test() as pilot:
        await pilot.press("left")
        looked = await settled(pilot)
        await pilot.press("a", "enter")
        shown = await settled(pilot)

    assert "a letter answers again" in looked
    assert given(opened, sitting, 1).chosen == ("a",)
    assert "2 of 3 · 1 right of 1" in shown


async def test_true_or_false_without_texts_takes_words_and_no_third_letter(tmp_path):
    question = replace(keyed(1, "b"), kind=Kind.TRUE_FALSE, stem="Calm is force 0.")
    opened = library(tmp_path, bank("Observer", {"Wind": {"Force": [question]}}))
    app, sitting = drill(opened, 1)
    async with app.run_test() as pilot:
        shown = await settled(pilot)
        await pilot.press("c", "d")
        before = given(opened, sitting, 1)
        await pilot.press("t", "backspace", "f")

    assert "a  True" in shown
    assert "b  False" in shown
    assert before is None
    assert given(opened, sitting, 1).chosen == ("b",)


async def test_a_stray_letter_after_a_response_changes_nothing(opened):
    app, sitting = drill(opened, 1, 2)
    async with app.run_test() as pilot:
        await pilot.press("b", "a", "A")

    assert given(opened, sitting, 1).chosen == ("b",)


async def test_ticks_and_typed_text_are_given_again_too(opened):
    app, sitting = drill(opened, 5, 6, 1)
    async with app.run_test() as pilot:
        await pilot.press("a", "enter", "enter", "2", "enter", "enter")
        await pilot.press("left", "left", "a", "b", "enter", "right")
        await pilot.press("equals_sign", "1", "enter")

    assert given(opened, sitting, 5).chosen == ("a", "b")
    assert given(opened, sitting, 6).chosen == ("1",)


async def test_a_question_left_for_later_comes_at_the_end(opened):
    app, sitting = drill(opened, 1, 4)
    async with app.run_test() as pilot:
        await pilot.press("right", "j", "enter", "a", "enter")

    assert set(opened.history.sittings[sitting].given) == {NAME.format(1), NAME.format(4)}


async def test_an_unsaved_response_stays_and_any_key_tries_again(opened, monkeypatch):
    app, sitting = drill(opened, 1)
    append = opened.store.append
    monkeypatch.setattr(opened.store, "append", _full_drive)
    async with app.run_test() as pilot:
        await pilot.press("b")
        shown = await settled(pilot)
        monkeypatch.setattr(opened.store, "append", append)
        await pilot.press("space")

    assert "the drive is full. Any key tries again" in shown
    assert "✗ Wrong" not in shown
    assert given(opened, sitting, 1).chosen == ("b",)


def _full_drive(records) -> None:
    raise StoreError("log: the drive is full")


async def test_a_long_stem_scrolls(tmp_path):
    stem = "\n".join(f"line {n}" for n in range(60))
    long = bank("Observer", {"Wind": {"Force": [full(1, stem, ["x", "y"], "a")]}})
    app, _ = drill(library(tmp_path, long), 1)
    async with app.run_test() as pilot:
        before = await settled(pilot)
        await pilot.press("pagedown")
        after = await settled(pilot)

    assert "line 0" in before
    assert "line 0\n" not in after
    assert "line 25" in after


async def test_a_letter_is_not_taken_before_the_options_were_in_view(tmp_path):
    stem = "\n".join(f"line {n}" for n in range(29))
    long = bank("Observer", {"Wind": {"Force": [full(1, stem, ["x", "y"], "a", shuffle=False)]}})
    opened = library(tmp_path, long)
    app, sitting = drill(opened, 1)
    async with app.run_test() as pilot:
        before = await settled(pilot)
        await pilot.press("a")
        too_soon = given(opened, sitting, 1)
        await pilot.press("space")
        below = await settled(pilot)
        await pilot.press("up", "up", "a")

    assert "lines below, options there" in before
    assert too_soon is None
    assert "sure · A" in below
    assert given(opened, sitting, 1).chosen == ("a",)


async def test_options_are_shuffled_alike_each_time_and_the_id_is_recorded(tmp_path):
    texts = [f"option {n}" for n in range(8)]
    shuffled = bank("Observer", {"Wind": {"Force": [full(1, "Which?", texts, "e")]}})
    opened = library(tmp_path, shuffled)
    sitting = opened.open_sitting("Force", Purpose.REVISION, [NAME.format(1)], 5)
    orders = []
    for _ in range(2):
        app = Stage(opened, DrillScreen(sitting))
        async with app.run_test() as pilot:
            lines = (await settled(pilot)).splitlines()
            orders.append([line.strip() for line in lines if "option " in line])
    app = Stage(opened, DrillScreen(sitting))
    async with app.run_test() as pilot:
        await pilot.press("a")

    assert orders[0] == orders[1] != [f"{'abcdefgh'[n]}  option {n}" for n in range(8)]
    chosen = given(opened, sitting, 1).chosen[0]
    assert orders[0][0] == f"a  option {'abcdefgh'.index(chosen)}"


async def test_a_figure_that_was_not_kept_is_said_so(tmp_path):
    pictured = full(1, "Which?", ["x", "y"], "a", figures=(Figure("cloud.png", "a cloud"),))
    app, _ = drill(library(tmp_path, bank("Observer", {"Wind": {"Force": [pictured]}})), 1)
    async with app.run_test() as pilot:
        assert "[figure: a cloud]" in await settled(pilot)
        await pilot.press("v")
        messages = messages_of(app)

    assert messages == ["cloud.png: this figure was not kept with the bank"]


async def test_a_question_to_check_says_so_until_one_key_checks_it(tmp_path):
    doubtful = full(1, "What is a squall?", ["rain", "wind"], "b", to_check="two layouts fit")
    book = bank("Observer", {"Wind": {"Force": [doubtful]}})
    opened = library(tmp_path, book, clock=FakeClock())
    app, _ = drill(opened, 1)
    async with app.run_test() as pilot:
        before = await settled(pilot)
        await pilot.press("exclamation_mark")
        after = await settled(pilot)
        await pilot.press("b")
        answered = await settled(pilot)

    assert "! To check in the book: two layouts fit" in before
    assert "To check" not in after
    assert opened.banks["observer"].questions[NAME.format(1)].to_check == ""
    assert "✓ Right" in answered


async def test_a_key_sets_its_lines_once_and_lays_nothing_out(opened, monkeypatch):
    app, _ = drill(opened, 1, 2)
    framed, laid_out = [], []
    render_line, refresh_layout = StylesCache.render_line, DrillScreen._refresh_layout

    def counted_line(*arguments):
        framed.append(arguments)
        return render_line(*arguments)

    def counted_layout(*arguments, **options):
        laid_out.append(arguments)
        return refresh_layout(*arguments, **options)

    async with app.run_test() as pilot:
        await pilot.press("b")
        answered = await settled(pilot)
        monkeypatch.setattr(StylesCache, "render_line", counted_line)
        monkeypatch.setattr(DrillScreen, "_refresh_layout", counted_layout)
        await pilot.press("enter")
        asked_next = await settled(pilot)
        await pilot.press("a")
        answered_next = await settled(pilot)
        monkeypatch.undo()

    assert "✓ Right" in answered_next
    assert len({answered, asked_next, answered_next}) == 3
    assert not framed
    assert not laid_out
