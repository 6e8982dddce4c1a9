"""Marks as the `mark` command takes them, as responses: "3,7,12-15" and "bcadb"."""

from collections.abc import Collection, Mapping

from banks.library import Given
from domain.errors import InputError
from domain.printed.entry import BLANKS, chosen, numbers
from domain.questions import Question
from domain.verdicts import Confidence, Verdict


def listed(questions: Mapping[int, Question], text: str, mark: str) -> list[int]:
    """The numbers listed under a mark. Raises InputError naming the mark."""
    try:
        return numbers(text, sorted(questions))
    except InputError as problem:
        raise InputError(f"--{mark}: {problem}; nothing was recorded") from problem


def from_numbers(
    questions: Mapping[int, Question], marks: Mapping[str, str], rest: str | None = None
) -> list[Given]:
    """Responses from lists of numbers. `marks` maps wrong, unsure, blank, right to such a list.

    "unsure" is right but not sure. `rest` "right" marks all other questions right. Raises
    InputError for a number given twice.
    """
    said: dict[int, str] = {}
    for mark, text in marks.items():
        for number in listed(questions, text, mark):
            if said.setdefault(number, mark) != mark:
                raise InputError(
                    f"question {number} is in --{said[number]} and in --{mark}; "
                    "nothing was recorded"
                )
    if rest:
        for number in questions:
            said.setdefault(number, rest)
    return [_marked(questions[number], said[number]) for number in sorted(said)]


def _marked(question: Question, mark: str) -> Given:
    if mark == "unsure":
        return Given(question=question.id, verdict=Verdict.RIGHT, confidence=Confidence.UNSURE)
    return Given(question=question.id, verdict=Verdict(mark))


def from_letters(
    questions: Mapping[int, Question],
    letters: str,
    option_count: int,
    *,
    first: int = 1,
    unsure: Collection[int] = (),
) -> list[Given]:
    """Responses from "bcadb…", from number `first` on; a space, dot or hyphen is a blank.

    A capital among small letters is unsure, as are the numbers in `unsure`; a text all in
    capitals is just printed that way. Raises InputError for a letter out of range or one too many.
    """
    numbered = [questions[number] for number in sorted(questions) if number >= first]
    if len(letters) > len(numbered):
        raise InputError(
            f"--responses: {len(letters)} letters for {len(numbered)} questions from {first} on; "
            "nothing was recorded"
        )
    is_mixed = letters != letters.upper()
    given = []
    for question, letter in zip(numbered, letters, strict=False):
        is_unsure = (is_mixed and letter.isupper()) or question.number in unsure
        given.append(_chosen(question, letter, option_count, is_unsure=is_unsure))
    return given


def _chosen(question: Question, letter: str, option_count: int, *, is_unsure: bool) -> Given:
    try:
        option = chosen(question, letter, option_count)
    except InputError as problem:
        raise InputError(f"--responses: {problem}; nothing was recorded") from problem
    is_doubt = is_unsure and letter not in BLANKS
    confidence = Confidence.UNSURE if is_doubt else Confidence.SURE
    return Given(question=question.id, chosen=option, confidence=confidence)
