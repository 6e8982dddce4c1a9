"""What an import would do to a bank: the bank after it, and the list of what became of what."""

from collections import Counter
from collections.abc import Iterable, Iterator
from enum import StrEnum

from msgspec import Struct

from banks.importers.common import Finding
from domain.questions import Bank, Question, speaks_of_figure


class ChangeKind(StrEnum):
    """What became of a question."""

    ADDED = "added"
    UPDATED = "updated"
    KEY_CHANGED = "key changed"
    MOVED = "moved"
    RETIRED = "retired"
    WITHDRAWN = "withdrawn"


class QuestionChange(Struct, frozen=True):
    """What became of one question. `line` 0: the file doesn't speak of it.

    `before` and `after` are the same question, except that for RETIRED `after` is the other
    question that takes its number, and for ADDED `before` is the one whose number it takes.
    """

    what: ChangeKind
    line: int
    before: Question | None = None
    after: Question | None = None


class ReplacedChapter(Struct, frozen=True):
    """A chapter in which most of the numbers that the file holds have another text in the bank: it
    is a new edition, or the file holds other questions. Whoever imports says which.
    """

    title: str
    replaced: int
    found_again: int


class ImportChanges(Struct, kw_only=True):
    """The bank as it would be, and how it comes about."""

    bank: Bank
    changes: list[QuestionChange]
    unchanged: int = 0
    skipped: list[Finding] = []
    warnings: list[Finding] = []
    figures: dict[str, bytes] = {}
    replaced: list[ReplacedChapter] = []

    def of(self, *what: ChangeKind) -> list[QuestionChange]:
        """The changes of these kinds, in the file's order."""
        return [change for change in self.changes if change.what in what]

    def counts(self) -> dict[str, int]:
        """How many questions were added, updated (moved ones too), left unchanged, retired."""
        numbers = Counter(change.what for change in self.changes)
        return {
            "added": numbers[ChangeKind.ADDED],
            "updated": numbers[ChangeKind.UPDATED]
            + numbers[ChangeKind.KEY_CHANGED]
            + numbers[ChangeKind.MOVED],
            "unchanged": self.unchanged,
            "retired": numbers[ChangeKind.RETIRED] + numbers[ChangeKind.WITHDRAWN],
        }

    def touched(self) -> list[str]:
        """The ids of the questions whose history must be read again."""
        return [
            question.id
            for change in self.changes
            for question in (change.before, change.after)
            if question is not None
        ]


def text_findings(changes: Iterable[QuestionChange]) -> Iterator[Finding]:
    """What to look at in the texts that come in: a figure that is spoken of and not there, a
    question that is there twice.
    """
    first: dict[tuple[str, ...], Question] = {}
    for change in changes:
        question = change.after
        if question is None or not question.stem or change.what is ChangeKind.RETIRED:
            continue
        if not question.figures and speaks_of_figure(question.stem):
            words = "speaks of a figure, which is not in the file"
            yield Finding(change.line, f"question {question.number}: {words}")
        text = (question.stem, *(option.text for option in question.options))
        earlier = first.setdefault(text, question)
        if earlier is not question:
            words = f"the same text and options as question {earlier.number}"
            yield Finding(change.line, f"question {question.number}: {words}")
