"""Pictures of text: what each cell says."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.plots import AXIS, bar, interval_bar, over_time, time_axis

SHARES = st.floats(0, 1)


def test_an_interval_bar_marks_rate_and_range():
    assert interval_bar(0.5, 0.25, 0.75, 9).plain == "··──●──··"
    assert interval_bar(0, 0, 1, 5).plain == "●────"
    assert interval_bar(1, 1, 1, 5).plain == "····●"


@given(low=SHARES, rate=SHARES, high=SHARES, width=st.integers(2, 60))
def test_an_interval_bar_is_always_as_wide_as_asked(low, rate, high, width):
    low, rate, high = sorted((low, rate, high))
    text = interval_bar(rate, low, high, width).plain

    assert len(text) == width
    assert text.count("●") == 1


@pytest.mark.parametrize(("share", "text"), [(0, "····"), (0.5, "██··"), (1.2, "████")])
def test_a_bar_is_filled_to_its_share(share, text):
    assert bar(share, 4).plain == text


def test_points_over_time_stand_at_their_height_with_their_band():
    lines = over_time(
        [[(0, "●", "")], [(50, "●", "")], [(100, "●", "")]],
        [None, (25, 75), None], (0, 100), AXIS + 3, 5, "%",
    ).plain.split("\n")  # fmt: skip

    assert [line[AXIS:] for line in lines] == ["  ●", " │ ", " ● ", " │ ", "●  "]
    assert lines[0].strip().startswith("100%")
    assert lines[-1].strip().startswith("0%")


def test_the_time_axis_names_both_ends():
    assert time_axis(["01 Jan", "08 Jan", "15 Jan"], 40).plain.split() == [
        "01", "Jan", "15", "Jan",
    ]  # fmt: skip
    assert time_axis([], 40).plain == ""
