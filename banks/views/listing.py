"""Every active question with where it stands, read once and filtered at every key."""

from collections.abc import Callable, Iterable, Sequence
from functools import cached_property

from msgspec import Struct

from banks.library import Library
from banks.views.triage import Filter, Row, SubjectCounts, counts, has_said, rows
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
        """The rows in whose questions every word of `text` occurs.

        Those whose stem holds all of it as one phrase stand first; else the order stays.
        """
        wanted = text.casefold()
        before, found = self._last
        if not wanted.startswith(before):
            found = self._all
        for word in sorted(wanted.split(), key=len, reverse=True):
            found = [pair for pair in found if word in pair[1]]
        self._last = wanted, found
        phrase = " ".join(wanted.split())
        if " " not in phrase:
            return [row for row, _ in found]
        return sorted(
            (row for row, _ in found),
            key=lambda row: phrase not in " ".join(row.question.stem.casefold().split()),
        )


def _all_text(question: Question, note: str) -> str:
    """Everything about a question that can be read, one part a line."""
    parts = (
        question.code, question.stem, *(option.text for option in question.options),
        question.explanation, question.reference, *question.tags, note,
    )  # fmt: skip
    return "\n".join(parts).casefold()


Order = Callable[[list[Row]], list[Row]]


class Listing:
    """The rows in some order, as they are now. It only reads, so it may be made in a thread.

    `texts` are those of the listing before: only what has changed is read again.
    """

    def __init__(self, library: Library, order: Order = list, texts: Texts | None = None) -> None:
        self._library = library
        self.texts = texts or Texts(library)
        self.rows = order(rows(library, Filter()))

    @cached_property
    def search(self) -> Search:
        """Ready to look for words; made when it is first needed."""
        return Search(self.rows, self.texts.of(self.rows))

    def find(self, wanted: Filter) -> list[Row]:
        """The rows that pass."""
        found = self.search.find(wanted.text) if wanted.text.strip() else list(self.rows)
        if wanted.bank:
            found = [row for row in found if row.location.bank.id == wanted.bank]
        if wanted.subject:
            found = [row for row in found if row.location.subject.id == wanted.subject]
        if wanted.chapter:
            found = [row for row in found if row.location.chapter.id == wanted.chapter]
        if wanted.tiers:
            found = [row for row in found if row.standing.tier in wanted.tiers]
        if wanted.waiting:
            found = [row for row in found if row.is_waiting]
        if wanted.missed:
            found = [row for row in found if row.standing.missed_days >= wanted.missed]
        if wanted.reason or wanted.sure_wrong:
            found = [row for row in found if has_said(self._library, row.question.id, wanted)]
        return found


def by_subject(found: Sequence[Row]) -> list[SubjectCounts]:
    """The counts of every subject among these rows, in the banks' order of subjects."""
    own: dict[tuple[str, str], list[Row]] = {}
    for row in found:
        own.setdefault((row.location.bank.id, row.location.subject.id), []).append(row)
    places = {key: rows_[0].location for key, rows_ in own.items()}
    order = {
        (place.bank.id, subject.id): at
        for place in places.values()
        for at, subject in enumerate(place.bank.subjects)
    }
    return [
        SubjectCounts(*key, places[key].subject.title, counts(own[key]))
        for key in sorted(own, key=lambda key: (key[0], order[key]))
    ]
