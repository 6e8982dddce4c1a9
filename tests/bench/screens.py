"""How long the keys of Drill, Triage and Bank take, at the real size and at ten times it."""

import asyncio
import gc
import tempfile
from collections.abc import Iterable
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter

from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

from banks.library import Library
from banks.views.listing import Listing
from banks.views.triage import Filter, by_urgency
from domain.responses import Purpose
from domain.tiers import HARD_TIERS
from tests.bench.sizes import WORDS, write_store
from tests.tui.stage import Stage
from tui.screens.bank import BankScreen
from tui.screens.drill import DrillScreen
from tui.screens.triage import TriageScreen

Row = tuple[str, float, str, float | None]
"""Name, measured, unit, goal (None where there is none)."""
SITTING = 200
TYPED = [word[:end] for word in WORDS[:12] for end in range(1, len(word) + 1)]
"""Everything that stands in the search line while twelve words are typed."""


def rows(times: int = 1) -> list[Row]:
    """The figures at `times` the real size, in milliseconds."""
    with tempfile.TemporaryDirectory() as folder:
        library = Library.open(write_store(Path(folder), times))
        size = f"{sum(len(bank.questions) for bank in library.banks.values()):,} questions"
        answers, nexts = asyncio.run(_drilled(library))
        searches = asyncio.run(_searched(library, BankScreen()))
        moves = asyncio.run(_moved(library))
        filters = _filtered(library)
    return [
        (f"key → response saved and feedback painted, median ({size})", median(answers), "ms", 16),
        (f"key → response saved and feedback painted, p95 ({size})", _p95(answers), "ms", 16),
        (f"key → next question painted, p95 ({size})", _p95(nexts), "ms", 16),
        (f"filter of the triage list, p95 ({size})", _p95(filters), "ms", 100),
        (f"move in the triage list painted, p95 ({size})", _p95(moves), "ms", 16),
        (f"letter typed → questions found and listed, p95 ({size})", _p95(searches), "ms", 100),
    ]


async def _drilled(library: Library) -> tuple[list[float], list[float]]:
    names = [q.id for bank in library.banks.values() for q in bank.questions.values() if q.stem]
    sitting = library.open_sitting("Bench", Purpose.FREE, names[:SITTING], 1)
    app = Stage(library, DrillScreen(sitting))
    async with app.run_test(size=(80, 24)) as pilot:
        gc.freeze()  # as the app does once the store is open
        await pilot.pause(0.2)
        times = await _painted(pilot, [key for _ in range(SITTING) for key in ("a", "enter")])
    return times[::2], times[1::2]


async def _moved(library: Library) -> list[float]:
    app = Stage(library, TriageScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause(0.2)
        return await _painted(pilot, ["j"] * 60 + ["pagedown"] * 30)


async def _painted(pilot: Pilot, keys: Iterable[str]) -> list[float]:
    """Milliseconds from each key's arrival to the screen's last painting for it."""
    app, painted, taken = pilot.app, [0.0], []
    paint = app._display

    def noting(*shown: object) -> None:
        paint(*shown)
        painted.append(perf_counter())

    app._display = noting
    for key in keys:
        begun = perf_counter()
        app.simulate_key(key)
        await asyncio.sleep(0.06)
        taken.append((painted[-1] - begun) * 1000)
    return taken


async def _searched(library: Library, screen: Screen) -> list[float]:
    app, taken = Stage(library, screen), []
    async with app.run_test(size=(80, 24)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause(0.2)
        for text in TYPED:
            with screen.prevent(Input.Changed):
                screen.query_one("#search", Input).value = text
            begun = perf_counter()
            screen.look()
            taken.append((perf_counter() - begun) * 1000)
            await pilot.pause(0)
    return taken


def _filtered(library: Library) -> list[float]:
    listing, taken = Listing(library, by_urgency), []
    tiers = frozenset(HARD_TIERS)
    for chosen in (
        Filter(), Filter(tiers=tiers), Filter(missed=2), Filter(bank="book", subject="s3"),
        Filter(bank="book", subject="s3", chapter="s3.c4"), Filter(tiers=tiers, missed=3),
    ) * 10:  # fmt: skip
        begun = perf_counter()
        listing.find(chosen)
        taken.append((perf_counter() - begun) * 1000)
    return taken


def _p95(figures: list[float]) -> float:
    return quantiles(figures, n=20)[-1]


if __name__ == "__main__":
    for name, figure, unit, goal in [*rows(), *rows(10)]:
        print(f"{name}: {figure:.2f} {unit} (goal {goal})")
