"""Bytes → lines of text: byte-order mark, strict UTF-8, else line by line with what fits best.

Lines end at a line feed, a carriage return or both, and nowhere else: U+0085 and U+2028 occur
inside questions, so content never goes through `str.splitlines`.
"""

import codecs
import io
import itertools
from collections.abc import Iterator

from banks.importers.common import Finding
from domain.errors import InputError
from domain.text import counted

_SINGLE_BYTE = ("windows-1252", "mac-roman", "windows-1250", "windows-1251")
"""Encodings that are tried where text is no UTF-8; the first where several fit alike."""
_FITS_TOO = 0.05
_SIGNS = frozenset("“”„‘’‚–—…•°±×÷€£§«»¿¡ºª½¼¾²³µ·©®™†‡\xa0")
_CHUNK = 1 << 20
_SAMPLE = 4096
_MOST_LINES = 500
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class Text:
    """A file's bytes as text. Iterate `lines()`; then `findings()` tells what was guessed.

    `encodings`: those that fit where the text is no UTF-8, the likeliest first.

    Memory stays at the bytes and one line, whatever signs the text holds. Raises InputError when
    the bytes are no text at all.
    """

    def __init__(self, data: bytes, name: str = "", encoding: str = "") -> None:
        self.encodings = _fitting(data) if (utf := _encoding(data)) == "utf-8" else ()
        self.encoding = self.encodings[0] if self.encodings else utf
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
        if self.encodings and not self._is_decoded:
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
        reason = f"{lines} not UTF-8 and read as {self.encoding}; look at the accents"
        others = [name for name in self.encodings if name != self.encoding]
        if others:
            lines_held = self._data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
            raw = lines_held[first - 1]
            words = [f"'{_word(raw.decode(name, 'replace'))}'" for name in self.encodings]
            reason += f"; {' and '.join(others)} would fit too: {' or '.join(words)}"
        return [Finding(first, reason)]

    def _guess(self) -> Iterator[str]:
        data = self._data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        for number, raw in enumerate(self._stream(data), 1):
            try:
                line = raw.decode("utf-8")
            except UnicodeDecodeError:
                self._guessed.append(number)
                line = raw.decode(self.encoding, "replace")
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
    return "utf-8"


def _fitting(data: bytes) -> tuple[str, ...]:
    """The encodings in which text that is no UTF-8 makes sense, the best first; () for UTF-8."""
    if _is_utf8(data):
        return ()
    lines = (raw for raw in io.BytesIO(data) if not raw.isascii())
    sample = b"".join(itertools.islice((raw for raw in lines if not _is_utf8(raw)), _MOST_LINES))
    texts = {name: sample.decode(name, "replace") for name in _SINGLE_BYTE}
    sense = {name: _sense(text) for name, text in texts.items()}
    best = max(sense, key=lambda name: sense[name])
    if sense[best] - sense[_SINGLE_BYTE[0]] <= _FITS_TOO:
        best = _SINGLE_BYTE[0]
    others = [
        name
        for name in _SINGLE_BYTE
        if sense[name] >= sense[best] - _FITS_TOO and texts[name] != texts[best]
    ]
    return (best, *others)


def _sense(text: str) -> float:
    """How well the signs beyond ASCII fit those around them, 0 to 1.

    Letters stand among letters of their script, capitals at the start of words, signs beside them.
    """
    worth = [
        _fit(before, sign, after)
        for before, sign, after in zip(f" {text}", text, f"{text[1:]} ", strict=False)
        if not sign.isascii()
    ]
    return sum(worth) / max(len(worth), 1)


def _fit(before: str, sign: str, after: str) -> float:
    if sign in _SIGNS:
        return 0.0 if before.isalpha() and after.isalpha() and sign != "’" else 1.0
    if not sign.isalpha():
        return 0.0
    is_cyrillic = "Ѐ" <= sign <= "ӿ"
    for other in (before, after):
        if other.isalpha() and ("Ѐ" <= other <= "ӿ") != is_cyrillic:
            return 0.0
    if sign.isupper() and before.islower():
        return 0.0
    is_row = before.isalpha() and not before.isascii()
    return 0.5 if is_row and not is_cyrillic else 1.0


def _word(text: str) -> str:
    """The first word with a sign beyond ASCII."""
    return next((word for word in text.split() if not word.isascii()), "")[:20]


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
