"""From the command to the day on the screen, beside a bare Textual app."""

import random
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from banks.clock import pretend_clock
from banks.library import Library
from banks.store.log import line_of
from banks.views.kept_views import files_of, keep_later_snapshots
from banks.views.week import remember_week, week_due
from tests.bench.sizes import SUBJECT, TODAY, first_question, response_of, store_of
from tests.bench.table import Row, row_of
from tests.bench.terminal import Terminal

RUNS = 9


def nothing_new(_: Path) -> None:
    """All is as it was when the app was left."""


def synced(folder: Path) -> None:
    """Another machine has recorded a response."""
    at = datetime.combine(TODAY, datetime.now(UTC).time(), UTC)
    record = response_of(time.time_ns(), at, first_question(folder), random.Random())
    with (folder / "log" / f"{TODAY:%Y-%m}.elsewhere-00000000.jsonl").open("ab") as log:
        log.write(line_of(record))


def forgotten(folder: Path) -> None:
    """The store was restored, or is on a new machine."""
    forget(folder, "*")


STATES = (
    ("kept from before", nothing_new, 0, 1.3, 2.5),
    ("two days skipped", nothing_new, 3, 1.6, 3),
    ("after a sync", synced, 0, 1.6, 3),
    ("nothing kept", forgotten, 0, 1.6, 3),
)
"""What was done before a start, after how many days it is, goals at both sizes."""


def app(folder: Path, *words: str, days: int = 0) -> Terminal:
    """Our app on a store, so many days after the history ends."""
    today = str(TODAY + timedelta(days=days))
    return Terminal(["-m", "tui", "--store", str(folder), "--today", today, *words])


def rows() -> Iterator[Row]:
    """Starts taken in turn; what is painted is waited for by the bank's words, not the screen's."""
    bare: list[float] = []
    for times in (1, 10):
        folder = store_of(times)
        _opened(folder)
        for state, prepare, days, *goals in STATES:
            ours = []
            for _ in range(RUNS if times == 1 else RUNS // 3):
                bare.append(_until(Terminal(["-m", "tests.bench.bare"]), "ready to go"))
                prepare(folder)
                ours.append(_until(app(folder, days=days), SUBJECT))
                if days or prepare is not nothing_new:
                    _opened(folder)
            name = f"first screen at {times} ×, {state}"
            yield row_of(name, ours, median(bare), "× bare", goals[times > 1])
    yield row_of("bare Textual app: first screen", bare, 1, "ms", None)


def forget(folder: Path, names: str) -> None:
    """Remove files of `cache/`, but not that the page on the week was looked at."""
    for path in (folder / "cache").glob(names):
        if not path.name.startswith("week"):
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
    forget(folder, "glance*")
    look_back(folder)
    terminal = app(folder)
    terminal.until(SUBJECT)
    terminal.rest()
    while not (folder / "cache/glance.json").exists():
        time.sleep(0.2)
        terminal.rest()
    terminal.close()
    library = Library.open(folder, pretend_clock(TODAY), read_only=True)
    keep_later_snapshots(library, files_of(folder))
    library.close()
