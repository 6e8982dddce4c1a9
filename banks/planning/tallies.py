"""What the history comes to by subject on a morning: standings, waiting, days and times.

All that is counted of a subject is a sum over its questions, and what a question adds follows from
its own events before the morning. So the tallies of an earlier morning become those of a later one
by the questions with events in between alone. They are kept with the history.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import msgspec
from msgspec import Struct

from banks.kept_history import OfMorning, of_morning
from domain.history_table import MARKS, HistoryTable
from domain.questions import Bank, bank_of
from domain.tiers import Counts, Tier

if TYPE_CHECKING:
    from banks.contents import StoreContents

K = TypeVar("K", int, float)


class Located(NamedTuple):
    """A question's id, `<bank>/<subject>`, `<bank>/<chapter>` and its number."""

    question: str
    subject: str
    chapter: str
    number: int


class SubjectTally(Struct):
    """Sums over a subject's active questions. Days are ordinals; what is 0 is left out.

    `tiers` counts the tried questions by tier, `tried_twice` those tried on two days or more.
    `waits_from` says how many are waiting from a day on unless something comes, `mornings` how many
    more (negative: fewer) than the morning before were waiting on one so far. `answered` counts
    responses by day, `seconds` by the time they took (0: not measured).
    """

    tiers: dict[int, int] = {}
    settled: int = 0
    tried_twice: int = 0
    waits_from: dict[int, int] = {}
    mornings: dict[int, int] = {}
    answered: dict[int, int] = {}
    seconds: dict[float, int] = {}

    def in_tiers(self, tiers: Iterable[Tier]) -> int:
        """How many questions are in one of these tiers."""
        return sum(self.tiers.get(tier, 0) for tier in tiers)

    def counts(self, questions: int, today: date) -> Counts:
        """The counts of the subject, which has so many questions; see `waiting`."""
        tiers = {tier.word: self.tiers.get(tier, 0) for tier in Tier if tier is not Tier.UNTRIED}
        untried = questions - sum(self.tiers.values())
        return Counts(untried, **tiers, settled=self.settled, waiting=self.waiting(today))

    def waiting(self, today: date) -> int:
        """How many are waiting on a day that nothing of the history is later than."""
        return _up_to(self.waits_from, today)

    def waiting_then(self, morning: date) -> int:
        """How many were waiting on a morning before."""
        return _up_to(self.mornings, morning)


def _up_to(counts: Mapping[int, int], day: date) -> int:
    last = day.toordinal()
    return sum(count for number, count in counts.items() if number <= last)


Tallies = dict[str, SubjectTally]
"""By `<bank>/<subject>`, the subjects with a history."""

_DECODER = msgspec.msgpack.Decoder(Tallies)
_NEWEST = "tallies by now"
"""The name under which those of all there is are held until something is recorded."""


def tallies_of(library: "StoreContents", morning: date) -> Tallies:
    """The tallies of a morning that is not before today's; `date.max` counts all there is."""
    tallier, history = Tallier(library, library.banks), library.history

    def make(today: date, known: OfMorning | None) -> Tallies:
        if known is None:
            return tallier.anew(today)
        return tallier.brought_on(_DECODER.decode(known.value), known.morning, today)

    newest = library.mornings.get(_NEWEST)
    if morning == date.max and newest and history.earliest_change(newest.version) == date.max:
        return _DECODER.decode(newest.value)
    version, known = history.version, of_morning(library, "tallies", make)
    tallies = tallier.brought_on(_DECODER.decode(known.value), known.morning, morning)
    if morning == date.max:
        packed = msgspec.msgpack.encode(tallies)
        library.mornings[_NEWEST] = OfMorning("", morning, packed, version)
    return tallies


class Tallier:
    """Counts the questions of these banks."""

    def __init__(self, library: "StoreContents", banks: Mapping[str, Bank]) -> None:
        self._library, self._banks = library, banks
        self._names = {
            (bank.id, chapter.id): (f"{bank.id}/{subject.id}", f"{bank.id}/{chapter.id}")
            for bank in banks.values()
            for subject in bank.subjects
            for chapter in subject.chapters
        }

    def located(self, question_id: str) -> Located | None:
        """Where the question that stays for this one stands; None where it is not active."""
        stays = self._library.stays(question_id)
        bank = self._banks.get(bank_of(stays))
        place = bank.index.place(stays) if bank else None
        names = self._names.get((bank.id, place.chapter)) if bank and place else None
        return Located(stays, *names, place.number) if place and names else None

    def anew(self, morning: date) -> Tallies:
        """The tallies of a morning, from all of the history."""
        return self._counted({}, self._library.history.table.names, None, morning)

    def brought_on(self, tallies: Tallies, morning: date, later: date) -> Tallies:
        """From the tallies of a morning, which are used up, those of a later one."""
        names = self._library.history.table.names_between(morning, later)
        return self._counted(tallies, names, morning, later)

    def _counted(
        self, tallies: Tallies, names: Sequence[str], before: date | None, now: date
    ) -> Tallies:
        table = self._library.history.table
        located = filter(None, map(self.located, names))
        subjects = {each.question: each.subject for each in located}  # duplicates count once
        for question, subject in subjects.items():
            tally = tallies.setdefault(subject, SubjectTally())
            if before is not None:
                self._count(table, tally, question, before, -1)
            self._count(table, tally, question, now, 1)
        return {name: tally for name, tally in tallies.items() if tally != SubjectTally()}

    def _count(
        self, table: HistoryTable, tally: SubjectTally, question: str, morning: date, times: int
    ) -> None:
        """Add a question's part so many times, as it was on the morning."""
        history = self._library.history
        self._count_events(table, tally, question, morning, times)
        standing = history.standing_before(question, morning)
        if standing.tier is not Tier.UNTRIED:
            _add(tally.tiers, standing.tier.value, times)
            tally.tried_twice += times * (standing.days >= 2)
        tally.settled += times * standing.settled
        if standing.last is not None and not standing.settled:
            days = history.rules.waiting_days
            _add(tally.waits_from, standing.last.toordinal() + days, times)
        for first, last in history.waiting_mornings(question, morning):
            _add(tally.mornings, first.toordinal(), times)
            if last is not None:
                _add(tally.mornings, last.toordinal() + 1, -times)

    def _count_events(
        self, table: HistoryTable, tally: SubjectTally, question: str, morning: date, times: int
    ) -> None:
        end = morning.toordinal()
        for name in (question, *self._library.duplicates(question)):
            row = table.rows.get(name)
            for place in table.span(row) if row is not None else ():
                day = table.days[place]
                if day < end and table.codes[place] in MARKS:
                    _add(tally.answered, day, times)
                    _add(tally.seconds, table.seconds[place], times)


def _add(counts: dict[K, int], key: K, times: int) -> None:
    """Count; what comes to 0 is left out."""
    count = counts.get(key, 0) + times
    if count:
        counts[key] = count
    else:
        del counts[key]
