from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.errors import InputError
from domain.marking.schemes import (
    PRESETS,
    MultipleRule,
    Scheme,
    break_even,
    expected_marks,
    multiple_marks,
    parse_scheme,
    share_right,
)
from domain.verdicts import Verdict

FRACTIONS = st.fractions(min_value=0, max_value=10, max_denominator=12)


def test_a_scheme_reads_in_the_usual_spellings():
    assert parse_scheme("4/-1") == Scheme(Fraction(4), Fraction(-1))
    assert parse_scheme("+1 / −1/4") == Scheme(Fraction(1), Fraction(-1, 4))
    assert parse_scheme("+3/−1 blank 1/3") == Scheme(Fraction(3), Fraction(-1), Fraction(1, 3))


@pytest.mark.parametrize("text", ["", "4", "four", "+4/−", "−4/+1", "+1/+2", "+1/-1/0", "+0/0"])
def test_what_is_no_scheme_says_so(text):
    with pytest.raises(InputError, match=r"scheme|divides"):
        parse_scheme(text)


@given(right=st.integers(1, 9), wrong=FRACTIONS, blank=FRACTIONS)
def test_a_scheme_survives_being_written(right, wrong, blank):
    scheme = Scheme(Fraction(right), -wrong, min(blank, Fraction(right) - Fraction(1, 2)))

    assert parse_scheme(scheme.text) == scheme


@given(right=st.integers(1, 9), wrong=FRACTIONS)
def test_at_break_even_answering_and_leaving_blank_are_worth_the_same(right, wrong):
    scheme = Scheme(Fraction(right), -wrong)

    assert expected_marks(scheme, break_even(scheme)) == scheme.blank


def test_each_verdict_has_its_marks():
    scheme = parse_scheme("+4/−1 blank 0.5")

    assert [scheme.marks(verdict) for verdict in Verdict] == [4, -1, Fraction(1, 2)]


def test_multiple_response_is_all_or_nothing_or_option_by_option():
    options, key = "abcde", ("a", "c")

    def shares(rule: MultipleRule) -> list[Fraction]:
        return [share_right(rule, options, key, chosen) for chosen in ("ac", "a", "ab", "bde")]

    assert shares(MultipleRule.ALL_OR_NOTHING) == [1, 0, 0, 0]
    assert shares(MultipleRule.PER_OPTION) == [1, Fraction(4, 5), Fraction(3, 5), 0]


def test_each_option_carries_its_part_of_the_marks():
    scheme = parse_scheme("+4/−1")

    assert multiple_marks(scheme, Fraction(1)) == 4
    assert multiple_marks(scheme, Fraction(0)) == -1
    assert multiple_marks(scheme, Fraction(4, 5)) == 3
    assert multiple_marks(scheme, Fraction(3, 5), answered=False) == 0


def test_every_preset_reads_back_as_it_is_written():
    assert [parse_scheme(text).text for text in PRESETS] == list(PRESETS)
