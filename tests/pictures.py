"""Draws the README's pictures from the demo: `python -m tests.pictures`."""

import asyncio
import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from textual.pilot import Pilot
from textual.screen import Screen

from banks.demo import make_demo
from banks.library import Library
from domain.responses import Purpose
from tests.tui.stage import Stage, settled
from tui.screens.drill import DrillScreen
from tui.screens.triage import TriageScreen

FOLDER = Path(__file__).parents[1] / ".pictures"
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
SIZE = (88, 26)
FACE = re.compile(r"@font-face \{.*?\}\s*", re.DOTALL)


def drill(library: Library) -> Screen:
    """A full question, answered."""
    wanted = [
        question.id
        for _, question in library.active_questions("observers-full-text")
        if question.tags and question.explanation and len(question.options) == 4
    ]
    sitting = library.open_sitting("Clouds", Purpose.FREE, wanted[3:23], seed=4)
    return DrillScreen(sitting)


async def draw(library: Library, name: str, make: Callable[[Library], Screen], *keys: str) -> None:
    """Press the keys on the screen and save what it shows."""
    app = Stage(library, make(library))
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, keys)
        picture = app.export_screenshot(title=f"resieve · {name}")
    # No font is to be fetched from anywhere, and every renderer is to keep the spaces.
    plain = FACE.sub("", picture).replace("<svg ", '<svg xml:space="preserve" ', 1)
    (FOLDER / f"{name}.svg").write_text(plain, encoding="utf-8")


async def press(pilot: Pilot, keys: tuple[str, ...]) -> None:
    """Press key by key and let the screen settle."""
    for key in keys:
        await pilot.press(key)
    await settled(pilot)
    await pilot.pause(0.3)


async def main() -> None:
    """Draw them all."""
    FOLDER.mkdir(exist_ok=True)
    with TemporaryDirectory() as folder:
        library = Library.open(make_demo(folder, lambda: NOW, 1), lambda: NOW)
        await draw(library, "drill", drill, "b")
        await draw(library, "triage", lambda _: TriageScreen(), "down", "down")
        library.close()


if __name__ == "__main__":
    asyncio.run(main())
