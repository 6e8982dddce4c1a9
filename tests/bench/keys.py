"""From a key to the last byte painted, through a pseudo-terminal, the durable write included."""

from collections.abc import Iterator
from pathlib import Path
from statistics import median

from tests.bench.sizes import store_of
from tests.bench.starting import look_back
from tests.bench.table import Row, p95, row_of
from tests.bench.terminal import Terminal

KEYS = 72
FRAME = 16
"""Milliseconds of a frame; at ten times the size a fifth more is let pass."""
SWEEP, PROGRESS = "\x1b[15~", "\x1b[19~"
"""F5 and F8, as a terminal sends them."""


def rows() -> Iterator[Row]:
    """Drill (answer, next) and grid (mark, undo) beside a bare app, then Sweep and Progress."""
    for times, goal in ((1, 1.5), (10, 1.6)):
        folder = store_of(times)
        look_back(folder)
        bare, bare_work = _pressed(_bare(), "abcd" * (KEYS // 4))
        yield row_of(f"bare app at {times} ×: key → painted", bare, 1, "ms", None)
        for way, keys, most in (("drill", "a ", goal), ("grid", "ju", None)):
            taken, work = _pressed(sitting(way, folder), keys * (KEYS // 2))
            name, frames = f"{way} at {times} ×: key", FRAME if times == 1 else 1.2 * FRAME
            yield row_of(f"{name} → painted", taken, median(bare), "× bare", most)
            yield Row(f"{name}'s processor time, on average", work / bare_work, "× bare")
            yield Row(f"{name} → painted, p95", p95(taken), "ms", frames)
        yield from _figures(folder, times)


def _figures(folder: Path, times: int) -> Iterator[Row]:
    """From the key to the last byte of what Sweep and Progress have to say, in the open app."""
    goal = 100 if times == 1 else 300
    for name, key in (("Sweep", SWEEP), ("Progress", PROGRESS)):
        terminal = sitting("drill", folder)
        terminal.press("a")
        terminal.rest()
        label = f"{name} at {times} ×: key → final figures"
        yield Row(f"{label}, after a response", terminal.finish(key), "ms", goal)
        again = []
        for _ in range(3):
            terminal.press("\x1bOQ")  # F2: Today
            terminal.rest()
            again.append(terminal.finish(key))
        yield row_of(f"{label}, again", again, 1, "ms", goal)
        terminal.close()


def sitting(way: str, folder: Path) -> Terminal:
    """The app with a drill or the grid open, everything loaded and quiet."""
    terminal = Terminal(["-m", "tests.bench.sitting", way, str(folder)])
    terminal.rest()
    return terminal


def _bare() -> Terminal:
    terminal = Terminal(["-m", "tests.bench.bare"])
    terminal.until("ready to go")
    return terminal


def _pressed(terminal: Terminal, keys: str) -> tuple[list[float], float]:
    """Milliseconds until each key was painted, and those on the processor for all of them."""
    for key in keys[:6]:
        terminal.press(key)
    before = terminal.worked()
    taken = [terminal.press(key) for key in keys]
    work = terminal.worked() - before
    terminal.close()
    return taken, work
