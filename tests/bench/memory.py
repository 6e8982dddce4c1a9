"""The most memory that the running app takes: the day, a list of everything, and a drill."""

from pathlib import Path

from tests.bench.sizes import store_of
from tests.bench.starting import DAY, app, look_back
from tests.bench.table import Row
from tests.bench.terminal import Terminal


def rows() -> list[Row]:
    """Peaks of the whole process, in MB."""
    bare = Terminal(["-m", "tests.bench.bare"])
    bare.until("ready to go")
    least = bare.peak()
    bare.close()
    return [
        ("bare Textual app", least, "MB", None),
        ("real size", _peak(store_of(1)), "MB", 150),
        ("ten times", _peak(store_of(10)), "MB", 600),
    ]


def _peak(folder: Path) -> float:
    look_back(folder)
    terminal = app(folder)
    terminal.until(DAY)
    terminal.rest()
    for key in ("t", "j", "0", "q", "\r", "a"):
        terminal.press(key)
        terminal.rest()
    peak = terminal.peak()
    terminal.close()
    return peak
