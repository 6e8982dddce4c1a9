"""Two states of one bank as one: order does not matter, and doing it twice changes nothing.

Every question that is in either is in the union. Where the two differ on a question, the one that
ranks higher is in force and the other is handed back, to be kept beside the bank.
"""

from collections.abc import Sequence
from typing import TypeVar

import msgspec
from msgspec.structs import replace

from domain.questions import Bank, Chapter, Question, Subject

T = TypeVar("T", Subject, Chapter)


def unite(one: Bank, other: Bank) -> tuple[Bank, list[Question]]:
    """The union, and the questions' versions that are not in force in it."""
    questions, beaten = dict(one.questions), []
    for name, question in other.questions.items():
        present = questions.setdefault(name, question)
        if present != question:
            lower, questions[name] = sorted((present, question), key=rank)
            if replace(lower, retired=True) != replace(questions[name], retired=True):
                beaten.append(lower)
    leading = max(one, other, key=_heading)
    united = Bank(
        id=one.id,
        title=leading.title,
        edition=leading.edition,
        option_count=leading.option_count,
        subjects=_subjects(one.subjects, other.subjects),
        questions=questions,
    )
    return united, beaten


def rank(question: Question) -> tuple[bool, bool, bool, int, int, bytes]:
    """What decides between two versions: a retirement counts, then the fuller text; no ties."""
    return (
        question.retired,
        bool(question.stem),
        bool(question.answer_key),
        len(question.options),
        len(question.explanation),
        msgspec.json.encode(question),
    )


def _heading(bank: Bank) -> tuple[str, str, int]:
    return bank.edition, bank.title, bank.option_count


def _subjects(one: Sequence[Subject], other: Sequence[Subject]) -> tuple[Subject, ...]:
    both = {subject.id: subject for subject in one}
    theirs = {subject.id: subject for subject in other}
    return tuple(
        _subject(both.get(each.id, each), theirs.get(each.id, each)) for each in _join(one, other)
    )


def _subject(one: Subject, other: Subject) -> Subject:
    leading = max(
        one, other, key=lambda subject: msgspec.json.encode(replace(subject, chapters=()))
    )
    return replace(leading, chapters=_join(one.chapters, other.chapters))


def _join(one: Sequence[T], other: Sequence[T]) -> tuple[T, ...]:
    """The members of both by id: the fuller sequence first, then what only the other has."""
    is_led = _fullness(other) > _fullness(one)
    leading, following = (other, one) if is_led else (one, other)
    present = {member.id for member in leading}
    return tuple(leading) + tuple(one for one in following if one.id not in present)


def _fullness(members: Sequence[Subject | Chapter]) -> tuple[int, bytes]:
    return len(members), msgspec.json.encode(members)
