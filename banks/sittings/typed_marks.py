"""Marks as the `mark` command takes them, as responses: "3,7,12-15" and "bcadb"."""

from collections.abc import Collection, Mapping, Sequence

from msgspec.structs import replace

from banks.library import Given
from domain.errors import InputError
from domain.printed.entry import BLANKS, JUDGEMENTS, Judgement, chosen, numbers
from domain.questions import Question
from domain.verdicts import Confidence


def listed(questions: Mapping[int, Question], text: str, mark: str) -> list[int]:
    """The numbers listed under a mark. Raises InputError naming the mark."""
    try:
        return numbers(text, sorted(questions))
    except InputError as problem:
        raise InputError(f"--{mark}: {problem}; nothing was recorded") from problem


VERDICTS = ("wrong", "sure-wrong", "unsure", "blank", "right")
REASONS = ("mixed-up", "unknown")
"""What numbers can be listed under: a verdict, and a reason beside it or alone."""


def from_numbers(
    questions: Mapping[int, Question], marks: Mapping[str, str], rest: str | None = None
) -> list[Given]:
    """Responses from lists of numbers: `marks` maps names of `JUDGEMENTS` to such a list.

    `rest` "right" marks all other questions right. Raises InputError for a number given twice.
    """
    verdicts = _said(questions, marks, VERDICTS)
    reasons = _said(questions, marks, REASONS)
    if rest:
        for number in questions.keys() - reasons.keys():
            verdicts.setdefault(number, rest)
    return [
        given_of(questions[number], _judgement(number, verdicts.get(number), reasons.get(number)))
        for number in sorted(verdicts.keys() | reasons.keys())
    ]


def given_of(question: Question, judgement: Judgement) -> Given:
    """What the candidate says of a question, as a response to record."""
    return Given(
        question=question.id,
        verdict=judgement.verdict,
        confidence=judgement.confidence,
        reason=judgement.reason,
        was_sure=judgement.was_sure,
    )


def _said(
    questions: Mapping[int, Question], marks: Mapping[str, str], names: Sequence[str]
) -> dict[int, str]:
    """Under which of these names each number stands. Raises InputError where under two."""
    named_by: dict[int, str] = {}
    for name in names:
        for number in listed(questions, marks.get(name, ""), name):
            if named_by.setdefault(number, name) != name:
                raise InputError(
                    f"question {number} is in --{named_by[number]} and in --{name}; "
                    "nothing was recorded"
                )
    return named_by


def _judgement(number: int, verdict: str | None, reason: str | None) -> Judgement:
    """Both together. Raises InputError for a reason beside right."""
    if reason is None or verdict is None:
        return JUDGEMENTS[verdict or reason or "right"]
    if verdict == "right":
        raise InputError(f"question {number} is in --right and in --{reason}; nothing was recorded")
    return replace(JUDGEMENTS[verdict], reason=JUDGEMENTS[reason].reason)


def from_letters(
    questions: Mapping[int, Question],
    letters: str,
    option_count: int,
    *,
    first: int = 1,
    unsure: Collection[int] = (),
    needs_key: bool = True,
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
        try:
            option = chosen(question, letter, option_count, needs_key=needs_key)
        except InputError as problem:
            raise InputError(f"--responses: {problem}; nothing was recorded") from problem
        is_doubt = is_unsure and letter not in BLANKS
        confidence = Confidence.UNSURE if is_doubt else Confidence.SURE
        given.append(Given(question=question.id, chosen=option, confidence=confidence))
    return given
