"""What a store is put through while something goes wrong, and how its state is read afterwards."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from banks.maintenance.backup import back_up_daily, restore, write_backup
from banks.maintenance.merge import merge
from banks.maintenance.opening import prepare
from banks.settings import Settings
from banks.store.checked_json import SealedStorage
from banks.store.filesystem import System
from banks.store.folder import Store
from banks.store.formats import UPGRADES
from domain.errors import InputError
from domain.questions import Bank
from domain.responses import AnyRecord, Response
from tests.builders import bank, bares, full, keyed
from tests.faults.systems import Unflushed

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
BOOK = bank("Book", {"Clouds": {"High": [*bares(3), full(4, "Which?", ("this", "that"))]}})
REVISED = BOOK.with_questions([replace(BOOK.questions["book/clouds.high/1"], answer_key=("b",))])
SECOND = bank("Second", {"Winds": {"Gale": [keyed(1, "c")]}})
SETTINGS = Settings(turn_hour=5)


def response(number: int, question: int = 1) -> Response:
    """A response with a name of its own."""
    return Response(
        id=f"record-{number:04}", at=START + timedelta(minutes=number),
        question=f"book/clouds.high/{question}", chosen=("b",),
    )  # fmt: skip


@dataclass(frozen=True)
class State:
    """All that a store holds."""

    settings: Settings
    banks: tuple[Bank, ...]
    records: frozenset[AnyRecord]


def state_of(folder: Path) -> State:
    """What a fresh start finds."""
    store = Store.open(folder, system=Unflushed(), prepare=prepare)
    try:
        state = State(store.settings(), tuple(store.load_banks()), frozenset(store.records()))
        assert not store.log.files() or len(store.records()) == len(state.records)
        return state
    finally:
        store.close()


def fill(folder: Path, *records: AnyRecord, banks: tuple[Bank, ...] = (BOOK,)) -> None:
    """A store that holds these."""
    store = Store.open(folder, system=Unflushed(), prepare=prepare)
    for added in banks:
        store.save_bank(added)
    store.append(records)
    store.close()


Act = Callable[[Path, System], None]


@dataclass(frozen=True)
class Scenario:
    """`prepare` makes the store (and what else is needed beside it), `act` is what may fail.

    `in_steps`: the act is a row of steps each safe in itself, so that something between before
    and after may be found.
    """

    name: str
    prepare: Callable[[Path], Any]
    act: Act
    in_steps: bool = False


def on_store(change: Callable[[Store], Any]) -> Act:
    """An act on an open store."""

    def act(folder: Path, system: System) -> None:
        store = Store.open(folder, system=system, prepare=prepare)
        try:
            change(store)
        finally:
            store.close()

    return act


def _full(folder: Path) -> None:
    fill(folder, response(1), response(2))


def _torn(folder: Path) -> None:
    _full(folder)
    log = next(folder.glob("log/*.jsonl"))
    log.write_bytes(log.read_bytes() + b'{"what":"respo')


def _with_backup(folder: Path) -> None:
    other = folder.with_name("older")
    fill(other, response(7), banks=(SECOND,))
    write_backup(other, folder.with_name("older.zip"), System())
    _full(folder)


def _with_other(folder: Path) -> None:
    fill(folder.with_name("other"), response(2), response(3), banks=(REVISED, SECOND))
    _full(folder)


def _old_format(folder: Path) -> None:
    _full(folder)
    leave_at_format_0(folder)


def leave_at_format_0(folder: Path) -> None:
    """Turn the store into the invented format 0, in which the settings were called preferences."""
    storage = SealedStorage(folder / "store.json", System())
    storage.read()
    storage.write({"format": {"1": {"version": 0}}, "preferences": {"1": SETTINGS}})


def leave_format_0(folder: Path, system: System) -> None:
    """The step from the invented format 0 to 1."""
    storage = SealedStorage(folder / "store.json", system)
    tables = storage.read() or {}
    if "preferences" in tables:
        tables["settings"] = tables.pop("preferences")
        storage.write(tables)


def _change_bank(store: Store) -> None:
    if not store.load_banks():
        raise InputError("was not loaded")
    store.save_bank(REVISED)


def _merge(store: Store) -> None:
    if merge(store, store.folder.with_name("other")).notices:
        raise InputError("was not merged whole")


@contextmanager
def knowing_format_0() -> Iterator[None]:
    """With the step that leaves the invented format 0."""
    known = dict(UPGRADES)
    UPGRADES[0] = leave_format_0
    try:
        yield
    finally:
        UPGRADES.clear()
        UPGRADES.update(known)


def _upgrade(folder: Path, system: System) -> None:
    with knowing_format_0():
        Store.open(folder, system=system, prepare=prepare).close()


SCENARIOS = (
    Scenario("begin a store", lambda folder: None, on_store(lambda store: None)),
    Scenario("record the first", fill, on_store(lambda store: store.append([response(1)]))),
    Scenario("record one more", _full, on_store(lambda store: store.append([response(3)]))),
    Scenario("record after a torn line", _torn,
             on_store(lambda store: store.append([response(3)]))),
    Scenario("mark a page", _full,
             on_store(lambda store: store.append([response(n) for n in range(10, 30)])),
             in_steps=True),
    Scenario("add a bank", _full, on_store(lambda store: store.save_bank(SECOND))),
    Scenario("change a bank", _full,
             on_store(_change_bank)),
    Scenario("change the settings", _full, on_store(lambda store: store.save_settings(SETTINGS))),
    Scenario("back up", _full,
             lambda folder, system: back_up_daily(folder, date(2026, 3, 2), system)),
    Scenario("restore", _with_backup,
             lambda folder, system: restore(folder, folder.with_name("older.zip"), system)),
    Scenario("merge", _with_other,
             on_store(_merge), in_steps=True),
    Scenario("upgrade", _old_format, _upgrade),
)  # fmt: skip


class Stage:
    """A scenario set up once and played as often as needed, each time on a fresh copy."""

    def __init__(self, scenario: Scenario, room: Path) -> None:
        self.scenario, self._room, self._count = scenario, room, 0
        self._original = room / "original" / "store"
        self._original.parent.mkdir(parents=True)
        scenario.prepare(self._original)
        self.before = self.read(self.fresh())
        folder = self.fresh()
        scenario.act(folder, System())
        self.after = self.read(folder)

    def fresh(self) -> Path:
        """A copy of the prepared store."""
        self._count += 1
        copy = self._room / f"copy-{self._count}"
        shutil.copytree(self._original.parent, copy)
        return copy / "store"

    def read(self, folder: Path) -> State:
        """The state that a fresh start finds; older formats are known."""
        with knowing_format_0():
            return state_of(folder)

    def fits(self, state: State) -> bool:
        """Whether the state is the one before or the one after (or between, in steps)."""
        if state in (self.before, self.after):
            return True
        return (
            self.scenario.in_steps
            and self.before.records <= state.records <= self.after.records
            and all(bank in self.before.banks + self.after.banks for bank in state.banks)
        )
