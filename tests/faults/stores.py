"""Damaged and hostile stores, and what the commands make of them."""

import io
import json
import random
import shutil
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from banks.store.checked_json import sealed
from banks.store.log import line_of
from tests.faults.programs import make_store
from tui.cli import main

HOSTILE = (
    "\x1b[2J\x1b]52;c;aGFoYQ==\x07\x1b]8;;http://x.example\x1b\\\x1bP1$r\x1b\\\x9b31m\x9d0;t\x9c"
    "\u202egnp\u2066\u200f\x07\x00 1e9999999"
)
DRIVING = {chr(code) for code in (*range(9), *range(11, 32), *range(127, 160))} | set(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u2028\u2029"
)
COMMANDS = (
    ("today",),
    ("triage", "--json"),
    ("check",),
    ("mark", "--subject", "Clouds", "--chapter", "High", "--wrong", "1"),
)
TEXTS = ("title", "stem", "text", "explanation", "reference", "answer_key", "key", "note")

Damage = Callable[[bytes, random.Random], bytes]


def _flipped(content: bytes, dice: random.Random) -> bytes:
    damaged = bytearray(content)
    for _ in range(dice.randint(1, 20)):
        place = dice.randrange(len(damaged) * 8)
        damaged[place // 8] ^= 1 << place % 8
    return bytes(damaged)


def _cut(content: bytes, dice: random.Random) -> bytes:
    return content[: dice.randrange(len(content))]


def _swapped(content: bytes, dice: random.Random) -> bytes:
    lines = content.split(b"\n")
    dice.shuffle(lines)
    return b"\n".join(lines)


def _hostile(content: bytes, dice: random.Random) -> bytes:
    """Texts and numbers of the worst kind in many places, and check sums that match."""
    if b'"sum":"' in content:
        return b"".join(_hostile_line(line, dice) for line in content.splitlines())
    tables = json.loads(content)
    tables.pop("seal", None)
    return sealed({name: _worsened(table, dice) for name, table in tables.items()})


def _hostile_line(line: bytes, dice: random.Random) -> bytes:
    record = json.loads(line)
    del record["sum"]
    return line_of({name: _worsened(held, dice, often=0.1) for name, held in record.items()})


def _worsened(value: object, dice: random.Random, often: float = 0.01) -> object:
    if isinstance(value, dict):
        return {
            name: _spoilt(held, dice) if name in TEXTS else _worsened(held, dice, often)
            for name, held in value.items()
        }
    if isinstance(value, list):
        return [_worsened(held, dice, often) for held in value]
    if isinstance(value, int | float) and dice.random() < often:
        return dice.choice([-1, 0, 2**70, 1e308, None, "x"])
    if isinstance(value, str) and dice.random() < often / 10:
        return dice.choice([HOSTILE, "", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59-12:00", 7])
    return value


def _spoilt(value: object, dice: random.Random) -> object:
    if isinstance(value, str):
        return f"{value} {HOSTILE}" if dice.random() < 0.5 else value
    return _worsened(value, dice)


DAMAGES: tuple[Damage, ...] = (_flipped, _cut, _swapped, _hostile, _hostile)


class BadStores:
    """Makes bad stores, one after another, and runs commands on each."""

    def __init__(self, room: Path, dice: random.Random) -> None:
        self._room, self._dice = room / "stores", dice
        self._original = make_store(self._room / "original")
        assert self._run(self._original, COMMANDS[3])[0] == 0
        self.survived = 0

    def once(self) -> None:
        """Raises AssertionError for a trace, a fault, or a text that drives a terminal."""
        store = self._room / "bad"
        shutil.copytree(self._original, store)
        files = [path for path in sorted(store.rglob("*.json*")) if "backups" not in path.parts]
        for path in self._dice.sample(files, self._dice.randint(1, len(files))):
            path.write_bytes(self._dice.choice(DAMAGES)(path.read_bytes(), self._dice))
        for words in COMMANDS:
            status, printed = self._run(store, words)
            assert status in (0, 1), (words, printed)
            assert "internal error" not in printed, (words, printed)
            assert "Traceback" not in printed, (words, printed)
            assert not DRIVING & set(printed), (words, printed)
        shutil.rmtree(store)
        self.survived += 1

    @staticmethod
    def _run(store: Path, words: tuple[str, ...]) -> tuple[int, str]:
        output = io.StringIO()
        with redirect_stdout(output), redirect_stderr(output):
            status = main(["--store", str(store), "--today", "2026-03-02", *words])
        return status, output.getvalue()
