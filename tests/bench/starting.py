"""From the command to the day on the screen, beside a bare Textual app."""

import time
from fnmatch import fnmatch
from pathlib import Path
from statistics import median

from banks.clock import pretend_clock
from banks.library import Library
from banks.views.week import remember_week, week_due
from tests.bench.sizes import SUBJECT, TODAY, store_of
from tests.bench.table import Row, row_of
from tests.bench.terminal import Terminal

RUNS = 9
STATES = (
    ("kept from before", "", 1.3, 2.5),
    ("history kept", "glance*", 1.6, 3),
    ("nothing kept", "*", 1.6, 3),
)
"""What a start finds, which files of `cache/` are removed for that, goals at both sizes."""


def app(folder: Path, *words: str) -> Terminal:
    """Our app on a store, on the day the history ends."""
    return Terminal(["-m", "tui", "--store", str(folder), "--today", str(TODAY), *words])


def rows() -> list[Row]:
    """Starts taken in turn; what is painted is waited for by the bank's words, not the screen's."""
    made, bare = [], []
    for times in (1, 10):
        folder = store_of(times)
        _opened(folder)
        for state, removed, *goals in STATES:
            ours = []
            for _ in range(RUNS if times == 1 else RUNS // 3):
                bare.append(_until(Terminal(["-m", "tests.bench.bare"]), "ready to go"))
                forget(folder, removed)
                ours.append(_until(app(folder), SUBJECT))
                if removed:
                    _opened(folder)
            name = f"first screen at {times} ×, {state}"
            made.append(row_of(name, ours, median(bare), "× bare", goals[times > 1]))
    return [row_of("bare Textual app: first screen", bare, 1, "ms", None), *made]


def forget(folder: Path, names: str) -> None:
    """Remove files of `cache/`, but not that the page on the week was looked at."""
    for path in (folder / "cache").iterdir():
        if fnmatch(path.name, names) and not path.name.startswith("week"):
            path.unlink()


def look_back(folder: Path) -> None:
    """Nothing stands before the day: the week has been looked at."""
    library = Library.open(folder, pretend_clock(TODAY))
    if first := week_due(library):
        remember_week(library, first)
    library.close()


def _until(terminal: Terminal, text: str) -> float:
    taken = terminal.until(text)
    terminal.close()
    return taken


def _opened(folder: Path) -> None:
    """Open the app until everything that the next start can use is kept."""
    look_back(folder)
    terminal = app(folder)
    terminal.until(SUBJECT)
    terminal.rest()
    while not (folder / "cache/glance.json").exists():
        time.sleep(0.2)
        terminal.rest()
    terminal.close()
