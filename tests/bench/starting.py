"""From the command to the day on the screen, beside a bare Textual app."""

import time
from functools import cache
from pathlib import Path
from statistics import median

from tests.bench.sizes import TODAY, store_of
from tests.bench.table import Row
from tests.bench.terminal import Terminal

RUNS = 9
DAY = "Next sweep"
"""Stands at the foot of the day: when it is painted, so are the lines that can be chosen."""


def app(folder: Path, *words: str) -> Terminal:
    """Our app on a store, on the day the history ends."""
    return Terminal(["-m", "tui", "--store", str(folder), "--today", str(TODAY), *words])


def rows() -> list[Row]:
    """Medians of starts taken in turn; a store was opened before, on the same day."""
    real, tenfold = store_of(1), store_of(10)
    for folder in (real, tenfold):
        look_back(folder)
        _first(folder)  # keeps the history
    first = {folder: _first(folder) for folder in (real, tenfold)}
    bare, ours = [], {real: [], tenfold: []}
    for _ in range(RUNS):
        bare.append(_until(Terminal(["-m", "tests.bench.bare"]), "ready to go"))
        for folder, our in ours.items():
            our.append(_until(app(folder), DAY))
    return [
        ("bare Textual app: first screen", median(bare), "ms", None),
        ("the day on screen, real size", median(ours[real]) / median(bare), "× bare", 1.3),
        ("the day on screen, ten times", median(ours[tenfold]) / median(bare), "× bare", 2.5),
        ("no first screen kept, the history kept, real size", first[real] / median(bare),
         "× bare", 1.6),
        ("the same, ten times", first[tenfold] / median(bare), "× bare", 3),
    ]  # fmt: skip


@cache
def look_back(folder: Path) -> None:
    """Go on from the page on the week, that stands before the day once."""
    terminal = app(folder)
    terminal.until("Go on")
    terminal.rest()
    terminal.press("\r")
    terminal.rest()
    terminal.close()


def _until(terminal: Terminal, text: str) -> float:
    taken = terminal.until(text)
    terminal.close()
    return taken


def _first(folder: Path) -> float:
    """A start with nothing kept from before; then wait until the glance is kept."""
    kept = folder / "cache" / "glance.json"
    kept.unlink(missing_ok=True)
    terminal = app(folder)
    taken = terminal.until(DAY)
    while not kept.exists():
        terminal.settle(0.2)
        time.sleep(0.2)
    terminal.close()
    return taken
