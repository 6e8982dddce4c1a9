"""Every living question with where it stands, read once and filtered at every key."""

from collections import Counter
from collections.abc import Callable, Sequence
from functools import cached_property

from banks.library import Library, Location
from banks.views.search import Search, Texts
from banks.views.triage import Counts, Filter, Row, SubjectCounts, rows
from domain.tiers import Tier

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
        if wanted.missed:
            found = [row for row in found if row.standing.missed_days >= wanted.missed]
        return found


def by_subject(found: Sequence[Row]) -> list[SubjectCounts]:
    """The counts of every subject among these rows, in the banks' order of subjects."""
    tiers: dict[tuple[str, str], Counter[Tier]] = {}
    titles: dict[tuple[str, str], Location] = {}
    for row in found:
        key = (row.location.bank.id, row.location.subject.id)
        titles.setdefault(key, row.location)
        tiers.setdefault(key, Counter())[row.standing.tier] += 1
    order = {
        (place.bank.id, subject.id): at
        for place in titles.values()
        for at, subject in enumerate(place.bank.subjects)
    }
    return [
        SubjectCounts(
            *key, titles[key].subject.title,
            Counts(**{tier.word: count for tier, count in tiers[key].items()}),
        )
        for key in sorted(tiers, key=lambda key: (key[0], order[key]))
    ]  # fmt: skip
