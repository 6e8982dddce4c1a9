"""Showing a picture that belongs to a question, with whatever the desktop has for it."""

import os
import subprocess
import sys
from pathlib import Path

from banks.importers.pictures import MOST_BYTES, picture_ending
from domain.errors import InputError
from domain.text import safe_line

_SPELLINGS = {"jpeg": "jpg", "tiff": "tif"}


def open_figure(path: Path) -> None:
    """Hand the picture to the desktop. Raises InputError that says where it lies if it can't.

    Only a file whose content and ending both say the same kind of picture is handed over: the
    desktop goes by the ending, and the folder may have come from anyone.
    """
    name = safe_line(path.name)
    if not path.is_file():
        raise InputError(f"{name}: this figure was not kept with the bank")
    if not _is_picture(path):
        raise InputError(f"{name}: is not the picture that its name says; it was not opened")
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


def _is_picture(path: Path) -> bool:
    ending = path.suffix.lower().removeprefix(".")
    try:
        with path.open("rb") as file:
            content = picture_ending(file.read(MOST_BYTES + 1))
    except OSError:
        return False
    return bool(content) and content == _SPELLINGS.get(ending, ending)


def _has_wayland() -> bool:
    return bool(os.environ.get("WAYLAND_DISPLAY"))
