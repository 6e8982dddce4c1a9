"""Other keys for actions: which there are, which may be used, which clash."""

import pkgutil
from collections.abc import Iterator
from importlib import import_module

from msgspec import Struct

from tui import screens
from tui.actions import Action
from tui.app import GLOBAL, SCREENS
from tui.base_screen import AppScreen

RESERVED = {"tab", "shift+tab", "ctrl+p", "ctrl+c", "ctrl+q"}
"""Keys that keep their meaning everywhere."""


class KeyRow(Struct, frozen=True):
    """An action whose key can be set; `identity` is its name in the settings."""

    group: str
    action: Action
    identity: str

    @property
    def room(self) -> str:
        """The name of the screen, or "everywhere"."""
        return self.identity.partition(".")[0]


def all_rooms() -> list[type[AppScreen]]:
    """Every screen that has keys of its own: those one can go to, then those that open on them."""
    for module in pkgutil.iter_modules(screens.__path__, f"{screens.__name__}."):
        import_module(module.name)
    named = {room.NAME: room for room in _below(AppScreen) if room.NAME and "NAME" in vars(room)}
    first = [name for name in SCREENS if name in named]
    return [named[name] for name in (*first, *sorted(named.keys() - set(first)))]


def _below(room: type[AppScreen]) -> Iterator[type[AppScreen]]:
    for one in room.__subclasses__():
        if one.__module__.startswith(screens.__name__):
            yield one
        yield from _below(one)


def rows() -> Iterator[KeyRow]:
    """Every action of every screen, then those that work everywhere."""
    for room in all_rooms():
        for action in room.all_actions():
            yield KeyRow(room.HEADING, action, action.identity(room.NAME))
    for action in GLOBAL:
        yield KeyRow("Everywhere", action, action.identity("everywhere"))


def clash(row: KeyRow, key: str, keys: dict[str, str]) -> str | None:
    """Why `key` can't be given to the action, in words, or None when it can."""
    if key in RESERVED:
        return f"{key} keeps its meaning everywhere"
    if any(row.room == room.NAME and key in room.TYPED for room in all_rooms()):
        return f"{key} is typed as text on this screen"
    for other in rows():
        if other.identity == row.identity or other.room not in (row.room, "everywhere"):
            continue
        if key in keys.get(other.identity, other.action.key).split(","):
            return f"{key} already means: {other.action.description}"
    return None
