"""A chapter on paper for tests: a store with it, the screen on it, keys typed, marks read back."""

import asyncio
from pathlib import Path

from textual.app import App
from textual.events import Key
from textual.pilot import Pilot

from banks.contents import Location
from banks.library import Library
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.questions import Question
from domain.responses import Purpose
from domain.verdicts import Confidence
from tests.builders import FakeClock, bank, bares, chapter_sitting, keyed
from tests.tui.stage import Stage
from tui.screens.printed_marking import PrintedMarkingScreen

KEY = "bcad"
NAMES = {
    " ": "space", "\n": "enter", "?": "question_mark", "-": "minus", ".": "full_stop", ",": "comma",
    "+": "plus", "<": "less_than_sign", ">": "greater_than_sign",
    "⌫": "backspace", "→": "right", "↑": "up", "⇱": "home", "␛": "escape",
}  # fmt: skip
"""How the keys that are no letter or digit are called; those behind `>` have no character."""


class Ticking(FakeClock):
    """A clock that goes on a second at each look."""

    def __call__(self):
        self.go_on(seconds=1)
        return self.at


class Unhurried(System):
    """Leaves flushing to the system: for tests of very many marks."""

    def fsync(self, fd: int) -> None:
        """Nothing."""


def opened(
    folder: Path,
    count: int = 105,
    *,
    has_key: bool = False,
    system: System | None = None,
    first: Question | None = None,
) -> Library:
    """A store with a chapter of so many questions, `first` in the place of the first of them."""
    made = [keyed(n, KEY[n % 4]) for n in range(1, count + 1)] if has_key else bares(count)
    made[:1] = [first] if first else made[:1]
    library = Library(Store.open(folder, system=system), Ticking())
    library.save_bank(bank("Book", {"Instruments": {"Barometers": made, "Vanes": bares(40)}}))
    return library


def place(library: Library, chapter: int = 0) -> Location:
    (book,) = library.banks.values()
    return Location(book, book.subjects[0], book.subjects[0].chapters[chapter])


def paper(library: Library, **span: int) -> Stage:
    return Stage(
        library, PrintedMarkingScreen(*chapter_sitting(place(library), Purpose.REVISION, **span))
    )


async def type_keys(pilot: Pilot, text: str) -> None:
    await pilot.press(*(NAMES.get(character, character) for character in text))


async def burst(app: App, text: str) -> None:
    """Post all keys at once, as a fast hand over a slow line does; return when they are done."""
    for character in text:
        name = NAMES.get(character, character)
        is_typed = len(name) == 1 or character in " ?-.,+<>"
        app.post_message(Key(name, character if is_typed else None))
    done = asyncio.Event()
    app.call_later(lambda: app.screen.call_later(done.set))
    await done.wait()


def told(library: Library, chapter: str = "barometers") -> dict[int, str]:
    """What is on record, by number: the verdict's first letter, capital if unsure."""
    letters = {}
    for at, question in library.active_questions():
        for response in library.history.responses(question.id):
            if at.chapter.id.endswith(chapter):
                letter = library.history.verdict(response)[0]
                is_sure = response.confidence is Confidence.SURE
                letters[question.number] = letter if is_sure else letter.upper()
    return letters


def spelled(library: Library, count: int) -> str:
    letters = told(library)
    return "".join(letters.get(number, ".") for number in range(1, count + 1))
