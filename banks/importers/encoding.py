"""Bytes → lines of text: byte-order mark, strict UTF-8, else line by line with Windows-1252.

Lines end at a line feed, a carriage return or both, and nowhere else: U+0085 and U+2028 occur
inside questions, so content never goes through `str.splitlines`.
"""

import codecs
import io
from collections.abc import Iterator

from banks.importers.common import Finding
from domain.errors import InputError
from domain.text import counted

_CHUNK = 1 << 20
_SAMPLE = 4096
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class Text:
    """A file's bytes as text. Iterate `lines()`; then `findings()` tells what was guessed.

    Memory stays at the bytes and one line, whatever signs the text holds. Raises InputError when
    the bytes are no text at all.
    """

    def __init__(self, data: bytes, name: str = "", encoding: str = "") -> None:
        self.encoding = _encoding(data)
        self._guessed: list[int] = []
        self._is_decoded = bool(encoding)
        if self.encoding.startswith(("utf-16", "utf-32")):
            data = data.decode(self.encoding, "replace").encode("utf-8", "replace")
        elif encoding:
            data = _decoded(data, name, encoding).encode("utf-8", "replace")
            self.encoding = encoding
        elif b"\0" in data[:_SAMPLE]:
            raise InputError(f"{name or 'The file'} is not a text file: it holds zero bytes.")
        self._data = data

    def lines(self) -> Iterator[str]:
        """The physical lines in order, each with one line feed at its end (but for the last)."""
        if self.encoding == "windows-1252" and not self._is_decoded:
            yield from self._guess()
            return
        yield from io.TextIOWrapper(self._stream(self._data), "utf-8", newline=None)

    def whole(self) -> str:
        """All of it as one string."""
        return "".join(self.lines())

    def findings(self) -> list[Finding]:
        """What the candidate should look at; call it after the lines were read."""
        if not self._guessed:
            return []
        count, first = len(self._guessed), self._guessed[0]
        lines = counted(count, "line is", "lines are")
        return [Finding(first, f"{lines} not UTF-8 and read as Windows-1252; look at the accents")]

    def _guess(self) -> Iterator[str]:
        data = self._data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        for number, raw in enumerate(self._stream(data), 1):
            try:
                line = raw.decode("utf-8")
            except UnicodeDecodeError:
                self._guessed.append(number)
                line = raw.decode("cp1252", "replace")
            yield line

    @staticmethod
    def _stream(data: bytes) -> io.BytesIO:
        stream = io.BytesIO(data)
        stream.seek(len(codecs.BOM_UTF8) if data.startswith(codecs.BOM_UTF8) else 0)
        return stream


def _decoded(data: bytes, name: str, encoding: str) -> str:
    """The text in an encoding that the candidate names. Raises InputError when it is none."""
    try:
        return data.decode(encoding)
    except LookupError:
        raise InputError(
            f"{encoding!r} is no encoding known here; utf-8, cp1252, mac-roman are."
        ) from None
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        raise InputError(f"{name or 'The file'}, line {line}: not text in {encoding}.") from None


def _encoding(data: bytes) -> str:
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name
    sample = data[:_SAMPLE]
    if len(sample) >= 4 and sample[1::2].count(0) > len(sample) // 3:
        return "utf-16-le"
    if len(sample) >= 4 and sample[0::2].count(0) > len(sample) // 3:
        return "utf-16-be"
    return "utf-8" if _is_utf8(data) else "windows-1252"


def _is_utf8(data: bytes) -> bool:
    """Strictly valid, checked piece by piece so that no second copy of a large file is made."""
    if data.isascii():
        return True
    decoder = codecs.getincrementaldecoder("utf-8")()
    view = memoryview(data)
    try:
        for start in range(0, len(view), _CHUNK):
            decoder.decode(view[start : start + _CHUNK])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True
