"""Showing a picture that belongs to a question, with whatever the desktop has for it."""

import os
import subprocess
import sys
from pathlib import Path

from domain.errors import InputError


def open_figure(path: Path) -> None:
    """Hand the picture to the desktop. Raises InputError that says where it lies if it can't."""
    if not path.exists():
        raise InputError(f"{path.name}: this figure was not kept with the bank")
    if sys.platform == "win32":
        os.startfile(path)
        return
    command = "open" if sys.platform == "darwin" else "xdg-open"
    if command == "xdg-open" and not (os.environ.get("DISPLAY") or _has_wayland()):
        raise InputError(f"there is no desktop to show the figure on; it lies at {path}")
    try:
        subprocess.Popen(
            [command, str(path)], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
    except OSError:
        raise InputError(f"the figure could not be shown; it lies at {path}") from None


def _has_wayland() -> bool:
    return bool(os.environ.get("WAYLAND_DISPLAY"))
