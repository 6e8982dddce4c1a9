"""The one way a file of the candidate's own is written: whole or not at all."""

from pathlib import Path

from banks.store.files import replace_file
from banks.store.filesystem import System
from domain.errors import InputError


def write_file(path: Path, content: bytes) -> None:
    """Put `content` at `path`, in the place of what stood there.

    Raises InputError when there is no such folder, StoreError when it can't be saved.
    """
    if path.is_dir() or not path.absolute().parent.is_dir():
        wrong = "is a folder" if path.is_dir() else f"there is no folder {path.parent}"
        raise InputError(f"{path}: {wrong}; nothing was written.")
    replace_file(System(), path, content, keep_previous=False)
