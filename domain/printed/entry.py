"""What is typed for questions of the book: numbers, ranges, letters, and answer keys."""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence

from msgspec import Struct

from domain.errors import InputError
from domain.questions import LETTERS, Kind, Question
from domain.responses import Reason
from domain.verdicts import Confidence, Verdict

BLANKS = " .-_"
"""What stands for a question left blank in a row of letters."""

_RANGE = re.compile(r"(\d+)(?:[-–](\d+))?")
_BEGUN = re.compile(r"(\d+)(?:(-)(\d*))?")


class Judgement(Struct, frozen=True):
    """The candidate's own verdict on a question, and what they say about it."""

    verdict: Verdict
    confidence: Confidence = Confidence.SURE
    reason: Reason | None = None
    was_sure: bool = False


JUDGEMENTS = {
    "right": Judgement(Verdict.RIGHT),
    "unsure": Judgement(Verdict.RIGHT, Confidence.UNSURE),
    "mixed-up": Judgement(Verdict.RIGHT, Confidence.UNSURE, Reason.MIXED_UP),
    "wrong": Judgement(Verdict.WRONG),
    "sure-wrong": Judgement(Verdict.WRONG, was_sure=True),
    "mixed-up-wrong": Judgement(Verdict.WRONG, reason=Reason.MIXED_UP),
    "misread": Judgement(Verdict.WRONG, reason=Reason.MISREAD),
    "slip": Judgement(Verdict.WRONG, reason=Reason.SLIP),
    "unknown": Judgement(Verdict.BLANK, reason=Reason.UNKNOWN),
    "unknown-wrong": Judgement(Verdict.WRONG, reason=Reason.UNKNOWN),
    "blank": Judgement(Verdict.BLANK),
}
"""What can be said of a question in one word. A reason alone leaves it right but unsure for mixed
up, blank for didn't know.
"""


def span(text: str, known: Sequence[int]) -> list[int]:
    """The numbers that "7" or "12-15" names, of the `known` ones (in ascending order).

    Both ends of a range must be known; of what lies between, those that are. Raises InputError.
    """
    match = _RANGE.fullmatch(text)
    if not match:
        raise InputError(f"{text!r} is not a number or a range like 12-15")
    first, last = int(match[1]), int(match[2] or match[1])
    if last < first:
        raise InputError(f"{text} runs backwards")
    start, end = bisect_left(known, first), bisect_right(known, last)
    numbers = list(known[start:end])
    for number in (first, last):
        if number not in (numbers[:1] + numbers[-1:]):
            raise InputError(f"there is no question {number}")
    return numbers


def numbers(text: str, known: Sequence[int]) -> list[int]:
    """The numbers in "3,7,12-15 40", each once, in the order typed. Raises InputError.

    `known` holds the chapter's numbers in ascending order.
    """
    parts = re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", text.strip()))
    listed = [number for part in parts if part for number in span(part, known)]
    return list(dict.fromkeys(listed))


def choices(question: Question, option_count: int) -> tuple[str, ...]:
    """The option ids behind the letters a, b, c …: in the order in which they are printed.

    `option_count` holds where the options are only in the printed bank.
    """
    return tuple(option.id for option in question.options) or tuple(LETTERS[:option_count])


def chosen(
    question: Question, letter: str, option_count: int, *, needs_key: bool = True
) -> tuple[str, ...]:
    """The response that one letter gives; a blank is (). Raises InputError when it gives none.

    In a paper it needs no answer key: that is typed afterwards.
    """
    if letter in BLANKS:
        return ()
    options = choices(question, option_count)
    place = LETTERS.find(letter.lower())
    if not 0 <= place < len(options):
        last = LETTERS[len(options) - 1]
        raise InputError(f"{question.number}: {letter!r} is not one of its options (a to {last})")
    if question.kind not in (Kind.BEST, Kind.TRUE_FALSE):
        raise InputError(
            f"{question.number}: is more than one letter can answer; judge it yourself"
        )
    if needs_key and not question.answer_key:
        raise InputError(f"{question.number}: has no key yet, so a letter can't be graded")
    return (options[place],)


def confidence(letter: str) -> Confidence:
    """A capital is unsure."""
    return Confidence.UNSURE if letter.isupper() else Confidence.SURE


class TypedNumber:
    """A number or a range, as far as it is typed; "" while there is none.

    One that names no question here is closed by the key that ends it: it marks nothing and is
    dropped. `refused` holds it then, until another number is begun or it is forgiven: letters
    that were meant to go on from it have no place to go to.
    """

    def __init__(self) -> None:
        self.text = ""
        self.refused = ""

    def __bool__(self) -> bool:
        return bool(self.text)

    @property
    def is_half_range(self) -> bool:
        """Whether the end of a range is still to come."""
        return self.text.endswith("-")

    def digit(self, digit: str, numbers: Sequence[int]) -> None:
        """A digit more. Raises InputError when no number begins so.

        The digit stands all the same, until it is erased or the number is ended: without it, what
        ends the number would mark another question than the one that was meant.
        """
        self.text += digit
        self.refused = ""
        match = _BEGUN.fullmatch(self.text)
        begun, least = "", 0
        if match:
            begun, least = (match[3], int(match[1])) if match[2] else (match[1], 0)
        if not any(number >= least and str(number).startswith(begun) for number in numbers):
            match = None
        if match is None:
            raise InputError(_not_here(self.text, numbers))

    def dash(self, numbers: Sequence[int]) -> None:
        """The number typed begins a range. Raises InputError; the dash stands all the same."""
        start, self.text = self.text, self.text + "-"
        if not start.isdecimal():
            raise InputError("a range is two numbers, as in 12-15")
        if int(start) not in numbers:
            raise InputError(_not_here(start, numbers))

    def erase(self) -> bool:
        """Undo the last character, or the number left out; False when there is none."""
        had = bool(self.text or self.refused)
        self.text, self.refused = self.text[:-1], ""
        return had

    def clear(self) -> bool:
        """Drop it; False when there was none."""
        had, self.text, self.refused = bool(self.text or self.refused), "", ""
        return had

    def refuse(self) -> None:
        """Close it: it marks nothing."""
        self.refused, self.text = self.text, ""

    def named(self, numbers: Sequence[int]) -> list[int]:
        """The numbers it names. One that names none is refused: raises InputError."""
        try:
            return self.peek(numbers)
        except InputError as problem:
            self.refuse()
            raise InputError(f"{problem}; {self.refused} marks nothing") from problem

    def peek(self, numbers: Sequence[int]) -> list[int]:
        """The numbers it names. Raises InputError when it names none; it stays as it is."""
        return span(self.text, numbers)

    def go_on(self) -> None:
        """To be asked before a letter without a number. Raises InputError after a refused one."""
        if self.refused:
            raise InputError(
                f"{self.refused} was left out, so this letter was too; type the number to go on at"
            )


def _not_here(text: str, numbers: Sequence[int]) -> str:
    return f"{text}: no such question here ({numbers[0]} to {numbers[-1]}); it will mark nothing"


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
        if not self.typed:
            self.typed.go_on()
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
        """Undo the last letter; False when there is none."""
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
