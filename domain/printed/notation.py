"""Numbers and letters as a candidate types them after paper work: "3,7,12-15" and "bcadb"."""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from domain.errors import InputError
from domain.questions import LETTERS, Kind, Question
from domain.verdicts import Confidence

BLANKS = " .-_"
"""What stands for a question left blank in a row of letters."""

_RANGE = re.compile(r"(\d+)(?:[-–](\d+))?")


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
    found = list(known[start:end])
    for number in (first, last):
        if number not in (found[:1] + found[-1:]):
            raise InputError(f"there is no question {number}")
    return found


def numbers(text: str, known: Sequence[int]) -> list[int]:
    """The numbers in "3,7,12-15 40", each once, in the order typed. Raises InputError.

    `known` holds the chapter's numbers in ascending order.
    """
    parts = re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", text.strip()))
    found = [number for part in parts if part for number in span(part, known)]
    return list(dict.fromkeys(found))


def choices(question: Question, option_count: int) -> tuple[str, ...]:
    """The option ids behind the letters a, b, c …: in the order in which they are printed.

    `option_count` holds where the options are only in the printed bank.
    """
    return tuple(option.id for option in question.options) or tuple(LETTERS[:option_count])


def chosen(question: Question, letter: str, option_count: int) -> tuple[str, ...]:
    """The response that one letter gives; a blank is (). Raises InputError when it gives none."""
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
    if not question.answer_key:
        raise InputError(f"{question.number}: has no key yet, so a letter can't be graded")
    return (options[place],)


def confidence(letter: str) -> Confidence:
    """A capital is unsure."""
    return Confidence.UNSURE if letter.isupper() else Confidence.SURE
