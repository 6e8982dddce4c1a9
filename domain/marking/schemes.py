"""Marking schemes: what a right, a wrong and a blank response are worth, as exact fractions."""

import re
from collections.abc import Mapping
from fractions import Fraction

from msgspec import Struct

from domain.errors import InputError
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
