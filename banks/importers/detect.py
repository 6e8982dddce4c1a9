"""Which format a file has, told by its content, and the reader for it."""

import re
from collections.abc import Callable
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import BinaryIO

from msgspec import Struct

from banks.importers.archive import open_archive
from banks.importers.columns import Columns, is_header, meanings
from banks.importers.common import EXPECTED, Finding, Hints, Parsed
from banks.importers.csv_reader import DELIMITERS, Rows, delimiter_of, evenness
from banks.importers.encoding import Text
from banks.importers.json_reader import is_json_lines
from banks.importers.markdown_reader import NUMBER
from banks.importers.printed_layout import number_label, plain
from banks.importers.printed_sections import has_option_label, is_pairs
from banks.importers.table import Row
from domain.errors import InputError

READERS = {
    **dict.fromkeys(DELIMITERS.values(), "banks.importers.csv_reader"),
    "json": "banks.importers.json_reader",
    "jsonl": "banks.importers.json_reader",
    "text": "banks.importers.printed",
    "markdown": "banks.importers.markdown_reader",
    "xlsx": "banks.importers.workbook_reader",
    "qti": "banks.importers.qti.reader",
    "pdf": "banks.importers.pdf",
}
"""Format → the module with its `parse`; imported when a file of that format comes."""

MAX_BYTES = 256 * 2**20
_OLD_OFFICE = b"\xd0\xcf\x11\xe0"
_SAVE_AS = (
    "is a document that is not read here; save it from its program as .xlsx if it is a"
    " spreadsheet, else as plain text, and import that."
)
_MEMBER = re.compile(rb'"([^"\n]{1,40})"\s*:')
_HEAD = 20_000
HEAD_ROWS = 8
"""Among so many first rows the header of a table is looked for."""
_SAMPLE_LINES = 200
_SAMPLE_CHARACTERS = 200_000
_SAMPLE_WIDTH = 5_000
_WIDTH_OF_QUESTIONS = 4


def read_bytes(path: Path) -> bytes:
    """The file's bytes. Raises InputError when it can't be read or is beyond all bounds."""
    try:
        with path.open("rb") as stream:
            return read_stream(stream, str(path))
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror or error}).") from None


def read_stream(stream: BinaryIO, name: str) -> bytes:
    """What a file, a pipe or a device holds. Raises InputError once it is beyond all bounds."""
    pieces: list[bytes] = []
    room = MAX_BYTES
    while piece := stream.read(min(room + 1, 2**20)):
        pieces.append(piece)
        room -= len(piece)
        if room < 0:
            raise InputError(f"{name}: at most {MAX_BYTES // 2**20} MB are read; split it up.")
    return b"".join(pieces)


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions and findings from a file of any supported format.

    Raises InputError when there is nothing usable in it, with an example of what is.
    """
    parsed = parse_as(detect(data, hints.name), data, hints)
    if not parsed.drafts:
        raise InputError(_nothing(parsed, hints.name))
    return parsed


def parse_as(format_name: str, data: bytes, hints: Hints) -> Parsed:
    """Questions and findings from a file of a known format."""
    reader: Callable[[bytes, Hints], Parsed] = import_module(READERS[format_name]).parse
    return reader(data, hints)


def columns(data: bytes, name: str = "") -> Columns | None:
    """What the columns of a table hold, for a preview or a mapping; None for other formats."""
    module = import_module(READERS[detect(data, name)])
    return module.columns(data) if hasattr(module, "columns") else None


class RawTable(Struct, kw_only=True):
    """Rows of cells as text, whatever holds them: delimited text, a sheet, or objects.

    Objects have their members' paths as the first row. `broken`: lines that are no rows.
    """

    format: str
    encoding: str = "utf-8"
    rows: list[Row]
    broken: list[Finding] = []
    findings: list[Finding] = []


def is_json(data: bytes) -> bool:
    """Whether it begins as JSON does."""
    return data[:_HEAD].lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[")


def member_names(data: bytes) -> list[str]:
    """The members named at the beginning of JSON: what is not among them needs no decoding."""
    return [name.decode("utf-8", "replace") for name in _MEMBER.findall(data[:_HEAD])]


def raw_tables(data: bytes, hints: Hints, most: int | None = None) -> list[RawTable]:
    """The tables of a file, of each at most so many rows. Raises InputError for damage."""
    if data.startswith(b"PK\x03\x04"):
        from banks.importers.workbook_reader import raw_rows

        return [
            RawTable(format="xlsx", rows=rows, findings=findings)
            for rows, findings in raw_rows(data, hints.name, most)
        ]
    if is_json(data):
        from banks.importers.json_reader import raw_rows as object_rows

        return [RawTable(format="json", rows=object_rows(data, hints, most))]
    text = Text(data, hints.name, hints.encoding)
    lines = list(islice(text.lines(), most and most * 4))
    delimiter = delimiter_of(lines[:_SAMPLE_LINES])
    rows = Rows(iter(lines), delimiter)
    held = list(islice(rows, most))
    return [
        RawTable(
            format=DELIMITERS[delimiter],
            encoding=text.encoding,
            rows=held,
            broken=rows.broken,
            findings=text.findings(),
        )
    ]


def first_rows(data: bytes, name: str) -> list[list[str]]:
    """The rows in which a table's header can stand; none where the file is damaged."""
    try:
        tables = raw_tables(data, Hints(name=name), HEAD_ROWS)
    except InputError:
        return []
    return [list(cells) for table in tables for _, cells in table.rows]


def detect(data: bytes, name: str = "") -> str:
    """The format's name, one of `READERS`. Raises InputError for what can't hold questions."""
    if data.startswith(b"PK\x03\x04"):
        return _in_zip(data, name)
    if data.startswith(b"%PDF-"):
        return "pdf"
    if data.startswith(_OLD_OFFICE):
        raise InputError(f"{name or 'The file'} {_SAVE_AS}")
    if not data.strip():
        raise InputError(f"{name or 'The file'} is empty.\n{EXPECTED}")
    lines = _sample(data, name)
    head = next((line.lstrip() for line in lines if line.strip()), "")
    if head.startswith("<"):
        return "qti"
    if head.startswith(("{", "[")):
        if is_json_lines("".join(lines).encode("utf-8", "replace")):
            return "jsonl"
        if _is_json_start(head, lines):
            return "json"
    if any(NUMBER.fullmatch(line) for line in lines):
        return "markdown"
    return _text_format(lines)


def _text_format(lines: list[str]) -> str:
    """Delimited where the rows are even and wide or the header is known, else printed text."""
    table = max(DELIMITERS, key=lambda delimiter: evenness(lines, delimiter))
    even, width = evenness(lines, table)
    header = [cell.strip('" \n') for cell in lines[0].split(table)] if lines else []
    if is_header(header, meanings(header)):
        return DELIMITERS[table]
    if all(is_pairs(line) for line in lines if line.strip()):
        return "text" if table in ",;" else DELIMITERS[table]
    if even >= 0.9 and width >= _WIDTH_OF_QUESTIONS and (len(lines) > 1 or width > 4):
        return DELIMITERS[table]
    if _looks_printed(lines):
        return "text"
    ragged_yet_wide = even >= 0.5 and width >= _WIDTH_OF_QUESTIONS
    return DELIMITERS[table] if even >= 0.9 or ragged_yet_wide else "text"


def _looks_printed(lines: list[str]) -> bool:
    texts = [plain(line) for line in lines if line.strip()]
    numbered = sum(1 for text in texts if number_label(0, text))
    labelled = sum(1 for text in texts if has_option_label(text))
    return numbered > 0 and (labelled > 0 or numbered * 2 >= len(texts))


def _is_json_start(head: str, lines: list[str]) -> bool:
    rest = head[1:].lstrip() or next((x.strip() for x in lines[1:] if x.strip()), "")
    return bool(re.match(r"[\[{\]}\"]|-?\d+\s*[,\]]", rest))


def _sample(data: bytes, name: str) -> list[str]:
    lines: list[str] = []
    room = _SAMPLE_CHARACTERS
    for line in islice(Text(data, name).lines(), _SAMPLE_LINES):
        room -= len(line)
        if room < 0 and lines:
            break
        lines.append(line[:_SAMPLE_WIDTH])
    return lines


def _in_zip(data: bytes, name: str) -> str:
    try:
        with open_archive(data) as archive:
            members = archive.paths
    except InputError as problem:
        raise InputError(f"{name or 'The file'}: {problem}") from None
    if any(member.startswith("xl/") for member in members):
        return "xlsx"
    if any(member == "content.xml" or member.startswith("word/") for member in members):
        raise InputError(f"{name or 'The file'} {_SAVE_AS}")
    if any(member.lower().endswith(".xml") for member in members):
        return "qti"
    raise InputError(
        f"{name or 'The file'} is a zip that holds neither a spreadsheet nor a question package."
    )


def _nothing(parsed: Parsed, name: str) -> str:
    sentences = [f"{name or 'The file'}: no usable question was found (read as {parsed.format})."]
    sentences += [f"Line {finding.line}: {finding.reason}." for finding in parsed.skipped[:3]]
    if len(parsed.skipped) > 3:
        sentences.append(f"And {len(parsed.skipped) - 3} more lines like these.")
    return "\n".join([*sentences, EXPECTED])
