"""Zip files from anywhere, read without trusting them: limits on count, size and paths; pictures.

Nothing is ever unpacked to the disk, so a member's path can only be looked up, never written.
"""

import lzma
import posixpath
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from urllib.parse import unquote

from domain.errors import InputError
from domain.text import tidy

MOST_MEMBERS = 60_000
MOST_BYTES_EACH = 64 * 2**20
MOST_BYTES = 512 * 2**20
MOST_RATIO = 400
"""A member may unpack to at most this many times its packed size, once above a megabyte."""

# What the standard library raises on damaged zips, beyond its own BadZipFile.
_DAMAGE = (
    *(zipfile.BadZipFile, zlib.error, struct.error, lzma.LZMAError, EOFError, OSError),
    *(NotImplementedError, RuntimeError, IndexError, KeyError, ValueError, OverflowError),
)


class Archive:
    """The members of a zip by their normal path. `read` counts what was unpacked so far."""

    def __init__(self, packed: zipfile.ZipFile) -> None:
        self._packed = packed
        self._members = {
            path: info
            for info in packed.infolist()
            if not info.filename.endswith("/") and (path := inner_path(info.filename))
        }
        self._left = MOST_BYTES

    @property
    def paths(self) -> list[str]:
        """The members' paths in the order of the zip."""
        return list(self._members)

    @property
    def unpacked_size(self) -> int:
        """What all members together claim to unpack to; reading stops at that size."""
        return sum(info.file_size for info in self._packed.infolist())

    def __contains__(self, path: str) -> bool:
        return path in self._members

    def read(self, path: str) -> bytes:
        """The member's bytes. Raises InputError when it is missing, damaged or too big."""
        if path not in self._members:
            raise InputError(f"{path} is not in the package.")
        info = self._members[path]
        allowed = min(MOST_BYTES_EACH, self._left, max(2**20, info.compress_size * MOST_RATIO))
        try:
            with self._packed.open(info) as member:
                content = member.read(allowed + 1)
        except _DAMAGE as problem:
            raise InputError(f"{path} in the package can't be unpacked: {said(problem)}.") from None
        if len(content) > allowed:
            raise InputError(f"{path} in the package unpacks to more than {allowed:,} bytes.")
        self._left -= len(content)
        return content


@contextmanager
def open_archive(data: bytes) -> Iterator[Archive]:
    """The zip in `data`. Raises InputError when it is none, or has too many members."""
    try:
        packed = zipfile.ZipFile(BytesIO(data))
    except _DAMAGE as problem:
        raise InputError(
            f"this zip is damaged ({said(problem)}); nothing was read; save or download it again."
        ) from None
    with packed:
        if len(packed.infolist()) > MOST_MEMBERS:
            raise InputError(f"this zip has more than {MOST_MEMBERS:,} members; nothing was read.")
        yield Archive(packed)


def inner_path(href: str, base: str = "") -> str:
    """The path inside the zip that `href` means, seen from the file `base`; "" if it leads out."""
    plain = unquote(href.split("#")[0].split("?")[0]).replace("\\", "/")
    joined = posixpath.normpath(posixpath.join(posixpath.dirname(base), plain))
    outside = joined.startswith(("/", "..")) or ":" in joined.split("/")[0] or joined == "."
    return "" if outside or "\x00" in joined else joined


def said(problem: Exception) -> str:
    """What a library says of a file, in one short line that is safe to show."""
    return tidy(" ".join(str(problem).split()))[:120] or type(problem).__name__


MOST_PICTURE_BYTES = 20 * 2**20
"""How large a picture may be."""

_BEGINNINGS = (
    (b"\x89PNG\r\n\x1a\n", "png"),
    (b"\xff\xd8\xff", "jpg"),
    (b"GIF87a", "gif"),
    (b"GIF89a", "gif"),
    (b"BM", "bmp"),
    (b"II*\x00", "tif"),
    (b"MM\x00*", "tif"),
)
_DRAWING = re.compile(
    rb"(?:\xef\xbb\xbf)?\s*(?:(?:<\?xml\s[^>]*>|<!--.*?-->|<!DOCTYPE\s+svg[^>\[]*>)\s*)*<svg[\s>]",
    re.DOTALL,
)
_ACTIVE = re.compile(
    rb"<\s*(?:\w+:)?(?:script|foreignobject|iframe|embed|object|handler|set|animate\w*)\b"
    rb"|[\s\"'/]on\w+\s*=|javascript:|<!entity|<\?xml-stylesheet|@import"
    rb"|(?:href|src)\s*=\s*[\"']?\s*(?![#\"'\s]|data:image/)"
    rb"|url\(\s*[\"']?\s*(?![#\"'\s])",
    re.IGNORECASE,
)


def picture_ending(data: bytes) -> str:
    """The ending that a picture's bytes call for; "" for what is no picture, or may act.

    A drawing in SVG counts only without scripts, events and references to anything outside it.
    """
    if len(data) > MOST_PICTURE_BYTES:
        return ""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    for beginning, ending in _BEGINNINGS:
        if data.startswith(beginning):
            return ending
    return "svg" if _DRAWING.match(data[:4096]) and not _ACTIVE.search(data) else ""
