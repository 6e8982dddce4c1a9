"""Pictures of text: what each cell says."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.plots import LABEL, Curve, Layer, bar, curves, interval_bar, round_ticks, stacked_areas

SHARES = st.floats(0, 1)
DAYS = [date(2026, 8, 2) + timedelta(weeks=week) for week in range(5)]


def test_an_interval_bar_marks_rate_and_range_to_half_a_cell():
    assert interval_bar(0.5, 0.25, 0.75, 9).plain == "··──●──··"
    assert interval_bar(0.5, 0.32, 0.75, 9).plain == "··╶─●──··"
    assert interval_bar(0, 0, 1, 5).plain == "●────"
    assert interval_bar(1, 1, 1, 5).plain == "····●"


def test_what_was_expected_stands_beside_what_came():
    assert interval_bar(0.5, 0.25, 0.75, 9, expected=0.9).plain == "··──●──│·"


@given(low=SHARES, rate=SHARES, high=SHARES, width=st.integers(2, 60))
def test_an_interval_bar_is_always_as_wide_as_asked(low, rate, high, width):
    low, rate, high = sorted((low, rate, high))
    text = interval_bar(rate, low, high, width).plain

    assert len(text) == width
    assert text.count("●") == 1


@pytest.mark.parametrize(
    ("share", "text"),
    [(0, "····"), (0.5, "██··"), (0.6, "██▍·"), (0.99, "████"), (1.2, "████")],
)
def test_a_bar_is_filled_to_an_eighth_of_a_cell(share, text):
    assert bar(share, 4).plain == text


@pytest.mark.parametrize(("low", "high", "at_most", "ticks"), [
    (0, 400, 5, [0, 100, 200, 300, 400]), (0, 11540, 4, [0, 5000, 10000]),
    (-33, 267, 4, [0, 100, 200]), (0, 0.7, 4, [0, 0.2, 0.4, 0.6]),
])  # fmt: skip
def test_numbers_beside_a_picture_are_round(low, high, at_most, ticks):
    assert round_ticks(low, high, at_most) == pytest.approx(ticks)


@given(low=st.floats(-1000, 1000), length=st.floats(0.01, 1e6), at_most=st.integers(3, 9))
def test_enclosing_numbers_lie_around_everything_and_are_few(low, length, at_most):
    ticks = round_ticks(low, low + length, at_most, enclosing=True)

    assert 2 <= len(ticks) <= at_most
    assert ticks[0] <= low + 1e-6
    assert ticks[-1] >= low + length - 1e-6


def rows_of(picture) -> list[str]:
    """The lines of a picture without its numbers."""
    return [line[LABEL:] for line in picture.plain.split("\n")]


def test_areas_are_stacked_told_by_shade_and_named_with_their_last_count():
    layers = [
        Layer("known", [0, 25, 50, 50, 50], "█", ""), Layer("seen", [50] * 5, "▒", ""),
        Layer("rest", [50, 25, 0, 0, 0], " ", ""),
    ]  # fmt: skip
    lines = rows_of(stacked_areas(layers, DAYS, LABEL + 9 + len("known 50"), 4))

    assert [line[7] for line in lines[:4]] == ["▒", "▒", "█", "█"]
    assert [line[0] for line in lines[:4]] == [" ", " ", "▒", "▒"]
    assert lines[1].endswith("seen 50")
    assert lines[3].endswith("known 50")
    assert not any("rest" in line for line in lines)
    assert lines[4].startswith("2 Aug")


def test_the_height_of_an_area_is_true_to_an_eighth_of_a_cell():
    layers = [Layer("a", [5.0] * 5, "█", ""), Layer("b", [11.0] * 5, " ", "")]

    assert [line[0] for line in rows_of(stacked_areas(layers, DAYS, 40, 2))[:2]] == [" ", "▅"]


def test_a_line_rises_dot_by_dot_between_round_numbers():
    drawn = curves([Curve("now", [0, 10, 20, 30, 40], "")], DAYS, (0, 40), LABEL + 14, 9)
    lines = rows_of(drawn)
    dots = [[index for index, cell in enumerate(line) if "\u2801" <= cell <= "\u28ff"]
            for line in lines[:-1]]  # fmt: skip

    assert [line[:LABEL].strip() for line in drawn.plain.split("\n")[:-1:4]] == ["40", "20", "0"]
    assert all(dots)
    assert max(dots[-1]) <= min(dots[0])
    assert lines[0].endswith("now")


def test_a_dashed_line_has_gaps_and_ends_where_its_values_end():
    values = [10, 10, 10, None, None]
    (line,) = [
        line for line in rows_of(curves([Curve("due", values, "", dashed=True)], DAYS, (0, 20),
                                        LABEL + 44, 5)) if "due" in line
    ]  # fmt: skip
    drawn = [index for index, cell in enumerate(line) if "\u2801" <= cell <= "\u28ff"]

    assert drawn[0] == 0
    assert max(drawn) in (19, 20)  # half of the columns: two of four weeks
    assert len(drawn) < 0.75 * max(drawn)


def test_names_at_the_end_never_share_a_row():
    drawn = [Curve(name, [5.0] * 5, "") for name in ("one", "two", "three")]
    lines = rows_of(curves(drawn, DAYS, (0, 10), 60, 7))

    assert sum(line.endswith(("one", "two", "three")) for line in lines) == 3


def test_the_months_stand_under_the_weeks_in_which_they_begin():
    days = [date(2026, 8, 2) + timedelta(weeks=week) for week in range(16)]
    axis = rows_of(curves([Curve("", [1.0] * 16, "")], days, (0, 2), 80, 5))[-1]

    assert axis.split() == ["2", "Aug", "Sep", "Oct", "Nov"]
