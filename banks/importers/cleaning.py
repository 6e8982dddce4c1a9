"""Text as it may enter a bank: composed (NFC), and without what could drive a terminal."""

import re
import unicodedata

MAX_TEXT = 100_000
"""Characters a stem, option or explanation may have."""

_SEQUENCES = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[ -~]?")
_UNSAFE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
_REMOVED = [*range(0x09), 0x0B, 0x0C, *range(0x0E, 0x20), 0x7F, 0xFEFF]
_BIDI = [*range(0x202A, 0x202F), *range(0x2066, 0x206A)]
# A C1 control in a text is a Windows-1252 sign decoded wrongly: the same table as in the WHATWG
# HTML standard, "numeric character reference end state" (U+0085 is the ellipsis, and so on).
_C1 = {code: bytes([code]).decode("cp1252", "ignore") for code in range(0x80, 0xA0)}
_SAFE = (
    dict.fromkeys(_REMOVED + _BIDI)
    | _C1
    | dict.fromkeys(range(0xD800, 0xE000), "\N{REPLACEMENT CHARACTER}")
)


def tidy(text: str) -> str:
    """The text composed, trimmed, with plain line ends; controls and bidi overrides taken out."""
    if text.isascii() and text.isprintable():
        return text.strip()
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    if is_unsafe(text):
        text = _SEQUENCES.sub("", text).translate(_SAFE)
    return text.strip()


def is_unsafe(text: str) -> bool:
    """Whether `tidy` takes out or replaces more than white space and line ends."""
    return bool(_UNSAFE.search(text))
