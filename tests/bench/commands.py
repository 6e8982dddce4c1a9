"""Processor time of the commands, at the real size and at ten times it, beside `--help`.

Processor time, because it says the same on a busy machine. "Kept": nothing has changed since the
command ran last. "After a mark": a chapter was marked by another command just before.
"""

import os
import resource
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median
from time import perf_counter

from tests.bench.sizes import TODAY, store_of
from tests.bench.starting import forget
from tests.bench.table import Row, row_of
from tests.bench.terminal import NO_PYC, ROOT

SIZES = (1, 10)
RUNS, PATIENCE = 5, 20.0
"""Runs of each command, and the seconds after which two are enough."""
MARK = ("mark", "--subject", "Subject 2", "--chapter", "1", "--rest", "right", "--correct")
COMMANDS: tuple[tuple[Sequence[str], float, float], ...] = (
    (("today",), 3, 5),
    (("triage",), 3, 5),
    (("plan",), 3, 5),
    (("sweep", "--minutes", "30"), 5, 10),
    (("report",), 5, 10),
)
"""Words, and the goals at both sizes in times `--help`."""


def rows() -> Iterator[Row]:
    """Each in turn with `--help`, in times the median of that."""
    for times in SIZES:
        folder = store_of(times)
        _taken(folder, MARK)
        yield _row(f"mark at {times} ×", folder, MARK, (2.5, 4)[times > 1])
        for words, *goals in COMMANDS:
            _taken(folder, words)
            for state in ("kept", "after a mark"):
                name = f"{words[0]} at {times} ×, {state}"
                yield _row(name, folder, words, goals[times > 1], state)
        yield _row(f"today at {times} ×, nothing kept", folder, ("today",), None, "nothing kept")


def _row(
    name: str, folder: Path, words: Sequence[str], goal: float | None, state: str = "kept"
) -> Row:
    helps, taken, begin = [], [], perf_counter()
    while len(taken) < (RUNS if perf_counter() - begin < PATIENCE else 2):
        helps.append(_taken(folder, ("--help",)))
        if state == "after a mark":
            _taken(folder, MARK)
        elif state == "nothing kept":
            forget(folder, "*")
        taken.append(_taken(folder, words))
    return row_of(name, taken, median(helps), "× --help", goal)


def _taken(folder: Path, words: Sequence[str]) -> float:
    """Seconds of processor time of one run."""
    line = [sys.executable, "-m", "tui", "--store", str(folder), "--today", str(TODAY), *words]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    environment.pop(NO_PYC, None)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(line, cwd=ROOT, env=environment, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
