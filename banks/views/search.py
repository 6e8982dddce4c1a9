"""Looking through all text of all questions while it is being typed."""

from collections.abc import Iterable, Sequence

from msgspec import Struct

from banks.library import Library
from banks.views.triage import Row
from domain.questions import Question


class _Read(Struct, frozen=True):
    """A question's text, and what it was read from."""

    question: Question
    note: str
    text: str


class Texts:
    """All text of the questions, case folded. Reading it afresh takes only what has changed."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._known: dict[str, _Read] = {}

    def of(self, rows: Iterable[Row]) -> list[str]:
        """The rows' texts, in their order."""
        return [self._text(row.question) for row in rows]

    def _text(self, question: Question) -> str:
        known = self._known.get(question.id)
        note = self._library.history.note(question.id)
        if known is None or known.question is not question or known.note != note:
            known = self._known[question.id] = _Read(question, note, _all_text(question, note))
        return known.text


class Search:
    """Rows and their texts. A longer text is looked for only where the shorter one was found."""

    def __init__(self, rows: Sequence[Row], texts: Sequence[str]) -> None:
        self._all = list(zip(rows, texts, strict=True))
        self._last = "", self._all

    def find(self, text: str) -> list[Row]:
        """The rows in whose questions every word of `text` occurs, in the same order."""
        wanted = text.casefold()
        before, found = self._last
        if not wanted.startswith(before):
            found = self._all
        for word in sorted(wanted.split(), key=len, reverse=True):
            found = [pair for pair in found if word in pair[1]]
        self._last = wanted, found
        return [row for row, _ in found]


def _all_text(question: Question, note: str) -> str:
    """Everything about a question that can be read, one part a line."""
    parts = (
        question.stem, *(option.text for option in question.options), question.explanation,
        question.reference, *question.tags, note,
    )  # fmt: skip
    return "\n".join(parts).casefold()
