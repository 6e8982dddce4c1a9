"""The week and the days off in words: reading what was written gives the same value."""

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.errors import InputError
from domain.plan.inputs import PlanInputs, Role
from domain.plan.parsing import (
    format_minutes,
    format_off,
    format_roles,
    format_times,
    parse_day_minutes,
    parse_minutes,
    parse_off,
    parse_roles,
    parse_times,
)

DEFAULT = PlanInputs()
PARTS = st.lists(st.integers(1, 300), max_size=3).map(tuple)


def test_minutes_are_read_by_weekday_and_part_of_the_day():
    read = parse_minutes("mon-fri 30+60, sat 300, sun 0", ((),) * 7)
    assert read == ((30, 60),) * 5 + ((300,), ())


def test_weekdays_not_named_keep_their_minutes():
    assert parse_minutes("wed 45", DEFAULT.minutes)[2] == (45,)
    assert parse_minutes("wed 45", DEFAULT.minutes)[3] == (30, 60)


def test_a_run_of_weekdays_may_go_round_the_weekend():
    read = parse_minutes("sat-mon 20", ((),) * 7)
    assert [sum(parts) for parts in read] == [20, 0, 0, 0, 0, 20, 20]


@given(st.lists(PARTS, min_size=7, max_size=7).map(tuple))
def test_minutes_survive_writing_and_reading(minutes):
    assert parse_minutes(format_minutes(minutes), ((1,),) * 7) == minutes


@given(st.lists(st.sampled_from(Role), min_size=7, max_size=7).map(tuple))
def test_roles_survive_writing_and_reading(roles):
    assert parse_roles(format_roles(roles), DEFAULT.roles) == roles


@given(st.sets(st.dates(date(2026, 1, 1), date(2027, 12, 31)), max_size=30))
def test_days_off_survive_writing_and_reading(days):
    assert parse_off(format_off(days)) == tuple(sorted(days))


@given(st.sets(st.integers(0, 1439), min_size=1, max_size=4))
def test_times_survive_writing_and_reading(minutes):
    times = tuple(time(*divmod(minute, 60)) for minute in sorted(minutes))
    assert parse_times(format_times(times)) == times


@pytest.mark.parametrize("text", ["", "25:00", "noon", "19:00, 6:30", "6:30, 6:30"])
def test_times_that_cannot_be_read_are_refused(text):
    with pytest.raises(InputError, match="such as 6:30"):
        parse_times(text)


@pytest.mark.parametrize(("text", "parts"), [("", None), ("0", ()), ("30 + 60", (30, 60))])
def test_the_minutes_of_one_day(text, parts):
    assert parse_day_minutes(text) == parts


def test_a_range_of_days_off_includes_both_ends():
    days = parse_off("2027-04-05..2027-04-07, 2027-04-02")
    assert days == tuple(date(2027, 4, n) for n in (2, 5, 6, 7))


@pytest.mark.parametrize("text", ["mon-fri 30+", "mon-", "xyz 30", "mon", "mon -5", "mon 2000", ""])
def test_minutes_that_cannot_be_read_are_named_with_an_example(text):
    with pytest.raises(InputError, match="mon-fri 30\\+60"):
        parse_minutes(text, DEFAULT.minutes)


def test_the_faulty_piece_of_the_minutes_is_quoted():
    with pytest.raises(InputError, match=r'"mon-fri 30\+" in the minutes'):
        parse_minutes("sat 300, mon-fri 30+", DEFAULT.minutes)


def test_a_weekday_named_twice_is_refused():
    with pytest.raises(InputError, match="tue twice"):
        parse_minutes("mon-wed 30, tue 20", DEFAULT.minutes)


@pytest.mark.parametrize("text", ["2027-02-30", "soon", "2027-04-09..2027-04-05", "1..2"])
def test_days_off_that_cannot_be_read_are_refused(text):
    with pytest.raises(InputError, match="Days off"):
        parse_off(text)


def test_an_unknown_role_is_refused():
    with pytest.raises(InputError, match="revision, sat sweep"):
        parse_roles("mon holiday", DEFAULT.roles)
