"""What takes time to work out, kept for the next start: `cache/` may be deleted at any time.

Whoever keeps something here keeps with it what it was made from, and asks whether that still
holds before using it.
"""

import sys
import zlib
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from banks.store.files import replace_file
from banks.store.filesystem import System
from domain.errors import StoreError

T = TypeVar("T")


class Cache:
    """The store's folder of such values, a file each: readable JSON, or packed."""

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
        self._save(f"{name}.json", msgspec.json.encode(value))

    def load_packed(self, name: str, shape: type[T]) -> T | None:
        """The value packed by this very program, or None: not one bit of it may have changed."""
        try:
            content = self._system.read(self._folder / f"{name}.packed")
            head, body = content[:_HEAD], memoryview(content)[_HEAD:]
            if head != _head(body):
                return None
            return msgspec.msgpack.decode(body, type=shape)
        except (OSError, msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            return None

    def save_packed(self, name: str, value: Any) -> None:
        """Keep the value for this very program, if that can be done."""
        with suppress(OverflowError):  # a number beyond 64 bits, as a bank's file may hold
            body = msgspec.msgpack.encode(value)
            self._save(f"{name}.packed", _head(body) + body)

    def packed_at(self, name: str) -> int:
        """When the value was kept, in nanoseconds since 1970; 0 where there is none."""
        try:
            stamp = self._system.stamp(self._folder / f"{name}.packed")
        except OSError:
            return 0
        return stamp.modified_ns if stamp else 0

    def _save(self, name: str, content: bytes) -> None:
        with suppress(OSError, StoreError):
            if self._system.stamp(self._folder) is None:
                self._system.make_folder(self._folder)  # fails where the store is not there
            replace_file(
                self._system,
                self._folder / name,
                content,
                keep_previous=False,
                make_folders=False,  # the store may go away at any moment, and is not to come back
            )


_HEAD = 12


def _head(body: bytes | memoryview) -> bytes:
    """Who has packed this content, and its check sum."""
    return program_mark() + zlib.crc32(body).to_bytes(4, "big")


@cache
def program_mark() -> bytes:
    """Eight bytes that differ between programs: other code, another Python, other numbers."""
    states = [sys.version, sys.byteorder, msgspec.__version__]
    root = Path(__file__).parents[2]
    for layer in ("domain", "banks"):
        for path in sorted((root / layer).rglob("*.py")):
            state = path.stat()
            states.append(f"{path.relative_to(root)} {state.st_size} {state.st_mtime_ns}")
    text = "\n".join(states).encode()
    return zlib.crc32(text).to_bytes(4, "big") + zlib.adler32(text).to_bytes(4, "big")
