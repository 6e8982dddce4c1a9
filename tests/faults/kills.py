"""Processes killed at random instants, and what a fresh start then finds."""

import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

from banks.maintenance.backup import write_backup
from banks.maintenance.check import check
from banks.store.filesystem import System
from tests.faults import victim
from tests.faults.scenarios import START, State, knowing_format_0, leave_at_format_0, state_of


class Kills:
    """Kills one kind of work again and again, each time in a fresh store."""

    def __init__(self, work: str, room: Path, dice: random.Random) -> None:
        self.work, self._room, self._dice = work, room, dice
        self._original = room / f"{work}-original" / "store"
        victim.prepare(self._original)
        other = self._original.with_name("other")
        write_backup(other, self._original.with_name("other.zip"), System())
        if work == "upgrading":
            leave_at_format_0(self._original)
        self._count = 0
        self._usual = 0.15  # seconds that the work takes, as far as is known
        self.survived = self.cut_short = 0

    def once(self) -> None:
        """Begin the work, kill it, start afresh and look. Raises AssertionError."""
        self._count += 1
        place = self._room / f"{self.work}-{self._count}"
        shutil.copytree(self._original.parent, place)
        folder = place / "store"
        lines = self._kill(folder)
        self._look(folder, lines)
        shutil.rmtree(place)
        self.survived += 1

    def _kill(self, folder: Path) -> list[str]:
        """What the victim said was saved before it died."""
        words = [sys.executable, "-m", "tests.faults.victim", str(folder), self.work]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout
            process.stdout.readline()
            began = time.perf_counter()
            try:
                process.wait(self._dice.uniform(0, 1.3 * self._usual))
                self._usual = time.perf_counter() - began
            except subprocess.TimeoutExpired:
                process.kill()
                self.cut_short += 1
                self._usual = min(self._usual * 1.1, 0.3)
            lines = process.stdout.read().split("\n")
        return lines[:-1]  # the last one may be cut short

    def _look(self, folder: Path, lines: list[str]) -> None:
        with knowing_format_0():
            state = state_of(folder)
        report = check(folder, START)
        assert report.is_well, report.findings
        getattr(self, f"_look_after_{self.work}")(folder, state, lines)

    def _look_after_recording(self, folder: Path, state: State, lines: list[str]) -> None:
        acknowledged = {name for line in lines for name in line.split()}
        assert acknowledged <= {record.id for record in state.records}

    _look_after_marking = _look_after_recording

    def _look_after_importing(self, folder: Path, state: State, lines: list[str]) -> None:
        sizes = {bank.id: len(bank.questions) for bank in state.banks}
        assert all(sizes[name] == int(size) for name, size in map(str.split, lines))

    def _look_after_merging(self, folder: Path, state: State, lines: list[str]) -> None:
        ids = {record.id for record in state.records}
        assert "record-9000" in ids
        if lines:
            assert ids >= {record.id for record in victim.MANY}
            assert len(state.banks) == 2

    def _look_after_restoring(self, folder: Path, state: State, lines: list[str]) -> None:
        before, after = {"record-9000"}, {record.id for record in victim.MANY}
        ids = {record.id for record in state.records}
        assert ids == after or (not lines and ids == before)
        if ids == after:
            aside = next(folder.glob("backups/replaced-*"))
            assert b"record-9000" in next(aside.glob("log/*.jsonl")).read_bytes()

    def _look_after_upgrading(self, folder: Path, state: State, lines: list[str]) -> None:
        assert state.settings.turn_hour == 5
        assert next(folder.glob("backups/before-format-*.zip")).stat().st_size > 0
