"""A number while it is typed: every digit is checked against the numbers there are."""

from collections.abc import Sequence

from domain.errors import InputError
from domain.printed.notation import span


class TypedNumber:
    """A number or a range, as far as it is typed; "" while there is none."""

    def __init__(self) -> None:
        self.text = ""

    def __bool__(self) -> bool:
        return bool(self.text)

    def digit(self, digit: str, numbers: Sequence[int]) -> None:
        """A digit more. Raises InputError when no number begins so.

        The digit stands all the same, until it is erased: without it, what ends the number would
        mark another question than the one that was meant.
        """
        self.text += digit
        start, dash, end = self.text.partition("-")
        begun, least = (end, int(start)) if dash else (start, 0)
        if not any(number >= least and str(number).startswith(begun) for number in numbers):
            there = f"{numbers[0]} to {numbers[-1]}"
            raise InputError(f"{self.text}: no such question here ({there}); nothing is marked")

    def dash(self, numbers: Sequence[int]) -> None:
        """The number typed begins a range. Raises InputError."""
        if not self.text or "-" in self.text:
            raise InputError("a range is two numbers, as in 12-15")
        span(self.text, numbers)
        self.text += "-"

    def erase(self) -> bool:
        """Take back the last character; False when there is none."""
        had, self.text = bool(self.text), self.text[:-1]
        return had

    def clear(self) -> bool:
        """Drop it; False when there was none."""
        had, self.text = bool(self.text), ""
        return had

    def named(self, numbers: Sequence[int]) -> list[int]:
        """The numbers it names. Raises InputError when it names none."""
        return span(self.text.removesuffix("-"), numbers)
