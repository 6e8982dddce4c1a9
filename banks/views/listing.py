"""Every active question with where it stands, read once and filtered at every key."""

import re
from collections.abc import Callable, Iterator, Sequence
from functools import cached_property

from msgspec import Struct

from banks.library import Library
from banks.views.triage import Filter, Row, counts, has_said, rows
from domain.questions import LETTERS, Question
from domain.tiers import SubjectCounts


class Search:
    """Rows and their texts. A longer text is looked for only where the shorter one was found."""

    def __init__(self, rows: Sequence[Row], texts: Sequence[str]) -> None:
        self._all = list(zip(rows, texts, strict=True))
        self._last = "", self._all

    def find(self, text: str) -> list[Row]:
        """The rows in whose questions every word of `text` occurs.

        Those whose stem holds all of it as one phrase stand first; else the order stays.
        """
        folded = text.casefold()
        before, pairs = self._last
        if not folded.startswith(before):
            pairs = self._all
        for word in sorted(folded.split(), key=len, reverse=True):
            pairs = [pair for pair in pairs if word in pair[1]]
        self._last = folded, pairs
        phrase = " ".join(folded.split())
        if len(phrase) < _RANKED:
            return [row for row, _ in pairs]
        first = [pair for pair in pairs if pair[1].find(phrase, 0, pair[1].index("\n")) >= 0]
        names = {row.id for row, _ in first}
        rest = [pair for pair in pairs if pair[0].id not in names]
        return [row for row, _ in (*first, *rest)]


_RANKED = 3
"""Letters from which on what is looked for can be a word of a stem."""


class Match(Struct, frozen=True):
    """Where the words looked for occur: in the stem (`part` is ""), else in another part that is
    named. `spans` are the places in `text`, each from its first character to behind its last.
    """

    part: str
    text: str
    spans: tuple[tuple[int, int], ...]


def match(question: Question, note: str, sought: str) -> Match:
    """The part that best shows why a question was found by the words of `sought`: the one with the
    whole phrase, else with most of the words; of equals the one read first.
    """
    words = sought.casefold().split()
    matches = [
        _match_in(part, " ".join(text.split()), words)
        for part, text in _parts(question, note)
        if text
    ]
    best = max(matches, key=lambda each: each[0], default=(0, Match("", question.stem, ())))
    return best[1]


def _match_in(part: str, text: str, words: Sequence[str]) -> tuple[int, Match]:
    """How many of the words occur in the text, one more as a phrase; and where."""
    phrase = _spans(text, " ".join(words))
    if phrase:
        return len(words) + 1, Match(part, text, tuple(phrase))
    spans = [_spans(text, word) for word in words]
    return sum(map(bool, spans)), Match(
        part, text, tuple(sorted(span for s in spans for span in s))
    )


def _spans(text: str, sought: str) -> list[tuple[int, int]]:
    """Where it occurs when case doesn't matter; a letter may fold into several ("ß" is "ss")."""
    folded = [letter.casefold() for letter in text]
    origin = [place for place, letters in enumerate(folded) for _ in letters]
    whole = "".join(folded)
    return [
        (origin[match.start()], origin[match.end() - 1] + 1)
        for match in re.finditer(re.escape(sought), whole)
    ]


def _parts(question: Question, note: str) -> Iterator[tuple[str, str]]:
    """Everything about a question that can be read, with its name; the stem first, without."""
    yield "", question.stem
    yield "code", question.code
    for option, letter in zip(question.options, LETTERS, strict=False):
        yield f"option {letter}", option.text
    yield "explanation", question.explanation
    yield "reference", question.reference
    for tag in question.tags:
        yield "tag", tag
    yield "note", note


def _all_text(question: Question, note: str) -> str:
    """All parts of a question, case folded; the stem is the first line."""
    return "\n".join(" ".join(text.split()) for _, text in _parts(question, note)).casefold()


Order = Callable[[list[Row]], list[Row]]


class Listing:
    """The rows in some order, as they are now. It only reads, so it may be made in a thread."""

    def __init__(self, library: Library, order: Order = list) -> None:
        self._library = library
        self.rows = order(rows(library, Filter()))

    @cached_property
    def search(self) -> Search:
        """Ready to look for words: holds all text, so it is made when words are looked for."""
        note = self._library.history.note
        return Search(self.rows, [_all_text(row.question, note(row.id)) for row in self.rows])

    @cached_property
    def subjects(self) -> list[SubjectCounts]:
        """The counts of every subject, in the banks' order of subjects."""
        return by_subject(self.rows)

    def match(self, row: Row, sought: str) -> Match | None:
        """What of a question the words looked for were found in, None where none are."""
        if not sought.strip():
            return None
        return match(row.question, self._library.history.note(row.id), sought)

    def find(self, chosen: Filter) -> list[Row]:
        """The rows that pass."""
        rows = self.search.find(chosen.text) if chosen.text.strip() else list(self.rows)
        if chosen.bank:
            rows = [row for row in rows if row.location.bank.id == chosen.bank]
        if chosen.subject:
            rows = [row for row in rows if row.location.subject.id == chosen.subject]
        if chosen.chapter:
            rows = [row for row in rows if row.location.chapter.id == chosen.chapter]
        if chosen.tiers:
            rows = [row for row in rows if row.standing.tier in chosen.tiers]
        if chosen.waiting:
            rows = [row for row in rows if row.is_waiting]
        if chosen.missed:
            rows = [row for row in rows if row.standing.missed_days >= chosen.missed]
        if chosen.reason or chosen.sure_wrong:
            self._library.history.read_all()
            rows = [row for row in rows if has_said(self._library, row.id, chosen)]
        return rows


def by_subject(rows: Sequence[Row]) -> list[SubjectCounts]:
    """The counts of every subject among these rows, in the banks' order of subjects."""
    own: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
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
