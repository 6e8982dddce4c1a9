"""Typing a chapter's answer key letter by letter, with a running number."""

from collections.abc import Mapping, Sequence

from domain.errors import InputError
from domain.printed.typed import TypedNumber
from domain.questions import LETTERS

Letters = tuple[str, ...]


class AnswerKeyGrid:
    """Numbers (slots 0, 1, 2 …), the letters that are their key, and a cursor.

    `option_counts` holds how many options each question has. `keys` are drafts over `before`, the
    key as the bank has it, both by number; nothing is saved here.
    """

    def __init__(
        self, numbers: Sequence[int], option_counts: Sequence[int], before: Mapping[int, Letters]
    ) -> None:
        self.numbers, self._option_counts = numbers, option_counts
        self.before = dict(before)
        self.keys = dict(before)
        self.typed = TypedNumber()
        self.cursor = 0
        self.is_adding = False
        self._undo: list[tuple[int, int, Letters]] = []

    @property
    def changed(self) -> dict[int, Letters]:
        """The letters that are other ones than the bank has, by number."""
        return {n: key for n, key in self.keys.items() if self.before.get(n) != key}

    @property
    def gaps(self) -> list[int]:
        """The numbers without a letter."""
        return [number for number in self.numbers if number not in self.keys]

    def digit(self, digit: str) -> None:
        """A digit of the number to go on from. Raises InputError when there is no such number."""
        self.typed.digit(digit, self.numbers)

    def add(self) -> None:
        """The next letter counts too, beside the one before."""
        self.is_adding = self.cursor > 0

    def letter(self, letter: str) -> None:
        """The key of the number typed, or under the cursor. Raises InputError."""
        slot = self._slot()
        number = self.numbers[slot]
        if LETTERS.index(letter.lower()) >= self._option_counts[slot]:
            last = LETTERS[self._option_counts[slot] - 1]
            raise InputError(f"{number}: {letter!r} is not one of its options (a to {last})")
        old = self.keys.get(number, ())
        self._undo.append((self.cursor, number, old))
        kept = old if self.is_adding else ()
        self.keys[number] = tuple(sorted({*kept, letter.lower()}))
        self._on(slot + 1)

    def skip(self) -> None:
        """Leave this number as it is, and on to the next."""
        self._on(min(self._slot() + 1, len(self.numbers)))

    def move(self, step: int) -> None:
        """The cursor so many numbers on; a number typed so far is where it goes instead."""
        there = self._slot() if self.typed else self.cursor + step
        self._on(max(0, min(there, len(self.numbers) - 1)))

    def go_gap(self) -> None:
        """To the first number without a letter."""
        if self.gaps:
            self._on(self.numbers.index(self.gaps[0]))

    def undo(self) -> bool:
        """Take back the last letter; False when there is none."""
        if not self._undo:
            return False
        self.cursor, number, old = self._undo.pop()
        self._put(number, old)
        self.typed.clear()
        return True

    def take(self, keys: Mapping[int, Letters]) -> None:
        """Many at once, as from a printed key."""
        for number, letters in keys.items():
            self._undo.append((self.cursor, number, self.keys.get(number, ())))
            self.keys[number] = letters
        self.go_gap()

    def _put(self, number: int, letters: Letters) -> None:
        if letters:
            self.keys[number] = letters
        else:
            self.keys.pop(number, None)

    def _slot(self) -> int:
        if self.typed:
            return self.numbers.index(self.typed.named(self.numbers)[0])
        if self.is_adding:
            return self.cursor - 1
        if self.cursor >= len(self.numbers):
            last = self.numbers[-1]
            raise InputError(f"one too many: {last} is the last number; the letter was not taken")
        return self.cursor

    def _on(self, slot: int) -> None:
        self.cursor = slot
        self.typed.clear()
        self.is_adding = False
