"""Every living question with where it stands, read once and filtered at every key."""

from collections.abc import Callable, Sequence
from functools import cached_property

from banks.library import Library
from banks.views.search import Search, Texts
from banks.views.triage import Filter, Row, SubjectCounts, counts, rows

Order = Callable[[list[Row]], list[Row]]


class Listing:
    """The rows in some order, as they are now. It only reads, so it may be made in a thread.

    `texts` are those of the listing before: only what has changed is read again.
    """

    def __init__(self, library: Library, order: Order = list, texts: Texts | None = None) -> None:
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
