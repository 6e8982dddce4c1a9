"""What a guess is worth under a scheme; the numbers are hand arithmetic."""

from fractions import Fraction

import pytest

from domain.marking.schemes import (
    blind_guess,
    break_even,
    corrected_for_guessing,
    expected_marks,
    parse_scheme,
)


@pytest.mark.parametrize(
    ("right", "wrong", "options", "expected"),
    # Thurstone (1919) and Frary (1988): S = R − W/(k−1); the numbers are hand arithmetic.
    [(60, 20, 5, 55), (45, 15, 4, 40), (70, 30, 4, 60), (25, 75, 4, 0), (20, 80, 5, 0)],
)
def test_correction_for_guessing_follows_frary(right, wrong, options, expected):
    assert corrected_for_guessing(right, wrong, options) == expected


@pytest.mark.parametrize(
    ("scheme", "options", "value", "threshold"),
    [  # Arithmetic: E = a·p − b·(1−p) with p = 1/k; break-even b/(a+b).
        ("+4/−1", 4, "1/4", "1/5"),
        ("+4/−1", 5, "0", "1/5"),
        ("+3/−1", 4, "0", "1/4"),
        ("+1/−1/4", 5, "0", "1/5"),
        ("+1/−1/4", 4, "1/16", "1/5"),
        ("+1/−1/3", 4, "0", "1/4"),
        ("+1/0", 4, "1/4", "0"),
        ("+2/−0.66", 4, "1/200", "33/133"),
        ("+1/−1", 2, "0", "1/2"),
        ("+5/−1", 4, "1/2", "1/6"),
    ],
)
def test_blind_guesses_and_break_even_are_exact(scheme, options, value, threshold):
    read = parse_scheme(scheme)

    assert blind_guess(read, options) == Fraction(value)
    assert break_even(read) == Fraction(threshold)


def test_ruling_options_out_raises_the_worth_of_a_guess():
    scheme = parse_scheme("+4/−1")

    assert [blind_guess(scheme, left) for left in (4, 3, 2, 1)] == [
        Fraction(1, 4), Fraction(2, 3), Fraction(3, 2), 4,
    ]  # fmt: skip


def test_answering_pays_from_break_even_on():
    scheme = parse_scheme("+3/−1")

    assert expected_marks(scheme, 0.25) == scheme.blank
    assert expected_marks(scheme, 0.2499) < scheme.blank
