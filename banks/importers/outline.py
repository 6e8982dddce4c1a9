"""The shape of a printed bank → bare questions 1…n: a table, or a line per subject.

A table has `subject,chapter,questions[,weight]`, with or without that header. A line per subject
has its chapters' questions, `Clouds 60 45 62`, or its chapters by name, `Clouds: Genera 60,
Species 45`; `9x60` are nine chapters of sixty; `weight 8` may end the line.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence

from msgspec import Struct, field

from banks.importers.columns import Columns, fields_by_header
from banks.importers.common import Draft, Finding, Hints, Parsed, unused
from banks.importers.csv_reader import DELIMITERS
from banks.importers.detect import (
    HEAD_ROWS,
    RawTable,
    first_rows,
    is_json,
    member_names,
    raw_tables,
)
from domain.errors import InputError
from domain.grading import number as as_number
from domain.questions import normal_text
from domain.text import tidy

MAX_CHAPTER = 5_000
"""Questions that a chapter may have."""
EXAMPLE = (
    "subject,chapter,questions,weight\nClouds,1 Genera,105,8\nClouds,2 Species,96,8\nWind,1,88,5"
)
SHORT_EXAMPLE = "Clouds 60 45 62\nWind: Force 88, Direction 40"

_MOST_CHAPTERS = 500
COLUMNS = ("subject", "chapter", "questions", "weight")
"""The columns of a shape, in this order, with or without a header."""
_SPELLINGS = {
    **dict.fromkeys(("subject", "discipline"), "subject"),
    **dict.fromkeys(("chapter", "topic", "unit", "section"), "chapter"),
    **dict.fromkeys(("questions", "count", "numberofquestions", "noofquestions"), "questions"),
    **dict.fromkeys(("weight", "weightage", "share"), "weight"),
}
_WEIGHT = re.compile(r"[\s,;]+weight\s*[:=]?\s*(\S+)$", re.IGNORECASE)
_COUNT = re.compile(r"(?:(\d{1,3})\s*[x×*]\s*)?(\d{1,9})")
_COUNTS = re.compile(rf"(?:(?<=[\s,;+])|^){_COUNT.pattern}(?:[\s,;+]+{_COUNT.pattern})*$")
_HEAD = 64_000
"""So many bytes are looked at to tell a shape without a header."""


class Outline(Struct, kw_only=True):
    """Bare questions to be reconciled with the bank, and the subjects' shares in the exam.

    `unnamed` counts the chapters of each subject that were given without a name.
    """

    parsed: Parsed
    weights: dict[str, float]
    unnamed: Counter[str] = field(default_factory=Counter)


def parse_outline(data: bytes, hints: Hints) -> Outline:
    """The shape that a file or a typed text holds. Raises InputError when no line can be used."""
    tables = raw_tables(data, hints)
    outline = Outline(
        parsed=Parsed(format=tables[0].format, encoding=tables[0].encoding), weights={}
    )
    for table in tables:
        _take_table(outline, table, hints)
    if not outline.parsed.drafts:
        skipped = "".join(f" Line {f.line}: {f.reason}." for f in outline.parsed.skipped[:3])
        name = hints.name or "The file"
        raise InputError(
            f"{name}: no chapter was found.{skipped}\n"
            f"Expected, for example:\n{SHORT_EXAMPLE}\nor:\n{EXAMPLE}"
        )
    return outline


def _take_table(outline: Outline, table: RawTable, hints: Hints) -> None:
    delimiter = next((sign for sign, name in DELIMITERS.items() if name == table.format), "\t")
    columns = hints.columns or {name: at for at, name in enumerate(COLUMNS)}
    heads = [at for at, (_, cells) in enumerate(table.rows[:HEAD_ROWS]) if _header(cells)]
    above = heads[0] if heads else 0
    if above:
        reason = f"lines left out above the table: {above}"
        outline.parsed.warnings.append(Finding(table.rows[0][0], reason))
    has_header = bool(hints.columns)
    for at, (line, raw) in enumerate(table.rows[above:]):
        cells = [tidy(cell) for cell in raw]
        if named := _header(cells):
            columns, has_header = hints.columns or named, True
            left = [cell for column, cell in enumerate(cells) if column not in columns.values()]
            outline.parsed.warnings += unused("columns", list(filter(None, left)))
        elif any(cells) and not (at == 0 and hints.columns and hints.header):
            if has_header or _is_row(cells):
                _take_row(outline, line, cells, columns)
            else:
                _take_subject(outline, line, delimiter.join(cells).strip())
    outline.parsed.skipped += table.broken
    outline.parsed.warnings += table.findings


def is_outline(data: bytes, name: str = "", rows: Sequence[Sequence[str]] | None = None) -> bool:
    """Whether these are a printed bank's shape: by a header, or by every one of their lines.

    `rows`: the first ones, where they are known.
    """
    if is_json(data) and not _header(member_names(data)):
        return False
    if data[:2] == b"PK" or is_json(data):
        return any(map(_header, first_rows(data, name) if rows is None else rows))
    text = data[:_HEAD].lstrip(b"\xef\xbb\xbf").decode("utf-8", "replace")
    lines = [line for line in map(tidy, text.split("\n")) if line]
    if any(_header(_split(line)) for line in lines[:HEAD_ROWS]):
        return True
    if len(data) > _HEAD:
        return False
    return bool(lines) and all(_is_row(_split(line)) or _is_subject(line) for line in lines)


def outline_columns(data: bytes, name: str = "") -> Columns | None:
    """What the columns of a shape hold, for a mapping; None where it is no table."""
    rows = [cells for _, cells in raw_tables(data, Hints(name=name), HEAD_ROWS * 2)[0].rows]
    above = next((at for at, cells in enumerate(rows) if _header(cells)), None)
    head = rows[above or 0] if rows else []
    if len(head) < 2:
        return None
    is_row = above is None and _is_row(head)
    mapping = _header(head) or {name: at for at, name in enumerate(COLUMNS) if is_row}
    return Columns(
        names=tuple(cell.strip() or f"column {at + 1}" for at, cell in enumerate(head)),
        mapping=mapping,
        header=not is_row,
        sample=tuple(map(tuple, rows[(above or 0) + (not is_row) :][:5])),
        sure="questions" in mapping,
        width=len(head),
        above=above or 0,
    )


def _split(line: str) -> list[str]:
    return [cell.strip(' "\r') for cell in re.split(r"[,;\t|]", line)]


def _is_subject(line: str) -> bool:
    try:
        return bool(_subject_line(line))
    except InputError:
        return False


def _header(cells: Sequence[str]) -> dict[str, int]:
    places = fields_by_header(cells, _SPELLINGS)
    return places if {"subject", "questions"} <= places.keys() else {}


def _is_row(cells: Sequence[str]) -> bool:
    """Whether a line without a header above it is a row of the table, not a line per subject."""
    if len(cells) not in (3, 4) or not cells[2].isdecimal():
        return False
    _, colon, first_chapter = cells[0].partition(":")
    return not (colon and _COUNTS.search(first_chapter.strip()))


def _take_row(outline: Outline, line: int, cells: list[str], columns: dict[str, int]) -> None:
    cell = {name: cells[column] if column < len(cells) else "" for name, column in columns.items()}
    if not cell["subject"]:
        outline.parsed.skipped.append(Finding(line, "names no subject"))
    elif _take_chapter(outline, line, cell["subject"], cell.get("chapter", ""), cell["questions"]):
        _take_weight(outline, line, cell["subject"], cell.get("weight", ""))


def _take_subject(outline: Outline, line: int, text: str) -> None:
    """A line per subject."""
    weighed = _WEIGHT.search(text)
    try:
        subject, chapters = _subject_line(text[: weighed.start()] if weighed else text)
    except InputError as problem:
        outline.parsed.skipped.append(Finding(line, str(problem)))
        return
    key = normal_text(subject)
    for title, count in chapters:
        if not title:
            outline.unnamed[key] += 1
            title = f"Chapter {outline.unnamed[key]}"
        _take_chapter(outline, line, subject, title, count)
    if weighed:
        _take_weight(outline, line, subject, weighed[1])


def _subject_line(text: str) -> tuple[str, list[tuple[str, str]]]:
    """The subject and its chapters, (title or "", count as written). Raises InputError."""
    subject, colon, rest = text.partition(":")
    if not colon:
        counts = _COUNTS.search(text)
        subject, rest = (text[: counts.start()], counts[0]) if counts else (text, "")
    subject = subject.strip(" ,;")
    chapters = list(_chapters(rest))
    if not re.search(r"[^\W\d_]", subject):
        raise InputError("names no subject")
    if not chapters:
        raise InputError(f"'{subject[:30]}' has no number of questions yet; as: Clouds 60 45 62")
    if len(chapters) > _MOST_CHAPTERS:
        raise InputError(f"'{subject[:30]}' has more than {_MOST_CHAPTERS} chapters")
    for title, count in chapters:
        if not count:
            raise InputError(f"'{title[:30]}' has no number of questions yet; as: Genera 60")
    return subject, chapters


def _chapters(text: str) -> Iterator[tuple[str, str]]:
    """The chapters in `Genera 60, Species 45` or `60 45 3x20`; one without a count has ""."""
    for part in filter(None, (part.strip() for part in re.split(r"[,;]", text))):
        counts = _COUNTS.search(part)
        title = part[: counts.start()].strip() if counts else part
        if counts is None:
            yield title, ""
        elif title:
            *words, count = part.split()
            yield " ".join(words), count
        else:
            for times, count in _COUNT.findall(part):
                yield from [("", count)] * int(times or 1)


def _take_chapter(outline: Outline, line: int, subject: str, chapter: str, count: str) -> bool:
    """Add a chapter's questions, unless their number can't be."""
    if not count.isdecimal() or len(count) > 9 or not 1 <= int(count) <= MAX_CHAPTER:
        problem = f"'{count[:20]}' is not a number of questions from 1 to {MAX_CHAPTER:,}"
        outline.parsed.skipped.append(Finding(line, problem))
        return False
    outline.parsed.drafts += [
        Draft(line=line, subject=subject, chapter=chapter, number=number)
        for number in range(1, int(count) + 1)
    ]
    return True


def _take_weight(outline: Outline, line: int, title: str, weight: str) -> None:
    if not weight:
        return
    value, subject = as_number(weight), normal_text(title)
    if value is None or value < 0:
        reason = f"the weight '{weight[:20]}' is not a number; left out"
        outline.parsed.warnings.append(Finding(line, reason))
    elif outline.weights.setdefault(subject, float(value)) != float(value):
        reason = f"{subject} has another weight further up; that one is kept"
        outline.parsed.warnings.append(Finding(line, reason))
