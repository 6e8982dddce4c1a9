"""What the palette (ctrl+p) offers: made of the same declarations as the footer."""

from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING

from textual.app import SystemCommand
from textual.screen import Screen

from tui.actions import key_words

if TYPE_CHECKING:
    from tui.app import Resieve


def entries(app: "Resieve", screen: Screen) -> Iterable[SystemCommand]:
    """This screen's actions, then those that work everywhere."""
    from tui.app import GLOBAL
    from tui.room import Room

    own = screen.all_actions() if isinstance(screen, Room) else ()
    for action in (*own, *GLOBAL):
        if not action.palette:
            continue
        node = app if action in GLOBAL else screen
        title = f"{action.label}  ({key_words(action.key, only_first=True)})"
        yield SystemCommand(title, action.words, partial(_run, app, action.name, node))


async def _run(app: "Resieve", name: str, node: object) -> None:
    await app.run_action(name, node)
