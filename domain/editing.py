"""Changing a bank by hand: new questions, moves, numbers, tags, retiring, and a question's form.

A question keeps its id whatever is changed, and with it its history.
"""

import dataclasses
import re
from collections.abc import Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from domain.errors import InputError
from domain.grading import number
from domain.questions import (
    KEYED_LETTERS,
    LETTERS,
    Bank,
    Kind,
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
    return max(bank.index.numbers_in(chapter_id), default=0) + 1


def after(bank: Bank, question: Question) -> Question | None:
    """The next question of the chapter, by number."""
    later = (other for other in bank.in_chapter(question.chapter) if other.number > question.number)
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
    return _seated(bank, [replace(question, chapter=chapter_id) for question in questions])


def retired(questions: Iterable[Question]) -> list[Question]:
    """The questions taken out of use; their history stays."""
    return [replace(question, retired=True) for question in questions]


def taken_back(bank: Bank, questions: Iterable[Question]) -> list[Question]:
    """Retired questions in use again: with their own numbers where free, else the next ones.

    One that was retired as a duplicate of another stands for itself again.
    """
    return _seated(bank, [replace(question, retired=False, same_as="") for question in questions])


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
        same = (option for option in left.values() if normal_text(option.text) == normal_text(text))
        same_text = next(same, None)
        kept.append(left.pop(same_text.id) if same_text else None)
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
            {other.number for other in bank.in_chapter(question.chapter) if other.id not in ids},
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


_TOLERANCE = re.compile(r"\s*(?:±|\+/?-)\s*")
_TRUE_FALSE = ("true", "false")


class TypedQuestion(Struct, frozen=True, kw_only=True):
    """The fields of the form, plain text each.

    Options stand one per line; a line that begins with two spaces goes on with the option before.
    The key is letters ("b", "ac"), a number with its tolerance ("12 ± 0.5"), or texts ("Quebec |
    QC"). What kind of question it is follows from what was typed.
    """

    number: str = ""
    stem: str = ""
    options: str = ""
    key: str = ""
    explanation: str = ""
    reference: str = ""
    tags: str = ""


def typed(question: Question) -> TypedQuestion:
    """The question as the form shows it."""
    return TypedQuestion(
        number=str(question.number),
        stem=question.stem,
        options="\n".join(option.text.replace("\n", "\n  ") for option in question.options),
        key=_key_text(question),
        explanation=question.explanation,
        reference=question.reference,
        tags=", ".join(question.tags),
    )


def question_from(fields: TypedQuestion, old: Question) -> Question:
    """`old` with what was typed. Raises InputError that names the field."""
    texts = _option_texts(fields.options)
    if len(texts) == 1:
        raise InputError("options: there is one only; a question has none, or two and more")
    options = options_from(texts, old.options)
    stem = fields.stem.strip()
    kind, key, tolerance = _key(fields.key, stem, options, old)
    return replace(
        old,
        number=_number(fields.number),
        stem=stem,
        options=options,
        kind=kind,
        answer_key=key,
        tolerance=tolerance,
        explanation=fields.explanation.strip(),
        reference=fields.reference.strip(),
        tags=tuple(dict.fromkeys(tag for part in fields.tags.split(",") if (tag := part.strip()))),
    )


def _number(text: str) -> int:
    if not text.strip().isdecimal():
        raise InputError(f"number: {text.strip()!r} is not a whole number")
    return int(text)


def _option_texts(text: str) -> list[str]:
    texts: list[str] = []
    for line in text.split("\n"):
        if line.startswith("  ") and texts and line.strip():
            texts[-1] += "\n" + line.strip()
        elif line.strip():
            texts.append(line.strip())
    return texts


def _key_text(question: Question) -> str:
    if question.kind is Kind.NUMERIC:
        tolerance = f" ± {question.tolerance:g}" if question.tolerance else ""
        return " | ".join(question.answer_key) + tolerance
    if question.kind is Kind.TEXT:
        return " | ".join(question.answer_key)
    if not question.options:
        return "".join(question.answer_key)
    ids = [option.id for option in question.options]
    return "".join(LETTERS[ids.index(key)] for key in question.answer_key if key in ids)


def _key(
    text: str, stem: str, options: Sequence[Option], old: Question
) -> tuple[Kind, tuple[str, ...], float]:
    """Kind, key and tolerance."""
    typed = text.strip()
    if options or not stem:
        key = _letters(typed, options)
        return _choice_kind(key, options, old), key, 0.0
    if not typed:
        return (old.kind if old.kind in (Kind.TEXT, Kind.NUMERIC) else Kind.TEXT), (), 0.0
    figure, *rest = _TOLERANCE.split(typed)
    if number(figure) is not None and old.kind is not Kind.TEXT:
        return Kind.NUMERIC, (figure,), _tolerance(rest)
    return Kind.TEXT, tuple(part for text in typed.split("|") if (part := text.strip())), 0.0


def _letters(typed: str, options: Sequence[Option]) -> tuple[str, ...]:
    letters = list(dict.fromkeys(re.sub(r"[\s,;.()]", "", typed.lower())))
    known = LETTERS[: len(options)] if options else KEYED_LETTERS
    for letter in letters:
        if letter not in known:
            raise InputError(f"key: {letter!r} is not one of the letters {known[0]} to {known[-1]}")
    if not options:
        return tuple(letters)
    return tuple(options[LETTERS.index(letter)].id for letter in letters)


def _choice_kind(key: tuple[str, ...], options: Sequence[Option], old: Question) -> Kind:
    """Several letters make a multiple response, unless the bank accepts any one of them."""
    if tuple(option.text.casefold() for option in options) == _TRUE_FALSE:
        return Kind.TRUE_FALSE
    if len(key) > 1:
        any_of_them = old.kind is Kind.BEST and len(old.answer_key) > 1
        return Kind.BEST if any_of_them else Kind.MULTIPLE
    return Kind.MULTIPLE if old.kind is Kind.MULTIPLE else Kind.BEST


def _tolerance(rest: Sequence[str]) -> float:
    if not rest:
        return 0.0
    tolerance = number(rest[0])
    if tolerance is None or tolerance < 0:
        raise InputError(f"key: {rest[0]!r} is not a tolerance such as 0.5")
    return float(tolerance)
