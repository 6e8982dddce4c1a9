"""What the log has finished: blocks question by question, sweeps at four fifths of what was due."""

from datetime import timedelta

import pytest

from domain.plan.days import ONE_DAY
from domain.plan.pairing import visits
from domain.plan.progress import Attempt, Progress, read_done
from tests.domain.plan.scenes import MONDAY, subject, usual

LOADS = [subject("a", [5, 5]), subject("b", [10])]
VISITS = list(visits(usual(), ["a", "b"]))


def revised(numbers, day=MONDAY, chapter="a/1"):
    return [Attempt(day, chapter[0], chapter, number, False) for number in numbers]


def swept(count, day=MONDAY, name="b"):
    return [Attempt(day, name, f"{name}/1", number, True) for number in range(1, count + 1)]


def read(attempts, target=10, wanted=VISITS):
    return read_done(LOADS, attempts, wanted, lambda subject, day: target)


def test_nothing_done_is_nothing_finished():
    done = read([])
    assert (done.blocks, done.sweeps, done.covered, done.swept, done.round_days) == (
        {}, {}, {}, {}, {}
    )  # fmt: skip


def test_a_block_under_way_covers_what_was_answered_once():
    done = read(revised([1, 2, 2, 3]))
    assert done.blocks == {}
    assert done.covered == {"a/1": frozenset({1, 2, 3})}


def test_a_block_is_finished_with_its_last_question():
    later = MONDAY + ONE_DAY
    done = read(revised(range(1, 6)) + revised(range(1, 6), later, "a/2"))
    assert done.blocks == {"a": 1}
    assert done.covered == {}
    assert done.round_days == {1: (MONDAY, later)}


def test_questions_answered_again_on_the_last_day_do_not_begin_another_block():
    done = read([*revised(range(1, 6)), *revised(range(1, 6), chapter="a/2"), *revised([1])])
    assert (done.blocks, done.covered) == ({"a": 1}, {})


def test_a_second_block_begins_on_a_later_day():
    whole = revised(range(1, 6)) + revised(range(1, 6), chapter="a/2")
    done = read(whole + revised([1], MONDAY + timedelta(days=60)))
    assert (done.blocks, done.covered) == ({"a": 1}, {"a/1": frozenset({1})})


def test_numbers_and_subjects_that_are_not_in_the_plan_do_not_count():
    stranger = Attempt(MONDAY, "z", "z/1", 1, False)
    assert read([*revised([99]), stranger]).covered == {}


@pytest.mark.parametrize(("count", "finished"), [(7, {}), (8, {"b": 1}), (10, {"b": 1})])
def test_a_sweep_is_finished_at_four_fifths_of_what_it_had_to_take(count, finished):
    done = read(swept(count))
    assert done.sweeps == finished
    assert done.swept == ({} if finished else {"b": count})


def test_a_sweep_may_be_spread_over_days():
    done = read(swept(5) + [Attempt(MONDAY + ONE_DAY, "b", "b/1", n, True) for n in (6, 7, 8)])
    assert done.sweeps == {"b": 1}
    assert done.round_days == {1: (MONDAY, MONDAY + ONE_DAY)}


def test_sweeping_on_right_after_a_finished_sweep_is_the_same_sweep():
    done = read(swept(8) + swept(3, MONDAY + ONE_DAY))
    assert (done.sweeps, done.swept) == ({"b": 1}, {})


def test_only_what_brings_the_plan_on_is_a_step():
    again = MONDAY + ONE_DAY
    attempts = [*revised([1, 2]), *revised([2, 3], again), *swept(2, again), *swept(1, again)]
    progress = Progress(LOADS, attempts, lambda subject, day: 10)
    assert sorted((step.day, step.subject, step.sweep) for step in progress.steps()) == [
        (MONDAY, "a", False), (MONDAY, "a", False), (again, "a", False),
        (again, "b", True), (again, "b", True),
    ]  # fmt: skip


def test_reading_on_is_reading_at_once():
    attempts = [*revised([1, 2]), *revised([3], MONDAY + ONE_DAY), *swept(9)]
    progress = Progress(LOADS, attempts[:2], lambda subject, day: 10)
    progress.read(attempts[2:])
    assert progress.done(VISITS) == read(attempts)


def test_sweeping_weeks_later_is_another_sweep():
    done = read(swept(8) + swept(3, MONDAY + timedelta(days=30)))
    assert (done.sweeps, done.swept) == ({"b": 1}, {"b": 3})


def test_a_sweep_of_the_second_round_counts_for_the_second_round():
    done = read(swept(8, MONDAY + timedelta(days=30), "a"))
    assert list(done.round_days) == [2]
