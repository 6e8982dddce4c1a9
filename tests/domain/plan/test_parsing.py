"""Dates as people write them."""

from datetime import date

import pytest

from domain.errors import InputError
from domain.plan.parsing import AmbiguousDate, parse_day

DAY = date(2027, 5, 15)


@pytest.mark.parametrize(
    "text",
    [
        "2027-05-15",
        "2027-5-15",
        "15 May 2027",
        " 15  may 2027 ",
        "15th May, 2027",
        "May 15, 2027",
        "15. May 2027",
        "15.5.2027",
        "15.05.2027",
        "15. 5. 2027",
        "15/05/2027",
        "05/15/2027",
    ],
)
def test_every_way_to_write_the_day_is_read(text: str) -> None:
    assert parse_day(text) == DAY


def test_dots_mean_day_first() -> None:
    assert parse_day("3.4.2027") == date(2027, 4, 3)


def test_slashes_that_read_two_ways_name_both() -> None:
    with pytest.raises(AmbiguousDate) as fault:
        parse_day("3/4/2027")
    assert fault.value.readings == (date(2027, 4, 3), date(2027, 3, 4))
    assert str(fault.value) == (
        '"3/4/2027" can be 3 April 2027 or 4 March 2027: write 2027-04-03 or 2027-03-04.'
    )


def test_slashes_that_read_one_way_are_read() -> None:
    assert parse_day("4/4/2027") == date(2027, 4, 4)


@pytest.mark.parametrize("text", ["", "soon", "31 April 2027", "2027-13-01", "15 Foo 2027", "1/2"])
def test_what_is_no_day_is_said(text: str) -> None:
    with pytest.raises(InputError, match="is no day"):
        parse_day(text)
