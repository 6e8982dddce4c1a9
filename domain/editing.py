"""Changing a bank by hand: new questions, moves, numbers, tags, retiring. A value in, a value out.

A question keeps its id whatever is changed, and with it its history.
"""

import dataclasses
from collections.abc import Iterable, Sequence

from msgspec.structs import replace

from domain.errors import InputError
from domain.questions import (
    LETTERS,
    Bank,
    Option,
    Question,
    Subject,
    fingerprint,
    free_name,
    normal_text,
    question_id,
)


def next_number(bank: Bank, chapter_id: str) -> int:
    """The number after the chapter's last."""
    return max((question.number for question in bank.in_chapter(chapter_id)), default=0) + 1


def after(bank: Bank, question: Question) -> Question | None:
    """The next question of the chapter, by number."""
    later = (one for one in bank.in_chapter(question.chapter) if one.number > question.number)
    return next(later, None)


def blank_question(bank: Bank, chapter_id: str, number: int) -> Question:
    """A question with nothing but its place. Its id is given when it is put in."""
    return Question(id="", chapter=chapter_id, number=number)


def put_in(bank: Bank, question: Question) -> tuple[Bank, Question]:
    """The bank with a new or changed question, and the question as it is in it.

    Raises InputError where another question has its number.
    """
    if question.number < 1:
        raise InputError("the number must be 1 or more; nothing was changed")
    holder = _holders(bank, question.chapter).get(question.number)
    if holder is not None and holder.id != question.id:
        title = bank.chapter(question.chapter).title
        raise InputError(
            f"number {question.number} is taken in {title}; the next free one is "
            f"{next_number(bank, question.chapter)}"
        )
    if not question.id:
        question = replace(question, id=_free_id(bank, question))
    return bank.with_questions([question]), question


def moved(bank: Bank, questions: Iterable[Question], chapter_id: str) -> list[Question]:
    """The questions in another chapter: with their own numbers where free, else the next ones."""
    return _seated(bank, [replace(one, chapter=chapter_id) for one in questions])


def retired(questions: Iterable[Question]) -> list[Question]:
    """The questions taken out of use; their history stays."""
    return [replace(question, retired=True) for question in questions]


def taken_back(bank: Bank, questions: Iterable[Question]) -> list[Question]:
    """Retired questions in use again: with their own numbers where free, else the next ones.

    One that was retired as the twin of another stands for itself again.
    """
    return _seated(bank, [replace(one, retired=False, same_as="") for one in questions])


def checked(questions: Iterable[Question]) -> list[Question]:
    """The questions as compared with the print: nothing in them is doubtful any more."""
    return [replace(question, to_check="") for question in questions if question.to_check]


def tagged(
    questions: Iterable[Question], add: Sequence[str], drop: Sequence[str]
) -> list[Question]:
    """The questions with these tags added and those taken off."""
    return [
        replace(
            question,
            tags=tuple(dict.fromkeys(tag for tag in (*question.tags, *add) if tag not in drop)),
        )
        for question in questions
    ]


def renamed(bank: Bank, title: str, subject_id: str = "", chapter_id: str = "") -> Bank:
    """The bank with another title for itself, a subject, or a chapter; ids stay.

    Raises InputError for an empty title.
    """
    title = normal_text(title)
    if not title:
        raise InputError("a title can't be empty; nothing was changed")
    if not subject_id:
        return dataclasses.replace(bank, title=title)
    return bank.with_subjects(
        _renamed(subject, title, chapter_id) if subject.id == subject_id else subject
        for subject in bank.subjects
    )


def _renamed(subject: Subject, title: str, chapter_id: str) -> Subject:
    if not chapter_id:
        return replace(subject, title=title)
    chapters = tuple(
        replace(chapter, title=title) if chapter.id == chapter_id else chapter
        for chapter in subject.chapters
    )
    return replace(subject, chapters=chapters)


def options_from(texts: Sequence[str], old: Sequence[Option]) -> tuple[Option, ...]:
    """Options with these texts, in this order.

    An option whose text is still there keeps its id; a text that is new takes the id of the one
    that stood in its place, if that is gone, else a fresh letter. Raises InputError for more
    than there are letters.
    """
    if len(texts) > len(LETTERS):
        raise InputError(f"a question has at most {len(LETTERS)} options, not {len(texts)}")
    left = {option.id: option for option in old}
    kept: list[Option | None] = []
    for text in texts:
        same = (one for one in left.values() if normal_text(one.text) == normal_text(text))
        found = next(same, None)
        kept.append(left.pop(found.id) if found else None)
    for place, option in enumerate(old[: len(texts)]):
        if kept[place] is None and option.id in left:
            kept[place] = left.pop(option.id)
    used = {option.id for option in old}
    fresh = iter([letter for letter in LETTERS if letter not in used] + list(left))
    return tuple(
        replace(option, text=text) if option else Option(id=next(fresh), text=text)
        for option, text in zip(kept, texts, strict=True)
    )


def _holders(bank: Bank, chapter_id: str) -> dict[int, Question]:
    return {question.number: question for question in bank.in_chapter(chapter_id)}


def _seated(bank: Bank, questions: list[Question]) -> list[Question]:
    """Numbers for questions that come into chapters, none given twice."""
    ids = {question.id for question in questions}
    taken: dict[str, set[int]] = {}
    seated = []
    for question in questions:
        numbers = taken.setdefault(
            question.chapter,
            {one.number for one in bank.in_chapter(question.chapter) if one.id not in ids},
        )
        number = question.number
        if number in numbers:
            number = max(numbers) + 1
        numbers.add(number)
        seated.append(replace(question, number=number))
    return seated


def _free_id(bank: Bank, question: Question) -> str:
    """The id of the place, or one told apart by the text where another question has had it."""
    plain = question_id(bank.id, question.chapter, question.number)
    if plain not in bank.questions:
        return plain
    marked = question_id(bank.id, question.chapter, question.number, fingerprint(question))
    return free_name(marked, bank.questions)
