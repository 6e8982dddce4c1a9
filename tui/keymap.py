"""Every action there is: for the palette (ctrl+p), and to give it another key."""

import pkgutil
from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from importlib import import_module
from typing import Any

from msgspec import Struct
from textual.app import SystemCommand
from textual.dom import DOMNode
from textual.screen import Screen

from tui.actions import Action, key_words
from tui.base_app import GLOBAL, SCREENS, BaseApp
from tui.base_screen import AppScreen

RESERVED = {"tab", "shift+tab", "ctrl+p", "ctrl+c", "ctrl+q"}
"""Keys that keep their meaning everywhere."""

_PACKAGE = "tui.screens"
"""Named only: the screens import this module."""


class KeyRow(Struct, frozen=True):
    """An action whose key can be set; `identity` is its name in the settings."""

    group: str
    action: Action
    identity: str

    @property
    def screen(self) -> str:
        """The name of the screen, or "everywhere"."""
        return self.identity.partition(".")[0]


def all_screens() -> list[type[AppScreen]]:
    """Every screen that has keys of its own: those one can go to, then those that open on them."""
    for module in pkgutil.iter_modules(import_module(_PACKAGE).__path__, f"{_PACKAGE}."):
        import_module(module.name)
    named = {each.NAME: each for each in _below(AppScreen) if each.NAME and "NAME" in vars(each)}
    first = [name for name in SCREENS if name in named]
    return [named[name] for name in (*first, *sorted(named.keys() - set(first)))]


def _below(base: type[AppScreen]) -> Iterator[type[AppScreen]]:
    for screen in base.__subclasses__():
        if screen.__module__.startswith(_PACKAGE):
            yield screen
        yield from _below(screen)


def rows() -> Iterator[KeyRow]:
    """Every action of every screen, then those that work everywhere."""
    for screen in all_screens():
        for action in screen.all_actions():
            yield KeyRow(screen.HEADING, action, action.identity(screen.NAME))
    for action in GLOBAL:
        yield KeyRow("Everywhere", action, action.identity("everywhere"))


def clash(row: KeyRow, key: str, keys: Mapping[str, str]) -> str | None:
    """Why `key` can't be given to the action, in words, or None when it can."""
    if key in RESERVED:
        return f"{key} keeps its meaning everywhere"
    if any(row.screen == screen.NAME and key in screen.TYPED for screen in all_screens()):
        return f"{key} is typed as text on this screen"
    for other in rows():
        if other.identity == row.identity or other.screen not in (row.screen, "everywhere"):
            continue
        if key in keys.get(other.identity, other.action.key).split(","):
            return f"{key} already means: {other.action.description}"
    return None


def palette_entries(app: BaseApp, screen: Screen[Any]) -> Iterable[SystemCommand]:
    """This screen's actions, then those that work everywhere; other screens' when looked for."""
    described = set()
    if isinstance(screen, AppScreen):
        for action in screen.all_actions():
            described.add(action.description)
            yield from _entry(app, action, screen, screen.NAME)
    for action in GLOBAL:
        if action.description not in described:
            yield from _entry(app, action, app, "everywhere")
    for other in all_screens():
        if other.NAME in SCREENS and getattr(screen, "NAME", "") != other.NAME:
            yield from _elsewhere(app, other)


def _entry(app: BaseApp, action: Action, node: DOMNode, group: str) -> Iterable[SystemCommand]:
    if action.palette:
        title = f"{action.label}  ({_key(app, action, group)})"
        yield SystemCommand(title, action.description, partial(_run, app, action.name, node))


def _elsewhere(app: BaseApp, screen: type[AppScreen]) -> Iterable[SystemCommand]:
    """Another screen's actions lead to that screen."""
    for action in screen.ACTIONS:
        if action.palette and action.label:
            title = f"{action.label}: {action.description}"
            where = f"On the {screen.HEADING} screen, key {_key(app, action, screen.NAME)}."
            go = partial(app.action_visit, screen.NAME)
            yield SystemCommand(title, where, go, discover=False)


def _key(app: BaseApp, action: Action, group: str) -> str:
    return key_words(app.keys_of(action, group), only_first=True)


async def _run(app: BaseApp, name: str, node: DOMNode) -> None:
    await app.run_action(name, node)
