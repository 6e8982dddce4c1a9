from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.timers import QuestionTimer, Stopwatch

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def at(seconds: float) -> datetime:
    return NOON + timedelta(seconds=seconds)


def started() -> Stopwatch:
    watch = Stopwatch(usual=50, most=300)
    watch.toggle(NOON)
    return watch


def mark(watch: Stopwatch, now: float, left: int, *, in_turn: bool = True) -> float:
    share = watch.share(at(now), left, in_turn=in_turn)
    watch.hand_out(at(now), share)
    return share


def test_off_it_measures_nothing():
    assert mark(Stopwatch(usual=50, most=300), 40, 10) == 0


def test_one_after_another_each_takes_the_time_since_the_one_before():
    watch = started()

    assert [mark(watch, now, left) for now, left in ((40, 10), (65, 9), (70, 8))] == [40, 25, 5]


def test_marks_typed_after_all_was_worked_share_the_hour_equally():
    watch = started()
    shares = [mark(watch, 3600 + n, 100 - n) for n in range(100)]

    assert min(shares) == pytest.approx(36)
    assert max(shares) < 42
    assert sum(shares) == pytest.approx(3699)


def test_out_of_turn_the_rest_shares_what_the_exceptions_left():
    watch = started()
    first = mark(watch, 200, 100, in_turn=False)
    rest = watch.share(at(200), 99, in_turn=False)

    assert (first, rest) == (2, 2)


def test_a_pause_does_not_count():
    watch = started()
    watch.toggle(at(10))
    watch.toggle(at(500))

    assert mark(watch, 520, 100) == 30
    assert watch.total(at(521)) == 31


def test_no_mark_takes_more_than_the_most():
    assert mark(started(), 1000, 1000) == 300


def test_what_is_taken_back_is_in_hand_again():
    watch = started()
    taken = mark(watch, 40, 100)
    watch.take_back(taken)

    assert mark(watch, 42, 100) == 42


@given(st.lists(st.tuples(st.integers(0, 250), st.booleans()), min_size=1, max_size=60))
def test_marks_never_take_more_than_was_measured(steps):
    watch, now, shared = started(), 0, 0.0
    for left, (wait, in_turn) in zip(range(len(steps), 0, -1), steps, strict=True):
        now += wait
        shared += mark(watch, now, left, in_turn=in_turn)

    assert shared <= now + 1e-6
    assert watch.total(at(now)) == pytest.approx(now)


def test_a_clock_that_is_set_back_takes_nothing_away():
    assert mark(started(), -3600, 10) == 0


def test_seconds_are_counted_from_the_start_and_capped():
    now = [100.0]
    watch = QuestionTimer(lambda: now[0], cap=300)
    now[0] = 142.5
    first = watch.seconds
    watch.start()
    now[0] += 100_000

    assert (first, watch.seconds) == (42.5, 300)
