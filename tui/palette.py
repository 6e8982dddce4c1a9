"""What the palette (ctrl+p) offers: made of the same declarations as the footer."""

from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.app import SystemCommand
from textual.dom import DOMNode
from textual.screen import Screen

from tui.actions import Action, key_words

if TYPE_CHECKING:
    from tui.app import Resieve
    from tui.base_screen import AppScreen


def entries(app: "Resieve", screen: Screen[Any]) -> Iterable[SystemCommand]:
    """This screen's actions, then those that work everywhere; other screens' when looked for."""
    from tui.app import GLOBAL, SCREENS
    from tui.base_screen import AppScreen
    from tui.keymap import all_rooms

    said = set()
    if isinstance(screen, AppScreen):
        for action in screen.all_actions():
            said.add(action.description)
            yield from _entry(app, action, screen, screen.NAME)
    for action in GLOBAL:
        if action.description not in said:
            yield from _entry(app, action, app, "everywhere")
    for room in all_rooms():
        if room.NAME in SCREENS and getattr(screen, "NAME", "") != room.NAME:
            yield from _elsewhere(app, room)


def _entry(app: "Resieve", action: Action, node: DOMNode, group: str) -> Iterable[SystemCommand]:
    if action.palette:
        title = f"{action.label}  ({_key(app, action, group)})"
        yield SystemCommand(title, action.description, partial(_run, app, action.name, node))


def _elsewhere(app: "Resieve", room: "type[AppScreen]") -> Iterable[SystemCommand]:
    """Another screen's actions lead to that screen."""
    for action in room.ACTIONS:
        if action.palette and action.label:
            title = f"{action.label}: {action.description}"
            where = f"On the {room.HEADING} screen, key {_key(app, action, room.NAME)}."
            go = partial(app.action_visit, room.NAME)
            yield SystemCommand(title, where, go, discover=False)


def _key(app: "Resieve", action: Action, group: str) -> str:
    keys = app.library.settings.keys if app.is_ready else {}
    return key_words(keys.get(action.identity(group), action.key), only_first=True)


async def _run(app: "Resieve", name: str, node: DOMNode) -> None:
    await app.run_action(name, node)
