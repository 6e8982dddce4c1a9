"""A stage on which one screen is tried out: the app with a library already open."""

from pathlib import Path
from time import monotonic

from textual.app import App
from textual.events import Mount, Paste
from textual.pilot import Pilot
from textual.screen import Screen

import tui.app
from banks.library import Library
from tui import theme
from tui.app import Resieve
from tui.base_screen import AppScreen

_TWO_FRAMES = 1 / 30
_MOST_PAUSES = 30


class Themed(App):
    """A bare app that knows the colours of our themes."""

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Those of the dark one."""
        return theme.DARK.variables


class Wings(AppScreen):
    """What lies under the screen on stage, so that there is somewhere to go back to."""

    NAME = "wings"


class Stage(Resieve):
    """The app, opened at once on a library, with one screen on top of an empty one."""

    CSS_PATH = Path(tui.app.__file__).with_name(Resieve.CSS_PATH)

    def __init__(self, library: Library, screen: Screen) -> None:
        super().__init__(lambda read_only: library)
        self._first = screen

    def get_default_screen(self) -> Screen:
        """Not Today, so that only the screen on stage acts."""
        return Wings()

    def on_mount(self, event: Mount) -> None:
        """No store is read."""
        event.prevent_default()
        self._opened(self._open_library(False))
        self.push_screen(self._first)


def text_of(app: App) -> str:
    """What the terminal shows, as lines of text."""
    return screen_text(app.screen)


def screen_text(screen: Screen) -> str:
    """What a screen shows, whatever lies on it, as lines of text."""
    strips = screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips)


def messages_of(app: App) -> list[str]:
    """What is told in passing, on the screens from the bottom up."""
    screens = (screen for screen in app.screen_stack if isinstance(screen, AppScreen))
    return [screen.message for screen in screens if screen.message]


async def settled(pilot: Pilot) -> str:
    """What the terminal shows once everything asked for is laid out and drawn.

    That takes two frames, of a process that is given its time: a longer pause tells nothing.
    """
    for _ in range(_MOST_PAUSES):
        begun = monotonic()
        await pilot.pause(_TWO_FRAMES)
        if monotonic() - begun < 2 * _TWO_FRAMES:
            break
    return text_of(pilot.app)


async def put_text(pilot: Pilot, text: str) -> None:
    """Put a text into the focused field at once, as pasting does."""
    pilot.app.screen.focused.post_message(Paste(text))
    await pilot.pause()


async def type_text(pilot: Pilot, text: str) -> None:
    """Type a text key by key."""
    for character in text:
        await pilot.press("space" if character == " " else character)
