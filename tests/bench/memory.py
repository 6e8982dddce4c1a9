"""The most memory that the running app takes: a drill, a list of everything, then Progress."""

from collections.abc import Iterator

from tests.bench.keys import PROGRESS, sitting
from tests.bench.sizes import store_of
from tests.bench.starting import forget, look_back
from tests.bench.table import Row
from tests.bench.terminal import Terminal

TRIAGE = "\x1bOS"
"""F4, as a terminal sends it."""


def rows() -> Iterator[Row]:
    """Peaks of the whole process, in MB: on the first start, then on one with the history kept."""
    bare = Terminal(["-m", "tests.bench.bare"])
    bare.until("ready to go")
    yield Row("bare Textual app", bare.peak(), "MB")
    bare.close()
    for times, goal in ((1, 100), (10, 350)):
        folder = store_of(times)
        look_back(folder)
        forget(folder, "*")
        for state, most in (("nothing kept", None), ("history kept", goal)):
            terminal = sitting("drill", folder)
            for key in ("a", TRIAGE, "j", "0"):
                terminal.finish(key)
            name = f"day, drill and list of all questions at {times} ×, {state}"
            yield Row(name, terminal.peak(), "MB", most)
            terminal.finish(PROGRESS)
            yield Row(f"the same and Progress at {times} ×, {state}", terminal.peak(), "MB", most)
            terminal.close()
