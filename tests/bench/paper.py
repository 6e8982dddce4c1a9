"""How long a mark takes: the longest chapter there is, in a store with a whole history."""

import asyncio
import tempfile
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter

from banks.contents import Location
from banks.library import Library
from banks.sittings.printed_sitting import PrintedSitting, list_scope
from domain.printed.marking_grid import MarkingGrid
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.bench.sizes import REAL_RESPONSES, write_store
from tests.builders import bank, bares, chapter_sitting
from tests.tui.stage import Stage
from tui.screens.printed_marking import PrintedMarkingScreen

Row = tuple[str, float, str, float | None]
"""Name, measured, unit, goal (None where there is none)."""
QUESTIONS, MARKS = 600, 200


def rows() -> list[Row]:
    """One mark on a chapter of 600 in a store with 60,000 responses, in milliseconds."""
    with tempfile.TemporaryDirectory() as folder:
        library = Library.open(write_store(Path(folder)))
        library.save_bank(bank("Long", {"Long": {"Chapter": bares(QUESTIONS)}}))
        store = f"{REAL_RESPONSES:,} responses, {QUESTIONS} questions"
        saved = _recorded(library)
        painted = asyncio.run(_painted(library))
    return [
        (f"mark saved, median ({store})", median(saved), "ms", 5),
        (f"key → mark saved and painted, median ({store})", median(painted), "ms", 16),
        (f"key → mark saved and painted, p95 ({store})", _p95(painted), "ms", 16),
    ]


def _place(library: Library) -> Location:
    book = library.banks["long"]
    return Location(book, book.subjects[0], book.subjects[0].chapters[0])


def _recorded(library: Library) -> list[float]:
    """Milliseconds for each of many marks to be on the drive and graded."""
    go = PrintedSitting(
        library, list_scope(library, *chapter_sitting(_place(library), Purpose.FREE))
    )
    grid = MarkingGrid(go.parts())
    taken = []
    for slot in range(MARKS):
        grid.go(slot)
        begun = perf_counter()
        go.record(grid.judge(Verdict.WRONG), [grid.slots[slot]], QUESTIONS - slot)
        taken.append((perf_counter() - begun) * 1000)
    return taken


async def _painted(library: Library) -> list[float]:
    """Milliseconds from a key's arrival to the screen's last painting for it."""
    app = Stage(library, PrintedMarkingScreen(*chapter_sitting(_place(library), Purpose.REVISION)))
    taken = []
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("s")
        screen, painted = app.screen, [0.0]
        paint = app._display

        def noting(*shown: object) -> None:
            paint(*shown)
            painted.append(perf_counter())

        app._display = noting
        for _ in range(MARKS):
            begun = perf_counter()
            app.simulate_key("j")
            await asyncio.sleep(0.06)
            taken.append((painted[-1] - begun) * 1000)
        assert len(screen.grid.marks) == MARKS
    return taken


def _p95(figures: list[float]) -> float:
    return quantiles(figures, n=20)[-1]


if __name__ == "__main__":
    for name, figure, unit, goal in rows():
        print(f"{name}: {figure:.2f} {unit} (goal {goal})")
