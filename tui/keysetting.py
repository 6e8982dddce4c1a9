"""Other keys for actions: which there are, which may be used, which clash."""

from collections.abc import Iterator
from importlib import import_module

from msgspec import Struct

from tui.actions import Action
from tui.app import GLOBAL, ROOMS

RESERVED = {"tab", "shift+tab", "ctrl+p", "ctrl+c", "ctrl+q"}
"""Keys that keep their meaning everywhere."""


class KeyRow(Struct, frozen=True):
    """An action whose key can be set; `identity` is its name in the settings."""

    group: str
    action: Action
    identity: str


def rows() -> Iterator[KeyRow]:
    """Every action of every screen, the screens' in the order of the function keys."""
    for path in ROOMS.values():
        module, _, class_name = path.partition(":")
        room = getattr(import_module(module), class_name)
        for action in room.all_actions():
            yield KeyRow(room.HEADING, action, action.identity(room.NAME))
    for action in GLOBAL:
        yield KeyRow("Everywhere", action, action.identity("everywhere"))


def clash(row: KeyRow, key: str, keys: dict[str, str]) -> str | None:
    """Why `key` can't be given to the action, in words, or None when it can."""
    if key in RESERVED:
        return f"{key} keeps its meaning everywhere"
    for other in rows():
        if other.identity == row.identity or other.group not in (row.group, "Everywhere"):
            continue
        if key in keys.get(other.identity, other.action.key).split(","):
            return f"{key} already means: {other.action.words}"
    return None
