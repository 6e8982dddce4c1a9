"""Every living question with where it stands, read once and filtered at every key."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from banks.library import Library
from banks.views.search import TextIndex
from banks.views.triage import Counts, Filter, Row, SubjectCounts, rows
from domain.questions import Question

Order = Callable[[list[Row]], list[Row]]


class Listing:
    """The rows in some order. Built in a thread: it only reads. `text` is looked for last."""

    def __init__(self, library: Library, order: Order = list) -> None:
        self._library = library
        self._order = order
        self._texts: TextIndex | None = None
        self.rows: list[Row] = []
        self.read()

    def read(self) -> None:
        """Read every standing afresh; the texts are kept."""
        self.rows = self._order(rows(self._library, Filter()))

    def reread(self, questions: Iterable[Question]) -> None:
        """Read everything afresh of which these questions' texts have changed."""
        if self._texts is not None:
            self._texts.add(questions)
        self.read()

    def find(self, wanted: Filter) -> list[Row]:
        """The rows that pass."""
        found = self.rows
        if wanted.bank:
            found = [row for row in found if row.place.bank.id == wanted.bank]
        if wanted.subject:
            found = [row for row in found if row.place.subject.id == wanted.subject]
        if wanted.chapter:
            found = [row for row in found if row.place.chapter.id == wanted.chapter]
        if wanted.tiers:
            found = [row for row in found if row.standing.tier in wanted.tiers]
        if wanted.missed:
            found = [row for row in found if row.standing.missed_days >= wanted.missed]
        return self.texts.find(found, wanted.text) if wanted.text.strip() else list(found)

    @property
    def texts(self) -> TextIndex:
        """The index over all text, made when it is first needed."""
        if self._texts is None:
            self._texts = TextIndex(self._library, [row.question for row in self.rows])
        return self._texts


def by_subject(found: Sequence[Row]) -> list[SubjectCounts]:
    """The counts of every subject among these rows, in the banks' order of subjects."""
    tiers: dict[tuple[str, str], Counter[int]] = {}
    titles = {}
    for row in found:
        key = (row.place.bank.id, row.place.subject.id)
        titles.setdefault(key, row.place)
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
