"""The files that one act passes through, by tracing: `python -m tests.paths`.

A file counts where a function of its own is called, helpers of helpers too, so this is the most a
reader may have to open, and more than DEVELOPERS.md names. With the name of an act the functions
called in each file are printed as well.
"""

import asyncio
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, redirect_stdout
from datetime import UTC, datetime
from inspect import CO_OPTIMIZED
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from types import CodeType, FrameType

from banks.demo.making import make_demo
from banks.library import Library
from domain.responses import Purpose
from tests.house import PACKAGES, ROOT
from tests.tui.stage import Stage, settled
from tui.cli import main
from tui.screens.drill import DrillScreen
from tui.screens.today import TodayScreen

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
CSV = """subject,chapter,number,stem,a,b,key
Clouds,High,1,Which cloud is thinnest?,Cirrus,Nimbus,a
Clouds,High,2,Which cloud rains?,Cirrus,Nimbus,b
"""

Calls = dict[str, list[str]]
"""The functions called in each file, both in the order of their first call."""


@contextmanager
def noted() -> Iterator[Calls]:
    """What is called in our own packages meanwhile, threads begun meanwhile included."""
    codes: dict[CodeType, None] = {}

    def note(frame: FrameType, event: str, _: object) -> None:
        if event == "call":
            codes.setdefault(frame.f_code)

    calls: Calls = {}
    threading.setprofile(note)
    sys.setprofile(note)
    try:
        yield calls
    finally:
        sys.setprofile(None)
        threading.setprofile(None)
    for code in codes:
        path = Path(code.co_filename)
        if path.is_relative_to(ROOT) and code.co_flags & CO_OPTIMIZED:  # no body of a module
            name = path.relative_to(ROOT).as_posix()
            if name.startswith(PACKAGES):
                calls.setdefault(name, []).append(code.co_qualname)


def drill_key(folder: Path) -> Calls:
    """A letter in the middle of a sitting, until its feedback is painted."""
    library = Library.open(folder, lambda: NOW)
    questions = [question for _, question in library.active_questions() if question.stem]

    async def press() -> Calls:
        chosen = [question.id for question in questions if len(question.options) == 4]
        sitting = library.open_sitting("Drill", Purpose.FREE, chosen[:9])
        app = Stage(library, DrillScreen(sitting, lambda: 0.0))
        async with app.run_test() as pilot:
            for key in ("a", "space") * 3:
                await pilot.press(key)
                await settled(pilot)
            with noted() as calls:
                await pilot.press("b")
                await settled(pilot)
        return calls

    with closing(library):
        return asyncio.run(press())


def today(folder: Path) -> Calls:
    """Today of an open store, until it is painted."""

    async def look() -> Calls:
        with noted() as calls:
            app = Stage(library, TodayScreen())
            async with app.run_test() as pilot:
                await app.workers.wait_for_complete()
                await settled(pilot)
        return calls

    with closing(Library.open(folder, lambda: NOW)) as library:
        return asyncio.run(look())


def csv_import(folder: Path) -> Calls:
    """`import` of a CSV file into a new bank, from the command line to the store."""
    file = folder / "clouds.csv"
    file.write_text(CSV, encoding="utf-8")
    return _command(folder, "import", str(file), "--bank", "Clouds")


def plan(folder: Path) -> Calls:
    """`plan`, from the command line to the last line printed."""
    return _command(folder, "plan")


def _command(folder: Path, *words: str) -> Calls:
    with noted() as calls, redirect_stdout(StringIO()):
        main(["--store", str(folder), "--today", NOW.date().isoformat(), *words])
    return calls


ACTS: dict[str, Callable[[Path], Calls]] = {
    "drill-key": drill_key,
    "today": today,
    "import": csv_import,
    "plan": plan,
}


def print_paths(names: list[str]) -> None:
    """One line per act, or per file of those named."""
    for name, act in ACTS.items():
        if names and name not in names:
            continue
        with TemporaryDirectory() as folder:
            calls = act(make_demo(Path(folder, "demo"), lambda: NOW))
        print(f"{name:<12}{len(calls)} files, {sum(map(len, calls.values()))} functions")
        for file, functions in calls.items() if names else ():
            print(f"  {file}: {', '.join(functions)}")


if __name__ == "__main__":
    print_paths(sys.argv[1:])
