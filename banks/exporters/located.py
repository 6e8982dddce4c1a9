"""What exporters take: a bank, in the order of the book, and a history as plain values."""

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct, field

from domain.errors import InputError
from domain.history import History
from domain.questions import Bank, Chapter, Question, Subject
from domain.responses import Response
from domain.text import safe_text
from domain.verdicts import Confidence, Verdict


class LocatedQuestion(Struct, frozen=True):
    """A question with the headings it stands under."""

    subject: Subject
    chapter: Chapter
    question: Question


class Marked(Struct, frozen=True):
    """What one response came to: its study day, verdict and confidence."""

    day: date
    verdict: Verdict
    confidence: Confidence = field(default=Confidence.SURE, name="sureness")


Histories = Mapping[str, Sequence[Marked]]
"""Question id → what was marked, oldest first."""

_MARKDOWN = str.maketrans({sign: f"\\{sign}" for sign in "\\`*_{}[]<>#|~&"})
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def book_order(bank: Bank, subjects: Sequence[str] = ()) -> Iterator[LocatedQuestion]:
    """The living questions as the book has them; of these subjects (ids) only, if any are given."""
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


def marked(history: History, question_id: str) -> list[Marked]:
    """What the responses that count for a question came to, oldest first."""
    return [
        Marked(history.day(response.at), history.verdict(response), response.confidence)
        for response in history.effective_events(question_id)
        if isinstance(response, Response)
    ]


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
