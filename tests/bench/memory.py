"""The most memory that the running app takes: a drill, a list of everything, then Progress."""

from collections.abc import Iterator

from tests.bench.keys import PROGRESS, sitting
from tests.bench.sizes import store_of
from tests.bench.starting import look_back
from tests.bench.table import Row
from tests.bench.terminal import Terminal

TRIAGE = "\x1bOS"
"""F4, as a terminal sends it."""


def rows() -> Iterator[Row]:
    """Peaks of the whole process, in MB."""
    bare = Terminal(["-m", "tests.bench.bare"])
    bare.until("ready to go")
    yield Row("bare Textual app", bare.peak(), "MB")
    bare.close()
    for times, goal in ((1, 100), (10, 350)):
        look_back(store_of(times))
        terminal = sitting("drill", store_of(times))
        for key in ("a", TRIAGE, "j", "0"):
            terminal.finish(key)
        yield Row(f"day, drill and list of all questions at {times} ×", terminal.peak(), "MB", goal)
        terminal.finish(PROGRESS)
        yield Row(f"the same and Progress at {times} ×", terminal.peak(), "MB", goal)
        terminal.close()
