"""From a key to the last byte painted, through a pseudo-terminal, the durable write included."""

from collections.abc import Iterable
from pathlib import Path
from statistics import median

from tests.bench.sizes import store_of
from tests.bench.starting import DAY, app, look_back
from tests.bench.table import Row, p95
from tests.bench.terminal import Terminal

KEYS = 72
FRAME = 16
"""Milliseconds of a frame; at ten times the size a fifth more is let pass."""
ENTER = "\r"


def rows() -> list[Row]:
    """Drill (answer, next) and paper (mark, undo) at both sizes, beside a bare app."""
    bare = _bare()
    made: list[Row] = [
        ("bare Textual app, median", median(bare), "ms", None),
        ("bare Textual app, p95", p95(bare), "ms", None),
    ]
    drills = {times: _drill(store_of(times)) for times in (1, 10)}
    papers = {times: _paper(store_of(times)) for times in (1, 10)}
    for name, times in (("drill", drills), ("paper", papers)):
        made += _rows(name, times, bare)
    return made


def _rows(name: str, times: dict[int, list[float]], bare: list[float]) -> Iterable[Row]:
    yield f"{name}: key → painted, real size, median", median(times[1]), "ms", None
    yield f"{name}: the same", median(times[1]) / median(bare), "× bare", None
    yield f"{name}: key → painted, real size, p95", p95(times[1]), "ms", FRAME
    yield f"{name}: the same", p95(times[1]) / p95(bare), "× bare p95", None
    yield f"{name}: p95 at ten times the size", p95(times[10]), "ms", 1.2 * FRAME


def _bare() -> list[float]:
    terminal = Terminal(["-m", "tests.bench.bare"])
    terminal.until("ready to go")
    return _pressed(terminal, "abcd" * (KEYS // 4))


def _drill(folder: Path) -> list[float]:
    terminal = _begun(folder, ENTER)
    return _pressed(terminal, "a " * (KEYS // 2))


def _paper(folder: Path) -> list[float]:
    terminal = _begun(folder, "jo")
    return _pressed(terminal, "ju" * (KEYS // 2))


def _begun(folder: Path, keys: str) -> Terminal:
    """The app after these keys on the day's first line, everything loaded and quiet."""
    look_back(folder)
    terminal = app(folder)
    terminal.until(DAY)
    terminal.rest()
    for key in keys:
        terminal.press(key)
    terminal.rest()
    return terminal


def _pressed(terminal: Terminal, keys: str) -> list[float]:
    for key in keys[:6]:
        terminal.press(key)
    taken = [terminal.press(key) for key in keys]
    terminal.close()
    return taken
