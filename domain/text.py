"""Text that cannot drive a terminal: one rule for what comes in and for what goes out.

`tidy` is for text that enters a bank or the log. `safe_text`, `safe_line` and `safe_value` are the
last step before a terminal, a file or JSON, wherever the text came from: a store's check sum can
be made by anyone, so nothing read from a file is trusted to be clean.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from gettext import NullTranslations
from typing import Any

import msgspec

MAX_TEXT = 100_000
"""Characters a stem, option or explanation may have."""

# C0 (but tab and line end), DEL and C1: ECMA-48. U+061C, U+200E/F, U+202A-E and U+2066-9: the
# property Bidi_Control of Unicode (UAX #9). Line and paragraph separators end a line in some
# terminals, a byte order mark and lone surrogates belong in no text.
_CONTROLS = "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff"
_BIDI = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_SURROGATES = "\ud800-\udfff"
_UNSAFE = re.compile(f"[{_CONTROLS}{_BIDI}{_SURROGATES}]|\r(?!\n)")
_BREAKS = re.compile("[\t\n\r]")
_SEQUENCES = re.compile(
    r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b[\]PX^_][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[ -~]?"
)
# A C1 control in a text is a Windows-1252 sign decoded wrongly: the same table as in the WHATWG
# HTML standard, "numeric character reference end state" (U+0085 is the ellipsis, and so on).
_C1 = {chr(code): bytes([code]).decode("cp1252", "ignore") for code in range(0x80, 0xA0)}
_SEPARATORS = {"\u2028": "\n", "\u2029": "\n"}


def is_unsafe(text: str) -> bool:
    """Whether there is anything in the text that `safe_text` takes out."""
    return not (text.isascii() and text.isprintable()) and bool(_UNSAFE.search(text))


def safe_text(text: str) -> str:
    """The text without what could drive a terminal; tabs and line ends stay.

    What is taken out takes no cell of a terminal, except a lone surrogate: a stand-in takes its
    place. A sequence loses what begins it, so that the rest of it is shown as it is written.
    """
    if text.isascii() and text.isprintable():
        return text
    return _UNSAFE.sub(_stand_in, text)


def safe_line(text: str) -> str:
    """`safe_text` without tabs and line ends either: nothing in it moves a cursor."""
    if text.isascii() and text.isprintable():
        return text
    return _BREAKS.sub("", _UNSAFE.sub(_stand_in, text))


def safe_value(value: Any) -> Any:
    """A value as JSON can hold it, with `safe_text` for every text, names of members too.

    Integers beyond 64 bits become texts of their digits: most readers of JSON can't hold them.
    """
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, Mapping):
        return {safe_text(str(name)): safe_value(held) for name, held in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [safe_value(held) for held in value]
    if isinstance(value, int) and not -(2**63) <= value < 2**64:
        return str(value)
    if value is None or isinstance(value, int | float):
        return value
    return safe_value(msgspec.to_builtins(value))


def tidy(text: str) -> str:
    """The text as it may enter a bank: composed (NFC), trimmed, with plain line ends and safe.

    Escape sequences go whole, and a C1 control becomes the sign it was meant for.
    """
    if text.isascii() and text.isprintable():
        return text.strip()
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if _UNSAFE.search(text):
        text = _UNSAFE.sub(_meant, _SEQUENCES.sub("", text))
    return unicodedata.normalize("NFC", text).strip()


_ENGLISH = NullTranslations()
"""The words as they are; `gettext.ngettext` would look for the file of a translation each time."""


def counted(count: int, noun: str, plural: str = "") -> str:
    """ "1 question", "1,204 questions"; `plural` where it is not the noun with an s."""
    return f"{count:,} {_ENGLISH.ngettext(noun, plural or f'{noun}s', count)}"


def listed(words: Iterable[str]) -> str:
    """ "Wind", "Wind and Maps", "Wind, Maps and Tides": each once, in their order."""
    *others, last = dict.fromkeys(words) or [""]
    return f"{', '.join(others)} and {last}" if others else last


def _stand_in(match: re.Match[str]) -> str:
    return "\N{REPLACEMENT CHARACTER}" if "\ud800" <= match[0] <= "\udfff" else ""


def _meant(match: re.Match[str]) -> str:
    return _C1.get(match[0]) or _SEPARATORS.get(match[0]) or _stand_in(match)
