"""The app and the commands as they are started, killed at random instants."""

import os
import random
import re
import shutil
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pexpect
import pyte

from banks.library import Library
from banks.maintenance.backup import write_backup
from banks.maintenance.check import check
from banks.planning.intents import accept
from banks.store.filesystem import System
from domain.plan.inputs import PlanInputs
from tests.builders import FakeClock, bank, full, library
from tests.faults.scenarios import START

ROOT = Path(__file__).parents[2]
PAGE = 105
DAY = "2026-03-02"
START_UP = 60
"""Seconds until an app that shows nothing counts as fallen; no speed is measured here."""
_ANSWERED = re.compile(r"right of (\d+)")
_ESCAPES = re.compile(rb"[\x00-\x08\x0b-\x1f\x7f]|Traceback")


def make_store(folder: Path) -> Path:
    """A store with a plan whose first day is today, and beside it what commands take in."""
    questions = [full(n, f"Question number {n}?", ("yes", "no")) for n in range(1, PAGE + 1)]
    for name in ("store", "other"):
        book = bank("Book", {"Clouds": {"High": questions}})
        opened = library(folder / name, book, clock=FakeClock())
        minutes = ((90,),) * 5 + ((300,), ())
        accept(opened, PlanInputs(exam=date(2026, 4, 30), minutes=minutes))
        opened.close()
    write_backup(folder / "other", folder / "other.zip", System())
    rows = [f"Winds,Gale,{n},Number {n}?,yes,no,a" for n in range(1, 301)]
    header = "subject,chapter,number,stem,a,b,key"
    (folder / "new.csv").write_text("\n".join([header, *rows]), encoding="utf-8")
    return folder / "store"


def _started(store: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "tui", "--store", str(store), "--today", DAY, *words]


def _environment() -> dict[str, str]:
    return os.environ | {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}


def _look(store: Path) -> Library:
    """What a fresh start finds. Raises AssertionError if anything is not well."""
    if (store / "restoring").exists():  # a restore killed half-way is finished by the next start
        Library.open(store, FakeClock()).close()
    report = check(store, START)
    assert report.is_well, report.findings
    return Library.open(store, FakeClock(), read_only=True)


class AppKills:
    """Kills the app in a pseudo-terminal while a drill is answered as fast as keys come."""

    def __init__(self, room: Path, dice: random.Random) -> None:
        self._room, self._dice = room / "app", dice
        self._store = make_store(self._room)
        self._known = 0
        self.survived = 0
        self.acknowledged = 0

    def once(self) -> None:
        """Start it, answer some, kill it, and look. Raises AssertionError."""
        if self._known > PAGE - 20:
            shutil.rmtree(self._room)
            self._store, self._known = make_store(self._room), 0
        shown = self._answer_and_kill()
        there = self._answered()
        assert there >= shown, f"{shown} were shown as recorded, {there} are there"
        assert there >= self._known
        self.acknowledged += max(0, shown - self._known)
        self._known = there
        self.survived += 1

    def _answer_and_kill(self) -> int:
        """How many responses the screen showed as recorded before the app died."""
        screen = pyte.Screen(80, 24)
        stream = pyte.ByteStream(screen)
        words = _started(self._store)
        app = pexpect.spawn(
            words[0], words[1:], dimensions=(24, 80), cwd=ROOT, env=_environment(), timeout=START_UP
        )
        app.delaybeforesend = None
        shown = 0
        try:
            while "Revise" not in "\n".join(screen.display):
                stream.feed(app.read_nonblocking(1 << 16, START_UP))
            app.send("\r" + "a\r" * self._dice.randint(1, 9))
            ends = time.monotonic() + self._dice.uniform(0.02, 1.5)
            while time.monotonic() < ends:
                try:
                    stream.feed(app.read_nonblocking(1 << 16, 0.02))
                except pexpect.TIMEOUT:
                    continue
                if answered := _ANSWERED.search("\n".join(screen.display)):
                    shown = max(shown, int(answered[1]))
        except pexpect.EOF:
            text = "\n".join(screen.display)
            raise AssertionError(f"the app ended by itself:\n{text}") from None
        finally:
            app.kill(9)
            app.close()
        return shown

    def _answered(self) -> int:
        opened = _look(self._store)
        return sum(
            len(opened.history.responses(question)) for question in opened.banks["book"].questions
        )


class CommandKills:
    """Kills commands that write, each in a fresh store."""

    COMMANDS = (
        ("mark", "--subject", "Clouds", "--chapter", "High", "--wrong", "1-20", "--rest", "right"),
        ("import", "new.csv", "--bank", "New"),
        ("plan", "--minutes", "mon-fri 60, sat 200, sun 0"),
        ("backup", "made.zip"),
        ("merge", "other"),
        ("restore", "other.zip"),
    )

    def __init__(self, room: Path, dice: random.Random) -> None:
        self._room, self._dice = room / "commands", dice
        make_store(self._room / "original")
        self._count = 0
        self._usual = dict.fromkeys(self.COMMANDS, 1.0)  # seconds, as far as is known
        self.survived = self.cut_short = 0

    def once(self) -> None:
        """Run one, kill it, and look. Raises AssertionError."""
        words = self.COMMANDS[self._count % len(self.COMMANDS)]
        self._count += 1
        folder = self._room / f"run-{self._count}"
        shutil.copytree(self._room / "original", folder)
        store = folder / "store"
        process = subprocess.Popen(
            _started(store, *words), cwd=folder, env=_environment(), stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        began = time.monotonic()
        try:
            usual = self._usual[words]
            out, err = process.communicate(timeout=self._dice.uniform(0.3 * usual, 1.1 * usual))
            self._usual[words] = time.monotonic() - began
            assert process.returncode == 0, (words, err)
        except subprocess.TimeoutExpired:
            process.kill()
            out, err = process.communicate()
            self.cut_short += 1
            self._usual[words] *= 1.05
        assert not _ESCAPES.search(out + err), (words, out, err)
        self._look_after(words[0], store, bool(out.strip()))
        shutil.rmtree(folder)
        self.survived += 1

    @staticmethod
    def _look_after(command: str, store: Path, was_told: bool) -> None:
        opened = _look(store)
        questions = opened.banks["book"].questions
        marked = sum(len(opened.history.responses(question)) for question in questions)
        if command == "mark":
            assert marked == PAGE if was_told else marked in range(PAGE + 1)
        elif command == "import":
            imported = "new" in opened.banks
            assert imported or not was_told
            assert not imported or len(opened.banks["new"].questions) == 300
        elif command == "plan":
            first = opened.settings.plan.minutes[0]
            assert first == (60,) if was_told else first in ((90,), (60,))
        elif command == "backup":
            assert not was_told or (store.parent / "made.zip").stat().st_size > 0
        assert len(questions) == PAGE
