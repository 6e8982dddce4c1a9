"""Delimited text: comma, tab, semicolon or pipe, with RFC 4180 quoting."""

import csv
import itertools
from collections import deque
from collections.abc import Iterator

from msgspec.structs import replace

from banks.importers.cells import unguarded
from banks.importers.columns import Columns, guess, is_enough, is_header, meanings
from banks.importers.common import EXPECTED, Finding, Hints, Parsed
from banks.importers.encoding import Text
from banks.importers.table import HEADINGS, Row, TableReader
from domain.errors import InputError

DELIMITERS = {",": "csv", "\t": "tsv", ";": "semicolon", "|": "pipe"}
_MAX_CELL = 1_000_000
_MAX_BROKEN = 50
_SAMPLE_ROWS = 60
_SAMPLE_LINES = 400
_MOST_TITLES = 8


class Rows:
    """The rows of delimited text with the physical line each begins on.

    A quotation mark that is never closed would swallow the rest of the file: the line that opens
    it is set aside in `broken` and reading goes on with the line after it.
    """

    def __init__(self, lines: Iterator[str], delimiter: str) -> None:
        self._lines = lines
        self._delimiter = delimiter
        self._again: deque[str] = deque()
        self._held: list[str] = []
        self._ended = False
        self.broken: list[Finding] = []
        self.characters = 0

    def __iter__(self) -> Iterator[Row]:
        csv.field_size_limit(_MAX_CELL)
        reader = self._reader()
        held = self._held
        line = 1
        while True:
            try:
                cells = next(reader, None)
            except csv.Error:
                cells, self._ended = None, True
            if cells is None and not held:
                return
            if self._ended:
                line = self._set_aside(line)
                reader = self._reader()
                continue
            if cells:
                yield line, cells
            line += len(held)
            held.clear()

    def _reader(self) -> Iterator[list[str]]:
        self._ended = False
        return csv.reader(self._feed(), delimiter=self._delimiter)

    def _feed(self) -> Iterator[str]:
        while self._again:
            self._held.append(self._again.popleft())
            yield self._held[-1]
        for text in self._lines:
            self.characters += len(text)
            self._held.append(text)
            yield text
        self._ended = True

    def _set_aside(self, line: int) -> int:
        """Report the first line held and read the others again. Returns the next line."""
        if len(self.broken) == _MAX_BROKEN:
            raise InputError(
                f"Line {line}: this is the {_MAX_BROKEN + 1}st line with a quotation mark that is"
                " never closed; the file does not look like delimited text."
            )
        problem = "a quotation mark opened here is never closed, or the cell is longer than"
        self.broken.append(Finding(line, f"{problem} {_MAX_CELL:,} characters"))
        self._again.extendleft(reversed(self._held[1:]))
        self._held.clear()
        return line + 1


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from delimited text. Raises InputError where the columns are not understood."""
    text = Text(data, hints.name, hints.encoding)
    delimiter = delimiter_of(_sample(data))
    named = columns(data)
    mapping = hints.columns or named.mapping
    if not is_enough(mapping):
        raise InputError(
            f"{hints.name or 'The file'}: no column for the stem or the number was recognised"
            f" among {', '.join(named.names[:8]) or 'none'}; say which column holds what."
            f"\n{EXPECTED}"
        )
    parsed = Parsed(format=DELIMITERS[delimiter], encoding=text.encoding)
    rows = Rows(text.lines(), delimiter)
    header = named.header if hints.header is None else hints.header
    size = max(len(data), 1)
    body = (
        (line, [unguarded(cell) if cell[:1] == "'" else cell for cell in cells])
        for line, cells in itertools.islice(rows, named.above + int(header), None)
    )
    if named.above:
        reason = f"lines left out above the table: {named.above}"
        parsed.warnings.append(Finding(1, reason))
    parsed.warnings += named.unused(mapping) if header else []
    reader = TableReader(mapping, hints, parsed, named.width, HEADINGS)
    parsed = reader.read(body, lambda: min(1.0, rows.characters / size))
    parsed.skipped = sorted(parsed.skipped + rows.broken, key=lambda finding: finding.line)
    parsed.warnings += text.findings()
    parsed.encodings = text.encodings
    return parsed


def columns(data: bytes) -> Columns:
    """What the columns hold, judged by the first rows: for a preview or a mapping screen."""
    sample = _sample(data)
    rows = Rows(iter(sample), delimiter_of(sample))
    held = [cells for _, cells in itertools.islice(rows, _SAMPLE_ROWS)]
    for above in range(min(_MOST_TITLES, len(held))):
        first = [cell.strip() for cell in held[above]]
        if is_header(first, meanings(first)):
            return replace(guess(held[above:]), above=above)
    above = int(bool(held) and held[0][0].lower().startswith("sep="))
    return replace(guess(held[above:]), above=above)


def delimiter_of(lines: list[str]) -> str:
    """The delimiter under which the lines make the widest and most even rows."""
    return max(DELIMITERS, key=lambda delimiter: evenness(lines, delimiter))


def evenness(lines: list[str], delimiter: str) -> tuple[float, int]:
    """The share of rows that have the usual width, and that width; (0, 0) for a single column."""
    csv.field_size_limit(_MAX_CELL)
    widths = []
    try:
        widths = [len(row) for row in csv.reader(lines, delimiter=delimiter) if row]
    except csv.Error:
        return 0.0, 0
    usual = max(set(widths), key=widths.count, default=1)
    if usual < 2:
        return 0.0, 0
    return widths.count(usual) / len(widths), usual


def _sample(data: bytes) -> list[str]:
    """The first physical lines, at most a megabyte of them."""
    lines: list[str] = []
    room = _MAX_CELL
    for line in itertools.islice(Text(data).lines(), _SAMPLE_LINES):
        room -= len(line)
        if room < 0:
            break
        lines.append(line)
    return lines
