"""Marking schemes: what right, wrong and blank are worth, several right options, and guessing."""

import re
from collections.abc import Collection, Mapping
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from msgspec import Struct

from domain.errors import InputError
from domain.questions import Bank
from domain.verdicts import Verdict

PRESETS = ("+4/−1", "+3/−1", "+2/−0.5", "+1/−1/4", "+1/−1/3", "+1/0")
"""Schemes in common use, named by nothing but their numbers."""

_NUMBER = r"\d+(?:\.\d+)?"
_TEXT = re.compile(
    rf"\+?(?P<right>{_NUMBER})/(?P<wrong>[+-]?{_NUMBER}(?:/{_NUMBER})?)"
    rf"(?:blank(?P<blank>[+-]?{_NUMBER}(?:/{_NUMBER})?))?"
)


class Scheme(Struct, frozen=True):
    """Marks for one question. `wrong` is what is added, so a penalty is negative."""

    right: Fraction
    wrong: Fraction
    blank: Fraction = Fraction(0)

    def marks(self, verdict: Verdict) -> Fraction:
        """What a response with this verdict is worth."""
        return {Verdict.RIGHT: self.right, Verdict.WRONG: self.wrong}.get(verdict, self.blank)

    def sum_of(self, right: int, wrong: int = 0, blank: int = 0) -> Fraction:
        """What so many responses are worth together."""
        return right * self.right + wrong * self.wrong + blank * self.blank

    @property
    def text(self) -> str:
        """The scheme as it is written, "+4/−1"; `parse_scheme` reads it back."""
        blank = f" blank {_signed(self.blank)}" if self.blank else ""
        return f"+{plain(self.right)}/{_signed(self.wrong)}{blank}"


class Marking(Struct, frozen=True):
    """A paper's scheme, with other schemes for some sections (by subject id)."""

    scheme: Scheme
    sections: Mapping[str, Scheme] = {}

    def of(self, subject: str) -> Scheme:
        """The scheme that holds in the section."""
        return self.sections.get(subject, self.scheme)


def parse_scheme(text: str) -> Scheme:
    """The scheme written as "+4/−1", "+1/-1/4", "+2/−0.5" or "+3/-1 blank 0.5".

    Raises InputError unless a right response is worth more than a blank and a blank at least as
    much as a wrong one.
    """
    match = _TEXT.fullmatch(text.replace("−", "-").replace(" ", ""))
    if match is None:
        raise InputError(f'a scheme reads like "+4/−1" or "+1/−1/4", not "{text}"')
    right, wrong, blank = (_value(match[name]) for name in ("right", "wrong", "blank"))
    if not wrong <= blank < right:
        raise InputError(f'in the scheme "{text}" right must be worth most and wrong least')
    return Scheme(right, wrong, blank)


def _value(text: str | None) -> Fraction:
    if text is None:
        return Fraction(0)
    above, _, below = text.partition("/")
    if below and not Fraction(below):
        raise InputError(f'"{text}" divides by nothing')
    return Fraction(above) / Fraction(below or 1)


def _signed(value: Fraction) -> str:
    if not value:
        return "0"
    sign, size = "+" if value > 0 else "−", abs(value)
    # A quarter of a mark is written as people say it: −1/4, not −0.25.
    return sign + (str(size) if size.numerator == 1 and size.denominator == 4 else plain(size))


def plain(value: Fraction) -> str:
    """The number as people write it: a decimal of at most two places, else a fraction."""
    if (value * 100).denominator != 1:
        return str(value)
    return f"{float(value):.2f}".rstrip("0").rstrip(".")


def exam_weights(bank: Bank) -> dict[str, float]:
    """The weight of each subject by its id: together, as many as the bank has questions.

    Weights that the bank gives may be in any unit, marks or per cent; what they say is how its
    subjects compare. A subject without one weighs, a question, as the others do on average.
    """
    sizes = {
        subject.id: sum(len(bank.index.rows_in(chapter.id)) for chapter in subject.chapters)
        for subject in bank.subjects
    }
    given = {subject.id: subject.weight for subject in bank.subjects if subject.weight is not None}
    weighed = sum(sizes[subject] for subject in given)
    each = sum(given.values()) / weighed if weighed else 1.0
    raw = {subject: given.get(subject, each * size) for subject, size in sizes.items()}
    whole = sum(raw.values())
    scale = sum(sizes.values()) / whole if whole else 0.0
    return {subject: weight * scale for subject, weight in raw.items()}


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


class MultipleRule(StrEnum):
    """How a question with several right options is marked."""

    ALL_OR_NOTHING = "all or nothing"
    PER_OPTION = "per option"


def share_right(
    rule: MultipleRule, options: Collection[str], key: Collection[str], chosen: Collection[str]
) -> Fraction:
    """How much of the question was right, 0 to 1.

    Per option, each option is a judgement of its own: chosen when in the key, left when not.
    """
    if rule is MultipleRule.ALL_OR_NOTHING:
        return Fraction(set(chosen) == set(key))
    judged_right = sum((option in chosen) == (option in key) for option in options)
    return Fraction(judged_right, len(options))


def multiple_marks(scheme: Scheme, share: Fraction, answered: bool = True) -> Fraction:
    """Marks when each option carries its equal part of the question's marks."""
    return share * scheme.right + (1 - share) * scheme.wrong if answered else scheme.blank
