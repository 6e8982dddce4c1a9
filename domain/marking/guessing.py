"""What guessing is worth: correction for guessing, break-even, expected value of a response.

Correction for guessing S = R − W/(k−1): R. B. Frary, "Formula scoring of multiple-choice tests
(correction for guessing)", Educational Measurement: Issues and Practice 7 (1988), 33-38.
"""

from fractions import Fraction
from typing import TypeVar

from domain.marking.schemes import Scheme

Number = TypeVar("Number", float, Fraction)


def corrected_for_guessing(right: int, wrong: int, options: int) -> Fraction:
    """Right responses less those that blind guessing among `options` (≥ 2) would have brought."""
    return right - Fraction(wrong, options - 1)


def break_even(scheme: Scheme) -> Fraction:
    """The chance of being right from which on answering beats leaving the question blank."""
    return (scheme.blank - scheme.wrong) / (scheme.right - scheme.wrong)


def expected_marks(scheme: Scheme, chance: Number) -> Number:
    """Marks to expect from answering with this chance (0–1) of being right."""
    return chance * scheme.right + (1 - chance) * scheme.wrong


def blind_guess(scheme: Scheme, options_left: int) -> Fraction:
    """Marks to expect from a guess among the options that could not be ruled out."""
    return expected_marks(scheme, Fraction(1, options_left))
