"""What takes time to work out, kept for the next start: `cache/` may be deleted at any time.

Whoever keeps something here keeps with it what it was made from, and asks whether that still
holds before using it.
"""

from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from banks.store.files import replace_file
from banks.store.filesystem import System
from domain.errors import StoreError

T = TypeVar("T")


class Cache:
    """The store's folder of such values, a JSON file each."""

    def __init__(self, folder: Path, system: System) -> None:
        self._folder = folder / "cache"
        self._system = system

    def load(self, name: str, shape: type[T]) -> T | None:
        """The value of that name, or None if there is none that can be read."""
        try:
            return msgspec.json.decode(self._system.read(self._folder / f"{name}.json"), type=shape)
        except (OSError, msgspec.DecodeError, UnicodeDecodeError):
            return None

    def save(self, name: str, value: Any) -> None:
        """Keep the value, if that can be done; never in a store that went away."""
        with suppress(OSError):
            if self._system.stamp(self._folder.parent) is None:
                return
        content = msgspec.json.encode(value)
        with suppress(StoreError):
            replace_file(self._system, self._folder / f"{name}.json", content, keep_previous=False)
