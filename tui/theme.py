"""The looks: two themes of our own and how one is chosen."""

import os
from typing import TYPE_CHECKING, Any

from textual.theme import Theme

if TYPE_CHECKING:
    from textual.app import App

DARK = Theme(
    name="lamp",
    primary="#7fb4ca",
    secondary="#a3b18a",
    accent="#e6c384",
    warning="#e6a35c",
    error="#e87c6f",
    success="#98bb6c",
    foreground="#dcd7ba",
    background="#16161d",
    surface="#1f1f28",
    panel="#2a2a37",
    dark=True,
)
LIGHT = Theme(
    name="daylight",
    primary="#1f5f8b",
    secondary="#4b6b3c",
    accent="#8a4b08",
    warning="#8a4b08",
    error="#a3271b",
    success="#2f6b2f",
    foreground="#1f1f1f",
    background="#fbf9f3",
    surface="#f2eee3",
    panel="#e4dfd0",
    dark=False,
)
NAMES = {"lamp": "dark", "daylight": "light"}


def register(app: "App[Any]") -> None:
    """Make both themes known and start in the one that the terminal's hints ask for."""
    app.register_theme(DARK)
    app.register_theme(LIGHT)
    app.theme = _hinted()


def apply(app: "App[Any]", name: str) -> None:
    """Use the theme that was set, or go on with the hinted one."""
    if name in NAMES and app.theme != name:
        app.theme = name


def _hinted() -> str:
    """COLORFGBG ("15;0") is how a terminal tells its colours; a light ground is 7 or 15."""
    ground = os.environ.get("COLORFGBG", "").rpartition(";")[2]
    return LIGHT.name if ground in ("7", "15") else DARK.name
