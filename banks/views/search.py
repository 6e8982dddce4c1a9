"""Looking through all text of all questions while it is being typed."""

from collections.abc import Iterable, Sequence

from banks.library import Library
from banks.views.triage import Row
from domain.questions import Question


class TextIndex:
    """All text of the questions, case folded; `add` takes in new and edited ones.

    Reading 110,000 questions takes a quarter of a second, so it is done in a thread; looking
    through them takes a few hundredths.
    """

    def __init__(self, library: Library, questions: Iterable[Question]) -> None:
        self._library = library
        self._texts: dict[str, str] = {}
        self.add(questions)

    def add(self, questions: Iterable[Question]) -> None:
        """Read these questions (afresh)."""
        for question in questions:
            self._texts[question.id] = self._text(question)

    def find(self, rows: Sequence[Row], text: str) -> list[Row]:
        """The rows in whose questions every word of `text` occurs, in the same order."""
        found, texts = list(rows), self._texts
        for word in sorted(text.casefold().split(), key=len, reverse=True):
            found = [row for row in found if word in texts[row.question.id]]
        return found

    def _text(self, question: Question) -> str:
        """Everything about a question that can be read, one part a line."""
        parts = (
            question.stem, *(option.text for option in question.options), question.explanation,
            question.reference, *question.tags, self._library.history.note(question.id),
        )  # fmt: skip
        return "\n".join(parts).casefold()
