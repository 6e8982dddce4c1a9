"""The history in columns: what counts of every event, compact enough to be kept and read at once.

A table holds no texts and no reasons, only what tiers, plan and evidence go by: the study day, the
verdict under the keys in force, confidence, purpose, seconds. It is a value: `TableBuilder` makes
one of all events, or of a former table and the questions that have changed since.
"""

from array import array
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple, Protocol
from zlib import crc32

from domain.responses import (
    AnyRecord,
    HandTier,
    Purpose,
    ReadingTime,
    Response,
    ResponseReason,
    VisitBegun,
    VisitEnded,
)
from domain.tiers import HandSet, Judged, Standing, Tier
from domain.verdicts import Confidence, Verdict

VISITS = ""
"""The name of the row that holds when visits were begun and ended; no question is called so."""

_VERDICTS, _CONFIDENCES, _PURPOSES = tuple(Verdict), tuple(Confidence), tuple(Purpose)
_KIND = 12
_HAND, _ABOUT, _VISIT = 1, 2, 3
"""Kinds of entries that are no responses, from bit `_KIND` of a code on; a response's is 0."""
_CHOSEN, _COUNTS = 1 << 10, 1 << 11
"""The highest bits of a response's code; below are verdict, confidence and purpose: see `MARKS`."""
_FEW = 3
"""Values that are looked for one by one sooner than all at once."""
_NO_DAY = 1
"""The day of a row's entries that are no events."""
_EPOCH, _MICROSECOND = datetime(1970, 1, 1, tzinfo=UTC), timedelta(microseconds=1)


class Mark(NamedTuple):
    """What counts of a response."""

    verdict: Verdict
    confidence: Confidence
    purpose: Purpose
    is_chosen: bool
    counts: bool
    """False for a response in a paper that a later one replaced, or that awaits its key."""


class Tallied(NamedTuple):
    """What counts of an event: its study day, a response's mark or the tier set by hand, and the
    seconds of thinking and reading.
    """

    day: date
    event: Mark | Tier
    seconds: float


def mark_of(response: Response, verdict: Verdict, counts: bool = True) -> Mark:
    """What counts of a response with this verdict."""
    is_chosen = response.chosen is not None
    return Mark(verdict, response.confidence, response.purpose, is_chosen, counts)


MARKS = {
    v | c << 3 | p << 6 | chosen | counts: Mark(
        verdict, confidence, purpose, bool(chosen), bool(counts)
    )
    for v, verdict in enumerate(_VERDICTS)
    for c, confidence in enumerate(_CONFIDENCES)
    for p, purpose in enumerate(_PURPOSES)
    for chosen in (0, _CHOSEN)
    for counts in (0, _COUNTS)
}
"""Every mark that a response can have, by its code in a table."""
_CODES = {mark: code for code, mark in MARKS.items()}

HAND_SET = {_HAND << _KIND | tier + 1: tier for tier in Tier}
"""The tiers that can be set by hand, by their code in a table."""

_OTHER_CODES = frozenset({_ABOUT << _KIND, _VISIT << _KIND})


def microseconds(at: datetime) -> int:
    """Since 1970: exact, and sorted as the moments are."""
    return (at - _EPOCH) // _MICROSECOND


def id_mark(record_id: str) -> int:
    """32 bits that tell most ids apart."""
    return crc32(record_id.encode("utf-8", "surrogatepass"))


class LinePlace(NamedTuple):
    """Where a record's line lies in the log: the number of its file, its first byte, its length."""

    file: int
    start: int
    length: int


COLUMNS = {
    "days": "i",
    "codes": "H",
    "seconds": "d",
    "ats": "q",
    "ties": "I",
    "ids": "I",
    "files": "H",
    "starts": "Q",
    "lengths": "I",
}
"""The columns of a table and the kind of number in each."""


class HistoryTable:
    """One row per question: its own records, the events by age, then what was said about them.

    Row n has the columns' places `begins[n]` to `begins[n + 1]`. `days` are ordinals, `codes`
    those of `MARKS` and `HAND_SET`, `seconds` of thinking and reading. (`ats`, `ties`) orders all
    events of a table as (time, id) does. No event is later than `newest`. `study_days` and
    `all_codes` have all that occur, and may have others. Only the row of the visits may be empty.
    """

    def __init__(self) -> None:
        self.names: list[str] = []
        self.rows: dict[str, int] = {}
        self.standings: list[Standing] = []
        self.begins = array("Q", [0])
        self.newest = -(1 << 62)
        self.days, self.codes, self.seconds = array("i"), array("H"), array("d")
        self.ats, self.ties, self.ids = array("q"), array("I"), array("I")
        self.files, self.starts, self.lengths = array("H"), array("Q"), array("I")
        self.study_days: set[int] = set()
        self.all_codes: set[int] = set()

    def span(self, row: int) -> range:
        """The places of a row in the columns."""
        return range(self.begins[row], self.begins[row + 1])

    def judged(self, row: int) -> Iterator[Judged | HandSet]:
        """A row's history as the tier rules read it; the reasons of tiers set by hand aside."""
        own = slice(self.begins[row], self.begins[row + 1])
        for day, code in zip(self.days[own], self.codes[own], strict=True):
            if mark := MARKS.get(code):
                if mark.counts:
                    yield Judged(date.fromordinal(day), mark.verdict, mark.confidence)
            elif code in HAND_SET:
                yield HandSet(date.fromordinal(day), HAND_SET[code], "")
            else:
                return

    def tallied(self, row: int) -> Iterator[Tallied]:
        """What counts of a row, by age."""
        for place in self.span(row):
            code = self.codes[place]
            mark = MARKS.get(code)
            if mark is None and code not in HAND_SET:
                return
            if mark is None or mark.counts:
                day = date.fromordinal(self.days[place])
                yield Tallied(day, HAND_SET[code] if mark is None else mark, self.seconds[place])

    def is_seen_within(self, row: int, days: int) -> bool:
        """Whether its events are never so many days apart, and none is a tier set by hand."""
        own = self.days[self.begins[row] : self.begins[row + 1]]
        seen = [day for day in own if day > _NO_DAY]
        is_close = not seen or seen[-1] - seen[0] < days
        if not is_close:
            is_close = all(later - earlier < days for earlier, later in pairwise(seen))
        return is_close and row not in self.hand_set

    def moments(self, row: int) -> dict[tuple[int, int], int]:
        """The events of a row: (time, `id_mark`) → tie."""
        return {
            (self.ats[place], self.ids[place]): self.ties[place]
            for place in self.span(row)
            if self.codes[place] != _ABOUT << _KIND
        }

    def is_of_day(self, row: int, day: date) -> bool:
        """Whether something of the row is of that study day."""
        return day.toordinal() in self.days[self.begins[row] : self.begins[row + 1]]

    def end_of_events(self, row: int) -> int:
        """The place in the columns behind the last event of a row."""
        end = self.begins[row + 1]
        while end > self.begins[row] and self.codes[end - 1] == _ABOUT << _KIND:
            end -= 1
        return end

    def has_paper(self, row: int) -> bool:
        """Whether a response of the row is of a paper."""
        marks = map(MARKS.get, self.codes[self.begins[row] : self.begins[row + 1]])
        return any(mark is not None and mark.purpose is Purpose.PAPER for mark in marks)

    @cached_property
    def hand_set(self) -> frozenset[int]:
        """The rows of which a tier was ever set by hand."""
        if HAND_SET.keys().isdisjoint(self.all_codes):
            return frozenset()
        rows = range(len(self.names))
        return frozenset(
            row for row in rows if any(self.codes[place] in HAND_SET for place in self.span(row))
        )

    @cached_property
    def visits(self) -> dict[int, tuple[int, int]]:
        """When each visit was begun or ended, among all events: `id_mark` → (time, tie)."""
        span = self.span(self.rows[VISITS])
        return {self.ids[place]: (self.ats[place], self.ties[place]) for place in span}

    def places(self, row: int) -> list[LinePlace]:
        """Where the lines of a row lie."""
        return [
            LinePlace(self.files[place], self.starts[place], self.lengths[place])
            for place in self.span(row)
        ]

    def states(self) -> Iterator[tuple[str, bytes]]:
        """Each question with what its practice was read from: equal only for the same events."""
        days, codes, ids = (column.tobytes() for column in (self.days, self.codes, self.ids))
        day, code, mark = self.days.itemsize, self.codes.itemsize, self.ids.itemsize
        for name, (begin, end) in zip(self.names, pairwise(self.begins), strict=True):
            yield (
                name,
                days[begin * day : end * day]
                + codes[begin * code : end * code]
                + ids[begin * mark : end * mark],
            )

    def rows_with(self, column: str, value: int) -> Iterator[int]:
        """The rows that have the value in a column, each once. As quick as a search can be."""
        numbers, begin = getattr(self, column), 0
        while True:
            try:
                place = numbers.index(value, begin)
            except ValueError:
                return
            row = bisect_right(self.begins, place) - 1
            yield row
            begin = self.begins[row + 1]

    def names_between(self, first: date, end: date) -> list[str]:
        """The names of the rows with something of a study day from the first up to the end."""
        begin, until = first.toordinal(), end.toordinal()
        days = {day for day in self.study_days if begin <= day < until}
        if len(days) > _FEW:
            return [self.names[row] for row in self.rows_with_any("days", days)]
        rows = {row for day in days for row in self.rows_with("days", day)}
        return [self.names[row] for row in sorted(rows)]

    def rows_with_any(self, column: str, values: Collection[int]) -> list[int]:
        """The rows that have any of these values in a column, in one pass."""
        numbers = getattr(self, column)
        if not values or set(values).isdisjoint(numbers):  # the quicker question
            return []
        places = [place for place, value in enumerate(numbers) if value in values]
        return sorted({bisect_right(self.begins, place) - 1 for place in places})

    def problem(self) -> str:
        """What can't be in a table that was made here; "" where all is possible."""
        sizes = {len(getattr(self, name)) for name in COLUMNS}
        rows, begins = len(self.begins) - 1, self.begins
        if rows < 0 or sizes != {begins[-1]} or {len(self.names), len(self.standings)} != {rows}:
            return "its columns differ in length"
        if begins[0] or list(begins[1:]) != sorted(set(begins[1:])):
            return "its rows overlap, or one is empty"
        if len(self.rows) != len(self.names):
            return "a name stands twice"
        for code in self.all_codes:
            if code not in MARKS and code not in HAND_SET and code not in _OTHER_CODES:
                return "it holds an unknown mark"
        if any(not 1 <= day <= date.max.toordinal() for day in self.study_days):
            return "a day is out of range"
        return ""


class Reader(Protocol):
    """What a table is made from: a history, question by question."""

    def own_events(self, question_id: str) -> Sequence[Response | HandTier]:
        """The question's own responses and tiers set by hand, oldest first."""

    def grown(self, question_id: str, table: HistoryTable) -> Sequence[Response] | None:
        """What came to it since the table was made; None where more has changed than that."""

    def passed_over(self, question_id: str) -> Collection[str]:
        """The ids of its responses that don't count."""

    def own_remarks(self, question_id: str) -> Sequence[ResponseReason | ReadingTime]:
        """What was said about its responses."""

    def visit_records(self) -> Sequence[VisitBegun | VisitEnded]:
        """When visits were begun and ended."""

    def standing_by(self, question_id: str, own: Iterable[Judged | HandSet]) -> Standing:
        """Where the question stands, its own events being these as the tier rules read them."""

    def verdict(self, response: Response) -> Verdict:
        """The verdict in force."""

    def reading(self, response: Response) -> float:
        """Seconds spent on the answer."""

    def day(self, at: datetime) -> date:
        """The study day."""


LinePlaces = Callable[[str], LinePlace]
"""Gives the place of the record of that id."""

NOWHERE = LinePlace(0, 0, 0)


def nowhere(_: str) -> LinePlace:
    """Of no record is it known where it lies."""
    return NOWHERE


def table_of(reader: Reader, names: Iterable[str], place: LinePlaces = nowhere) -> HistoryTable:
    """The table of all these questions and of the visits."""
    table, events = HistoryTable(), {name: _events(reader, name) for name in (VISITS, *names)}
    moments = [(microseconds(record.at), record.id) for row in events.values() for record in row]
    ties = _ties(moments)
    for name, row in events.items():
        _add_row(table, reader, name, row, lambda record: ties.get(record.id, 0), place)
    table.newest = max(moments)[0] if moments else table.newest
    return table


def _ties(moments: Iterable[tuple[int, str]]) -> dict[str, int]:
    """The place of each event among those of its moment, by id; that of the first, 0, is left
    out.
    """
    ties: dict[str, int] = {}
    before, tie = None, 0
    for at, record_id in sorted(moments):
        tie = tie + 1 if at == before else 0
        if tie:
            ties[record_id] = tie
        before = at
    return ties


def extended(
    table: HistoryTable,
    reader: Reader,
    changed: Collection[str],
    place: LinePlaces = nowhere,
) -> HistoryTable:
    """The table with the rows of these questions as they are now, and those that it did not have.

    Rows that have only grown are copied, with what came to them; the others are read anew. So are
    the rows with events of a moment at which another was added: ids alone tell their order.
    """
    late = {name: reader.grown(name, table) for name in changed}
    grown: dict[str, Sequence[AnyRecord]] = {
        name: row
        for name, row in late.items()
        if row is not None and all(microseconds(record.at) > table.newest for record in row)
    }
    events = {name: _events(reader, name) for name in {VISITS, *changed} - grown.keys()}
    known = {name: table.moments(table.rows[name]) for name in events if name in table.rows}
    fresh = {
        microseconds(record.at)
        for name, row in (events | grown).items()
        for record in row
        if (microseconds(record.at), id_mark(record.id)) not in known.get(name, ())
    }
    if fresh and min(fresh) <= table.newest:
        for row_number in table.rows_with_any("ats", fresh):
            if (name := table.names[row_number]) not in events:
                events[name], known[name] = _events(reader, name), table.moments(row_number)
                grown.pop(name, None)
    ties = _ties(
        (at, record.id)
        for row in (events | grown).values()
        for record in row
        if (at := microseconds(record.at)) in fresh
    )
    made = HistoryTable()
    made.newest = max((table.newest, *fresh))
    made.study_days, made.all_codes = set(table.study_days), set(table.all_codes)
    begin = 0
    for row_number in sorted(table.rows[name] for name in (*known, *grown)):
        _copy_rows(table, made, begin, row_number)
        begin = row_number + 1
        name = table.names[row_number]
        old = known.get(name, {})

        def tie_of(record: AnyRecord, old: dict[tuple[int, int], int] = old) -> int:
            at = microseconds(record.at)
            return ties.get(record.id, 0) if at in fresh else old[at, id_mark(record.id)]

        if name in grown:
            middle = table.end_of_events(row_number)
            _copy(table, made, table.begins[row_number], middle)
            _add_events(made, reader, grown[name], (), tie_of, place)
            _copy(table, made, middle, table.begins[row_number + 1])
            _end_row(made, reader, name)
        elif events[name] or name == VISITS:
            _add_row(made, reader, name, events[name], tie_of, place)
    _copy_rows(table, made, begin, len(table.names))
    for name in events.keys() - known.keys():
        _add_row(made, reader, name, events[name], lambda record: ties.get(record.id, 0), place)
    return made


def _events(reader: Reader, name: str) -> Sequence[AnyRecord]:
    return reader.own_events(name) if name else reader.visit_records()


def _copy(table: HistoryTable, made: HistoryTable, begin: int, end: int) -> None:
    """Put these places of a table's columns at the end of the one being made."""
    for column in COLUMNS:
        getattr(made, column).extend(getattr(table, column)[begin:end])


def _copy_rows(table: HistoryTable, made: HistoryTable, first: int, last: int) -> None:
    """Put the rows from `first` up to `last` of a table at the end of the one being made."""
    if first >= last:
        return
    begin, end = table.begins[first], table.begins[last]
    shift = len(made.days) - begin
    _copy(table, made, begin, end)
    names = table.names[first:last]
    made.rows.update(zip(names, range(len(made.names), len(made.names) + len(names)), strict=True))
    made.names += names
    made.standings += table.standings[first:last]
    made.begins.extend(begun + shift for begun in table.begins[first + 1 : last + 1])


def _add_row(
    table: HistoryTable,
    reader: Reader,
    name: str,
    events: Sequence[AnyRecord],
    tie: Callable[[AnyRecord], int],
    place: LinePlaces,
) -> None:
    passed_over = reader.passed_over(name) if name else ()
    _add_events(table, reader, events, passed_over, tie, place)
    for record in reader.own_remarks(name) if name else ():
        _add(table, record, _NO_DAY, _ABOUT << _KIND, 0.0, 0, place)
    _end_row(table, reader, name)


def _add_events(
    table: HistoryTable,
    reader: Reader,
    events: Sequence[AnyRecord],
    passed_over: Collection[str],
    tie: Callable[[AnyRecord], int],
    place: LinePlaces,
) -> None:
    for record in events:
        if isinstance(record, Response):
            counts = record.id not in passed_over
            code = _CODES[mark_of(record, reader.verdict(record), counts)]
            seconds = record.seconds and record.seconds + reader.reading(record)
        else:
            kind = _HAND if isinstance(record, HandTier) else _VISIT
            tier = record.tier + 1 if isinstance(record, HandTier) else 0
            code, seconds = kind << _KIND | tier, 0.0
        day = reader.day(record.at).toordinal()
        _add(table, record, day, code, seconds, tie(record), place)


def _end_row(table: HistoryTable, reader: Reader, name: str) -> None:
    """What was added since the last row is the row of this question."""
    row = table.rows[name] = len(table.names)
    table.names.append(name)
    table.begins.append(len(table.days))
    table.standings.append(reader.standing_by(name, table.judged(row)) if name else Standing())


def _add(
    table: HistoryTable,
    record: AnyRecord,
    day: int,
    code: int,
    seconds: float,
    tie: int,
    place: LinePlaces,
) -> None:
    table.days.append(day)
    table.study_days.add(day)
    table.codes.append(code)
    table.all_codes.add(code)
    table.seconds.append(seconds)
    table.ats.append(microseconds(record.at))
    table.ties.append(tie)
    table.ids.append(id_mark(record.id))
    where = place(record.id)
    table.files.append(where.file)
    table.starts.append(where.start)
    table.lengths.append(where.length)
