"""The history as it was read before, kept in `cache/`: the next start reads on where it ended.

What is kept holds for exactly the bytes it was made from. Log files that were added to since are
read on from there; anything else that differs (a file shorter, gone or changed, another bank,
other tier rules, another turn of the day, another program) drops all of it, and so does every
doubt. Then the log is read anew.

Beside it is kept what follows from a history alone and takes long to make: `of_morning` keeps what
a whole history gave before a morning, `KeptByQuestion` what each question's own events give.
"""

import zlib
from array import array
from collections.abc import Callable, Iterable
from datetime import date
from typing import TYPE_CHECKING, Generic, TypeVar

import msgspec
from msgspec import Struct

from banks.store.folder import share_names
from banks.store.log import Sound, located_records, record_in
from domain.grading import Duplicates
from domain.history import History, KeptHistory
from domain.history_table import COLUMNS, NOWHERE, HistoryTable, LinePlace, id_mark
from domain.responses import (
    AnyRecord,
    BankSaved,
    HandTier,
    ReadingTime,
    Response,
    ResponseReason,
    Withdrawal,
)
from domain.tiers import Standing, TierRules

if TYPE_CHECKING:
    from banks.contents import StoreContents
    from banks.store.folder import Store

T = TypeVar("T")

_NAME = "history"
FEWEST = 2_000
"""Records below which a log is read as fast as what would be kept of it."""

LONGEST_TAIL = 1_000
"""Records added since, all of them today, that are read on from at every start (or one of a hundred
where that is more); with more, or with one of an earlier day, all is kept anew.
"""

_MOST_FILES = 0xFFFF
"""Files whose numbers a column can hold."""

_RACE = 2_000_000_000
"""A file changed so many nanoseconds before the history was kept, or later, is read to be sure."""


class LogTie(Struct, frozen=True, array_like=True):
    """A log file as it was read: which it was, so many bytes, their check sum, the records."""

    identity: tuple[int, ...]
    length: int
    crc32: int
    records: int


_NOTHING = LogTie((), 0, 0, 0)


class HistoryTie(Struct, frozen=True, array_like=True):
    """What a history follows from: the rules, the check sums of the banks, the log files."""

    rules: TierRules
    turn_hour: int
    banks: dict[str, str]
    logs: dict[str, LogTie]


class HistoryFile(Struct, frozen=True, array_like=True):
    """What is in the file. `others` are the places of the records that no row holds, `gone` the
    ids of those that were withdrawn.
    """

    tie: HistoryTie
    others: list[LinePlace]
    gone: list[str]
    newest: int
    names: list[str]
    standings: list[Standing]
    begins: bytes
    columns: dict[str, bytes]


class KeptLog:
    """The table that was kept, and the log behind it; see `domain.history.KeptHistory`."""

    def __init__(self, store: "Store", table: HistoryTable, files: list[str]) -> None:
        self.table = table
        self._store = store
        self._paths = [store.log.folder / name for name in files]
        self._places: dict[str, LinePlace] = {}

    def read(self, row: int) -> list[AnyRecord] | None:
        """The records of a row; None where they are not what they were."""
        table, records = self.table, list[AnyRecord]()
        name = table.names[row]
        ids = table.ids[table.begins[row] : table.begins[row + 1]]
        places = table.places(row)
        lines = self.lines(places)
        for place, line, known in zip(places, lines, ids, strict=False):
            record = record_in(line)
            if record is None or id_mark(record.id) != known:
                return None
            if isinstance(record, Response | HandTier) and record.question != name:
                return None
            self._places[record.id] = place
            records.append(record)
        return records if len(records) == len(places) else None

    def read_all(self) -> list[AnyRecord]:
        """Every record of the log as it is now."""
        return self._store.records()

    def lines(self, places: Iterable[LinePlace]) -> list[bytes]:
        """The lines at these places; fewer where a file can't be read."""
        system, opened, lines = self._store.system, dict[int, int](), list[bytes]()
        try:
            for place in places:
                if place.file not in opened:
                    opened[place.file] = system.open(self._paths[place.file], 0)
                lines.append(system.read_at(opened[place.file], place.start, place.length))
        except (OSError, IndexError):
            return lines
        finally:
            for fd in opened.values():
                system.close(fd)
        return lines

    def found_at(self, record_id: str, place: LinePlace) -> None:
        """Note where a record lies that was added since."""
        self._places[record_id] = place

    def place(self, record_id: str) -> LinePlace:
        """Where a record that was read lies; `NOWHERE` for one that was added in this run."""
        return self._places.get(record_id, NOWHERE)


class HistoryBasis(Struct):
    """What a history was read from.

    `ties` are those of the history as it was kept before and as it is to be kept (`to_keep`: as it
    was read), each with the version of the history that it was; none where keeping it would save no
    time.
    """

    logs: dict[str, LogTie]
    others: list[LinePlace]
    gone: list[str]
    is_read_on: bool
    is_stale: bool = True
    ties: list[tuple[HistoryTie, int]] = []
    to_keep: HistoryFile | None = None


def read_history(contents: "StoreContents") -> tuple[History, HistoryBasis | None]:
    """The history of a store's banks, rules and log: read on from what was kept, else anew.

    Without a basis, where a line of the log is damaged, it is never kept.
    """
    store = contents.store
    known = _read_on(contents) or _read_anew(contents)
    if known is None:
        return _history(contents, store.records()), None
    history, basis = known
    store.compare_logs(
        {name: Sound(tie.length, tie.crc32, tie.records) for name, tie in basis.logs.items()}
    )
    banks = store.bank_marks()
    if basis.is_stale and is_worth_it(store) and all(banks.values()):
        basis.to_keep = kept = _file_of(history, basis, banks)
        basis.ties += [(kept.tie, history.version)] if kept else []
    return known


def _history(
    contents: "StoreContents", records: Iterable[AnyRecord], kept: KeptHistory | None = None
) -> History:
    rules, turn_hour = contents.settings.tier_rules, contents.settings.turn_hour
    duplicates = Duplicates(contents.question, contents.duplicates, contents.stays)
    return History(records, contents.question, rules, turn_hour, duplicates, kept)


def _read_anew(contents: "StoreContents") -> tuple[History, HistoryBasis] | None:
    """From the whole log; None where not every line of it is sound, or two say they are one."""
    store = contents.store
    logs: dict[str, LogTie] = {}
    records: dict[str, AnyRecord] = {}
    places: dict[str, LinePlace] = {}
    for number, path in enumerate(store.log.files()):
        try:
            before, content = store.system.identity(path), store.system.read(path)
            if store.system.identity(path) != before:
                return None
        except OSError:
            return None
        located = located_records(content)
        if located is None or number > _MOST_FILES:
            return None
        for line in located:
            record = line.record
            if records.setdefault(record.id, record) != record:
                return None
            places.setdefault(record.id, LinePlace(number, line.start, line.length))
        logs[path.name] = LogTie(before, len(content), zlib.crc32(content), len(located))
    share_names(records.values(), {})
    gone = {
        target
        for record in records.values()
        if type(record) is Withdrawal
        for target in record.targets
    }
    responses = {name for name, record in records.items() if type(record) is Response}
    others = [
        places[name]
        for name, record in records.items()
        if name not in gone and not _is_in_a_row(record, responses)
    ]
    history = _history(contents, records.values())
    history.table_with(lambda name: places.get(name, NOWHERE))
    return history, HistoryBasis(logs, others, sorted(gone), is_read_on=False)


def _is_in_a_row(record: AnyRecord, responses: set[str]) -> bool:
    """Whether a row of the table holds it, or nothing needs to."""
    if isinstance(record, ResponseReason | ReadingTime):
        return record.response in responses
    return isinstance(record, Response | HandTier | Withdrawal | BankSaved)


def _read_on(contents: "StoreContents") -> tuple[History, HistoryBasis] | None:
    store, settings = contents.store, contents.settings
    kept = store.cache.load_packed(_NAME, HistoryFile)
    if (
        kept is None
        or kept.tie.rules != settings.tier_rules
        or kept.tie.turn_hour != settings.turn_hour
        or kept.tie.banks != store.bank_marks()
        or not all(kept.tie.banks.values())
    ):
        return None
    grown = _grown(store, kept)
    table = _table(kept)
    if grown is None or table is None:
        return None
    logs, tail = grown
    log = KeptLog(store, table, list(logs))
    lines = log.lines(kept.others)
    others = [record for record in map(record_in, lines) if record is not None]
    if len(others) != len(kept.others):
        return None
    history = _history(contents, others, log)
    began = history.version
    basis = HistoryBasis(logs, kept.others, kept.gone, is_read_on=True, ties=[(kept.tie, began)])
    if tail:
        _add_tail(history, basis, log, {record.id: record for record in others}, tail)
    today = history.day(contents.now())
    longest = max(LONGEST_TAIL, len(table.days) // 100)
    basis.is_stale = len(tail) > longest or history.earliest_change(began) < today
    if basis.is_stale:
        history.table_with(log.place)
    return history, basis


def _grown(
    store: "Store", kept: HistoryFile
) -> tuple[dict[str, LogTie], list[tuple[LinePlace, AnyRecord]]] | None:
    """The log files as they are now, and what was added; None where they are not what they were."""
    kept_at, known = store.cache.packed_at(_NAME), kept.tie.logs
    names = [path.name for path in store.log.files()]
    if not known.keys() <= set(names):
        return None
    numbers = {name: n for n, name in enumerate([*known, *(set(names) - known.keys())])}
    logs, tail = dict(known), list[tuple[LinePlace, AnyRecord]]()
    for name in numbers:
        path, tie = store.log.folder / name, known.get(name, _NOTHING)
        try:
            identity = store.system.identity(path)
            if identity == tie.identity and identity[2] < kept_at - _RACE:
                continue
            content = store.system.read(path)
        except OSError:
            return None
        if len(content) < tie.length or zlib.crc32(content[: tie.length]) != tie.crc32:
            return None
        located = located_records(content, tie.length)
        if located is None:
            return None
        tail += (
            (LinePlace(numbers[name], line.start, line.length), line.record) for line in located
        )
        crc32 = zlib.crc32(content[tie.length :], tie.crc32)
        logs[name] = LogTie(identity, len(content), crc32, tie.records + len(located))
    return logs, tail


def _table(kept: HistoryFile) -> HistoryTable | None:
    """The table that was kept; None where it can't be one, whoever made it."""
    table = HistoryTable()
    table.names, table.standings, table.newest = kept.names, kept.standings, kept.newest
    table.rows = dict(zip(kept.names, range(len(kept.names)), strict=True))
    try:
        table.begins = array("Q", kept.begins)
        for name, kind in COLUMNS.items():
            setattr(table, name, array(kind, kept.columns[name]))
        table.study_days, table.all_codes = set(table.days), set(table.codes)
    except (KeyError, ValueError):
        return None
    return None if table.problem() else table


def _add_tail(
    history: History,
    basis: HistoryBasis,
    log: KeptLog,
    others: dict[str, AnyRecord],
    tail: list[tuple[LinePlace, AnyRecord]],
) -> None:
    """Take in what was added since, in whatever order it lies in the files."""
    gone = set(basis.gone)
    fresh = {
        target for _, record in tail if type(record) is Withdrawal for target in record.targets
    } - gone
    gone |= fresh
    responses = {record.id for _, record in tail if type(record) is Response}
    spoken_of = {
        record.response for _, record in tail if isinstance(record, ResponseReason | ReadingTime)
    }
    known = history.kept_records(fresh | spoken_of)
    responses |= known.keys() - gone
    places = dict(zip(others, basis.others, strict=True))
    for target in fresh:
        if target in others:
            history.remove([others[target]])
            del places[target]
        elif target in known:
            history.remove([known[target]])
    for place, record in tail:
        log.found_at(record.id, place)
        if record.id in gone:
            continue
        history.add(record)
        if not _is_in_a_row(record, responses):
            places[record.id] = place
    basis.others, basis.gone = list(places.values()), sorted(gone)


# for the next start


def is_worth_it(store: "Store") -> bool:
    """Whether what is kept of the log is read sooner than the log."""
    return store.record_count >= FEWEST


def _file_of(history: History, basis: HistoryBasis, banks: dict[str, str]) -> HistoryFile | None:
    """What is to be kept of a history that was just read; None where it can't be."""
    table = history.table
    if 0 in table.lengths:  # it is not known where some record lies
        return None
    return HistoryFile(
        tie=HistoryTie(history.rules, history.turn_hour, banks, basis.logs),
        others=basis.others,
        gone=basis.gone,
        newest=table.newest,
        names=table.names,
        standings=table.standings,
        begins=table.begins.tobytes(),
        columns={name: getattr(table, name).tobytes() for name in COLUMNS},
    )


def keep_history(contents: "StoreContents") -> None:
    """Keep the history as it was read for the next start, where that saves it time."""
    basis = contents.history_basis
    if basis is not None and basis.to_keep is not None:
        contents.store.cache.save_packed(_NAME, basis.to_keep)
        basis.to_keep = None


# what else follows from a history


class OfMorning(Struct, frozen=True):
    """A value, packed, that follows from what a history holds before a morning alone, and the
    version of the history at which it did.
    """

    request: str
    morning: date
    value: bytes
    version: int


class _KeptOfMorning(Struct, frozen=True):
    tie: HistoryTie
    request: str
    morning: date
    value: bytes


Make = Callable[[date, OfMorning | None], object]
"""Gives the value of a morning, going on from that of an earlier one where there is one."""


def of_morning(
    contents: "StoreContents", name: str, make: Make, request: str = "", *, is_todays: bool = False
) -> OfMorning:
    """A value of this morning, made anew or, unless `is_todays`, from that of an earlier one where
    nothing before that has changed since.

    It is kept with the history, under the name. `request` says in words what was asked for.

    Whether it still holds is asked of the history's versions, without reading an event; so any
    saved bank makes it anew. What takes long to learn compares the events instead, and outlasts a
    corrected stem: `EvidenceLog.kept`.
    """
    history, today = contents.history, contents.today()
    known, is_kept = contents.mornings.get(name), True
    if known is None:
        known, is_kept = _recalled(contents, name)
    if known is not None and (
        known.request != request
        or known.morning > today
        or (is_todays and known.morning < today)
        or history.earliest_change(known.version) < known.morning
    ):
        known = None
    version = history.version
    if known is None or known.morning < today:
        value = msgspec.msgpack.encode(make(today, known))
        known, is_kept = OfMorning(request, today, value, version), False
    contents.mornings[name] = known
    if not is_kept:
        _keep_of_morning(contents, name, known)
    return known


def _recalled(contents: "StoreContents", name: str) -> tuple[OfMorning | None, bool]:
    """The value as it was kept, and whether it was kept with the history as that is kept now."""
    ties = contents.history_basis.ties if contents.history_basis else []
    kept = contents.store.cache.load_packed(name, _KeptOfMorning) if ties else None
    for tie, version in ties:
        if kept is not None and kept.tie == tie:
            return OfMorning(kept.request, kept.morning, kept.value, version), tie == ties[-1][0]
    return None, False


def _keep_of_morning(contents: "StoreContents", name: str, known: OfMorning) -> None:
    ties = contents.history_basis.ties if contents.history_basis else []
    if ties and contents.history.earliest_change(ties[-1][1]) >= known.morning:
        kept = _KeptOfMorning(ties[-1][0], known.request, known.morning, known.value)
        contents.store.cache.save_packed(name, kept)


class _KeptRows(Struct, Generic[T], frozen=True, array_like=True):
    """By question the events that a value was made from, and the value."""

    rules: TierRules
    turn_hour: int
    banks: dict[str, str]
    rows: dict[str, tuple[bytes, T]]


class KeptByQuestion(Generic[T]):
    """What `make` gives of each question by its own events alone: made anew only where these, its
    bank or the rules are not what they were. Questions with duplicates are always made anew.
    """

    def __init__(
        self, contents: "StoreContents", name: str, shape: type[T], make: Callable[[str], T]
    ) -> None:
        store, history = contents.store, contents.history
        self._contents, self._name, self._make = contents, name, make
        self._version, self._states = history.version, dict(history.table.states())
        self._tie = history.rules, history.turn_hour, store.bank_marks()
        self._is_worth_it = is_worth_it(store) and all(self._tie[-1].values())
        kept = store.cache.load_packed(name, _KeptRows[shape]) if self._is_worth_it else None  # type: ignore[valid-type]
        is_of_now = kept is not None and (kept.rules, kept.turn_hour, kept.banks) == self._tie
        self._kept: dict[str, tuple[bytes, T]] = kept.rows if kept and is_of_now else {}
        self.is_empty, self._made = not self._kept, 0

    def of(self, question_id: str) -> T:
        """The value of a question that is no duplicate of another."""
        if self._contents.duplicates(question_id):
            return self._make(question_id)
        state = self._states.get(question_id, b"")
        kept = self._kept.get(question_id)
        if kept is not None and kept[0] == state:
            return kept[1]
        value = self._make(question_id)
        self._kept[question_id] = state, value
        self._made += 1
        return value

    def keep(self) -> None:
        """Keep the values for the next time, where that saves it time."""
        is_of_now = self._contents.history.version == self._version
        if self._is_worth_it and is_of_now and self._made > LONGEST_TAIL:
            kept = _KeptRows(*self._tie, self._kept)
            self._contents.store.cache.save_packed(self._name, kept)
