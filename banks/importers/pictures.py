"""Pictures from files of strangers: known by their bytes, and harmless when they are opened."""

import re

MOST_BYTES = 20 * 2**20
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
    if len(data) > MOST_BYTES:
        return ""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    for beginning, ending in _BEGINNINGS:
        if data.startswith(beginning):
            return ending
    return "svg" if _DRAWING.match(data[:4096]) and not _ACTIVE.search(data) else ""
