"""Questions in book order and as named fields: what every exporter takes."""

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from msgspec import Struct

from banks.importers.cells import join_texts
from banks.importers.columns import FIELDS
from banks.store.files import replace_file
from banks.store.filesystem import System
from domain.errors import InputError
from domain.history import History
from domain.questions import LETTERS, Bank, Chapter, Form, Question, Subject
from domain.responses import Purpose, Reason, Response
from domain.text import safe_text
from domain.tiers import Standing, Tier, is_waiting
from domain.verdicts import Confidence, Verdict


class LocatedQuestion(Struct, frozen=True):
    """A question with the headings it stands under."""

    subject: Subject
    chapter: Chapter
    question: Question


class Marked(Struct, frozen=True, omit_defaults=True):
    """What one response came to: its study day, verdict, confidence; why it was given; the reason
    said of it, and its seconds (0: not measured).
    """

    day: date
    verdict: Verdict
    confidence: Confidence = Confidence.SURE
    purpose: Purpose = Purpose.REVISION
    reason: Reason | None = None
    seconds: float = 0.0


class MarkedHistory(Struct, frozen=True):
    """What was marked of one question, oldest first, and where that leaves it."""

    marks: tuple[Marked, ...] = ()
    standing: Standing = Standing()
    is_waiting: bool = False


Histories = Mapping[str, MarkedHistory]
"""By question id."""

_MARKDOWN = str.maketrans({sign: f"\\{sign}" for sign in "\\`*_{}[]<>#|~&"})
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def book_order(bank: Bank, subjects: Sequence[str] = ()) -> Iterator[LocatedQuestion]:
    """The active questions as the book has them; of these subjects (ids) only, if any are given."""
    for subject in bank.subjects:
        if not subjects or subject.id in subjects:
            for chapter in subject.chapters:
                for question in bank.in_chapter(chapter.id):
                    yield LocatedQuestion(subject, chapter, question)


def chosen(bank: Bank, subjects: Sequence[str] = ()) -> list[LocatedQuestion]:
    """What `book_order` gives. Raises InputError when that is nothing."""
    placed = list(book_order(bank, subjects))
    if not placed:
        raise InputError(f"There is nothing to export: no question in {bank.title} was asked for.")
    return placed


def marked(history: History, question_id: str, today: date) -> MarkedHistory:
    """What the responses that count for a question came to, and its standing on the day."""
    marks = tuple(
        Marked(
            day=history.day(response.at),
            verdict=history.verdict(response),
            confidence=response.confidence,
            purpose=response.purpose,
            reason=history.reason(response),
            seconds=response.seconds,
        )
        for response in history.effective_events(question_id)
        if isinstance(response, Response)
    )
    standing = history.standing(question_id)
    return MarkedHistory(marks, standing, is_waiting(standing, today, history.rules.waiting_days))


def printable(text: str) -> str:
    """The text, safe, with a stand-in for characters that XML 1.0 can't hold."""
    return _NO_XML.sub("\N{REPLACEMENT CHARACTER}", safe_text(text))


def encoded(document: str) -> bytes:
    """A document of text as the bytes of a file: whatever it is made of, it is safe."""
    return safe_text(document).encode()


def escaped(text: str) -> str:
    """The text as one line of Markdown in which no sign means anything but itself."""
    return " ".join(marked_up(text).split())


def marked_up(text: str) -> str:
    """The text with a backslash before every sign that Markdown reads as its own."""
    return safe_text(text).translate(_MARKDOWN)


STANDING_COLUMNS = ("tier", "signs", "settled", "waiting")
"""Where a tried question stands; written beside its history, never read back."""
COLUMNS = (*(name for name in FIELDS if name != "options"), "figures", *STANDING_COLUMNS, "history")
NOTHING_MARKED = MarkedHistory()
_ALWAYS = ("subject", "chapter", "number", "stem", "key")


def fields(placed: LocatedQuestion, histories: Histories) -> dict[str, str]:
    """What there is to say about a question, by field name; fields without a value are left out.

    Options are lettered by position. A history is `2027-01-04 wrong; 2027-01-11 right unsure`.
    """
    question = placed.question
    history = histories.get(question.id, NOTHING_MARKED)
    cells = {
        "subject": placed.subject.title,
        "chapter": placed.chapter.title,
        "number": str(question.number),
        "code": question.code,
        "to_check": question.to_check,
        "kind": "" if question.form is Form.BARE else str(question.kind),
        "stem": question.stem,
        "key": join_texts(key_letters(question)),
        "tolerance": plain_number(question.tolerance) if question.tolerance else "",
        "explanation": question.explanation,
        "reference": question.reference,
        "tags": ", ".join(question.tags),
        "shuffle": "" if question.shuffle else "no",
        "figures": ", ".join(figure.file for figure in question.figures),
        **_standing(history),
        "history": "; ".join(map(_mark, history.marks)),
    }
    return {name: text for name, text in (cells | _options(question)).items() if text}


def lettered(question: Question) -> dict[str, str]:
    """Option id → the letter of its position; the identity where the options are not given."""
    return {o.id: letter for letter, o in zip(LETTERS, question.options, strict=False)}


def key_letters(question: Question) -> list[str]:
    """The key as letters by position, or the accepted texts."""
    letters = lettered(question)
    return [letters.get(key, key) for key in question.answer_key]


def plain_number(value: float) -> str:
    """The shortest decimal that is the same number, never with an exponent."""
    return f"{Decimal(repr(value)).normalize():f}"


def table(
    questions: Sequence[LocatedQuestion], histories: Histories
) -> tuple[list[str], Iterator[list[str]]]:
    """Headers and rows; a column that would be empty all the way down is left out."""
    used = set(_ALWAYS)
    for placed in questions:
        used |= fields(placed, histories).keys()
    headers = [name for name in COLUMNS if name in used]
    rows = (
        [cells.get(name, "") for name in headers]
        for cells in (fields(placed, histories) for placed in questions)
    )
    return headers, rows


def _options(question: Question) -> dict[str, str]:
    letters = lettered(question)
    cells = {letters[option.id]: option.text for option in question.options}
    cells |= {f"note_{letters[option.id]}": option.explanation for option in question.options}
    cells["fixed"] = "".join(letters[option.id] for option in question.options if option.fixed)
    credit = question.credit.items()
    cells["credit"] = " ".join(f"{letters[key]}={plain_number(mark)}" for key, mark in credit)
    return cells


def _standing(history: MarkedHistory) -> dict[str, str]:
    standing = history.standing
    if standing.tier is Tier.UNTRIED:
        return {}
    words = (
        standing.tier.word,
        str(standing.signs),
        "yes" if standing.settled else "no",
        "yes" if history.is_waiting else "no",
    )
    return dict(zip(STANDING_COLUMNS, words, strict=True))


def _mark(mark: Marked) -> str:
    doubt = "" if mark.confidence is Confidence.SURE else f" {mark.confidence}"
    return f"{mark.day.isoformat()} {mark.verdict}{doubt}"


def write_file(path: Path, content: bytes) -> None:
    """Put `content` at `path`, in the place of what stood there.

    Raises InputError when there is no such folder, StoreError when it can't be saved.
    """
    if path.is_dir() or not path.absolute().parent.is_dir():
        wrong = "is a folder" if path.is_dir() else f"there is no folder {path.parent}"
        raise InputError(f"{path}: {wrong}; nothing was written.")
    replace_file(System(), path, content, keep_previous=False)
