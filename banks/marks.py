"""Marks as a candidate types them after paper work: "3,7,12-15" and "BCADB"."""

import re
from collections.abc import Collection, Mapping

from banks.library import Given
from domain.errors import InputError
from domain.questions import LETTERS, Question
from domain.verdicts import Sureness, Verdict

_RANGE = re.compile(r"(\d+)(?:\s*[-–]\s*(\d+))?")


def numbers(text: str, known: Collection[int], field: str) -> list[int]:
    """The numbers in "3,7,12-15", each once, in order. Raises InputError for one that is none."""
    found: list[int] = []
    for part in re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", text.strip())):
        if not part:
            continue
        match = _RANGE.fullmatch(part)
        if not match:
            raise InputError(f"{field} {part!r}: not a number or a range like 12-15")
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise InputError(f"{field} {part!r}: runs backwards")
        missing = (
            [n for n in range(first, last + 1) if n not in known] if last - first < 5000 else [last]
        )
        if missing:
            raise InputError(f"{field} {part!r}: the chapter has no question {missing[0]}")
        found += range(first, last + 1)
    return list(dict.fromkeys(found))


def from_numbers(
    questions: Mapping[int, Question], marks: Mapping[str, str], rest: str | None
) -> list[Given]:
    """Responses from lists of numbers. `marks` maps wrong, unsure, blank, right to such a list.

    "unsure" is right but not sure. `rest` "right" marks all other questions right. Raises
    InputError for a number given twice.
    """
    said: dict[int, str] = {}
    for mark, text in marks.items():
        for number in numbers(text, questions, f"--{mark}"):
            if said.setdefault(number, mark) != mark:
                raise InputError(f"question {number} is in --{said[number]} and in --{mark}")
    if rest:
        for number in questions:
            said.setdefault(number, rest)
    return [_marked(questions[number], said[number]) for number in sorted(said)]


def _marked(question: Question, mark: str) -> Given:
    if mark == "unsure":
        return Given(question=question.id, verdict=Verdict.RIGHT, sureness=Sureness.UNSURE)
    return Given(question=question.id, verdict=Verdict(mark))


def from_letters(
    questions: Mapping[int, Question],
    letters: str,
    first: int,
    option_count: int,
    unsure: Collection[int] = (),
) -> list[Given]:
    """Responses from "bcadb…", from number `first` on; a space, dot or hyphen is a blank.

    A capital among small letters is unsure, as are the numbers in `unsure`; a text all in
    capitals is just printed that way. Raises InputError for a letter out of range or one too many.
    """
    numbered = [questions[number] for number in sorted(questions) if number >= first]
    if len(letters) > len(numbered):
        raise InputError(
            f"--responses: {len(letters)} letters for {len(numbered)} questions from {first} on"
        )
    mixed = not letters.isupper()
    return [
        _chosen(
            question,
            letter,
            option_count,
            is_unsure=(mixed and letter.isupper()) or question.number in unsure,
        )
        for question, letter in zip(numbered, letters, strict=False)
    ]


def _chosen(question: Question, letter: str, option_count: int, *, is_unsure: bool) -> Given:
    if letter in " .-_":
        return Given(question=question.id, chosen=())
    options = [option.id for option in question.options] or list(LETTERS[:option_count])
    if letter.lower() not in options:
        raise InputError(
            f"question {question.number}: {letter!r} is not one of its options "
            f"({options[0]} to {options[-1]})"
        )
    if not question.key:
        raise InputError(f"question {question.number}: has no key yet, so a letter can't be graded")
    sureness = Sureness.UNSURE if is_unsure else Sureness.SURE
    return Given(question=question.id, chosen=(letter.lower(),), sureness=sureness)
