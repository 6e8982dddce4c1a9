"""Processor time of the commands, at the real size and at ten times it, beside `--help`.

The store is unchanged since the first run unless a row says otherwise; the daily copy is made by
then. Processor time, because it says the same on a busy machine.
"""

import os
import resource
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median

from tests.bench.sizes import TODAY, store_of
from tests.bench.table import Row
from tests.bench.terminal import NO_PYC, ROOT

RUNS = 5
MARK = ("mark", "--subject", "Subject 2", "--chapter", "1", "--rest", "right", "--correct")
SWEEP = ("sweep", "--minutes", "30")
COMMANDS: tuple[tuple[str, Sequence[str], str, float, float], ...] = (
    ("today", ("today",), "", 3, 5),
    ("triage", ("triage",), "", 3, 5),
    ("plan", ("plan",), "", 3, 5),
    ("mark", MARK, "", 2.5, 4),
    ("today after a change", ("today",), "mark", 3, 5),
    ("plan after a change", ("plan",), "mark", 3, 5),
    ("sweep", SWEEP, "", 5, 10),
    ("report", ("report",), "", 5, 10),
    ("sweep after a change", SWEEP, "mark", 5, 10),
    ("report after a change", ("report",), "mark", 5, 10),
    ("today with nothing kept", ("today",), "*", 99, 99),
)
"""Name, words, what of `cache/` is removed before each run ("mark": something is marked instead),
and the goals at both sizes in times `--help`."""


def rows() -> Iterator[Row]:
    """Medians and worst, in times the median of `--help` taken in turn."""
    for times in (1, 10):
        folder = store_of(times)
        for _, words, *_ in COMMANDS:
            _taken(folder, words)
        for name, words, without, *goals in COMMANDS:
            helps, taken = [], []
            for _ in range(RUNS if times == 1 else 3):
                helps.append(_taken(folder, ("--help",)))
                _prepare(folder, without)
                taken.append(_taken(folder, words))
            bare, goal = median(helps), goals[times > 1]
            goal_told = goal if goal < 99 else None
            yield f"{name} at {times} ×", median(taken) / bare, "× --help", goal_told
            yield f"{name} at {times} ×, worst", max(taken) / bare, "× --help", None


def _prepare(folder: Path, without: str) -> None:
    if without == "mark":
        _taken(folder, MARK)
    elif without:
        for path in folder.glob(f"cache/{without}.packed"):
            path.unlink()


def _taken(folder: Path, words: Sequence[str]) -> float:
    """Seconds of processor time of one run."""
    line = [sys.executable, "-m", "tui", "--store", str(folder), "--today", str(TODAY), *words]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    environment.pop(NO_PYC, None)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(line, cwd=ROOT, env=environment, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
