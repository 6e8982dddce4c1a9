"""A bank as CSV, JSON, JSON Lines, Markdown or workbook: a function per format.

Each takes the bank, what was marked by question id, and the subjects (ids; all by default); each
writes active questions only and raises InputError when there is none.
"""

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from io import BytesIO, StringIO
from itertools import groupby
from typing import TYPE_CHECKING, Any, cast

import msgspec

from banks.exporters.question_rows import (
    NOTHING_MARKED,
    Histories,
    LocatedQuestion,
    book_order,
    chosen,
    encoded,
    escaped,
    fields,
    key_letters,
    lettered,
    marked_up,
    printable,
    table,
)
from banks.importers.cells import guarded
from banks.importers.marks_reader import COLUMNS
from domain.errors import InputError
from domain.questions import LETTERS, Bank, Kind, Question
from domain.text import safe_text, safe_value

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet


def to_csv(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """A row per question: RFC 4180, UTF-8 with the mark at its head that spreadsheets look for."""
    headers, rows = table(chosen(bank, subjects), histories or {})
    return csv_bytes([headers, *rows])


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Rows of text as a CSV file whose cells no spreadsheet takes for formulas."""
    stream = StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerows([guarded(safe_text(cell)) for cell in row] for row in rows)
    return stream.getvalue().encode("utf-8-sig")


def to_marks(bank: Bank, histories: Histories, subjects: Sequence[str] = ()) -> bytes:
    """A row per response, chapter by chapter, oldest first."""
    rows = list(_mark_rows(bank, histories, subjects))
    if not rows:
        raise InputError(f"There is nothing to export: nothing in {bank.title} was marked yet.")
    return csv_bytes([COLUMNS, *rows])


def _mark_rows(bank: Bank, histories: Histories, subjects: Sequence[str]) -> Iterator[list[str]]:
    for located in book_order(bank, subjects):
        where = [located.subject.title, located.chapter.title, str(located.question.number)]
        for mark in histories.get(located.question.id, NOTHING_MARKED).marks:
            seconds = f"{mark.seconds:g}" if mark.seconds else ""
            yield [
                *(*where, mark.day.isoformat(), mark.verdict, mark.confidence),
                *(mark.purpose, mark.reason or "", seconds),
            ]


def to_json(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """One document (RFC 8259): the bank's title, edition and questions."""
    questions = [_json_object(located, histories or {}) for located in chosen(bank, subjects)]
    document = {"title": bank.title, "edition": bank.edition, "questions": questions}
    return msgspec.json.format(msgspec.json.encode(safe_value(document)), indent=2) + b"\n"


def to_handover(bank: Bank, disputes: Sequence[str], topics: Sequence[str]) -> bytes:
    """The bank for whoever revises after the candidate: questions, keys and weights, the disputed
    keys and what came in the exam as plain words; nothing of the history.
    """
    weights = {subject.title: subject.weight for subject in bank.subjects if subject.weight}
    document = {
        "title": bank.title,
        "edition": bank.edition,
        "weights": weights,
        "came in the exam": "; ".join(topics),
        "disputed keys": "; ".join(disputes),
        "questions": [_json_object(located, {}) for located in chosen(bank)],
    }
    return msgspec.json.format(msgspec.json.encode(safe_value(document)), indent=2) + b"\n"


def to_json_lines(
    bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()
) -> bytes:
    """An object per line, one for each question."""
    objects = (_json_object(located, histories or {}) for located in chosen(bank, subjects))
    return b"".join(msgspec.json.encode(safe_value(each)) + b"\n" for each in objects)


def _json_object(located: LocatedQuestion, histories: Histories) -> dict[str, Any]:
    """The same fields as a row has, with numbers, lists and objects where JSON has them."""
    question, texts = located.question, fields(located, histories)
    history = histories.get(question.id, NOTHING_MARKED)
    letters = lettered(question)
    richer = {
        "number": question.number,
        "key": key_letters(question),
        "tolerance": question.tolerance,
        "tags": list(question.tags),
        "shuffle": question.shuffle,
        "credit": {letters[key]: mark for key, mark in question.credit.items()},
        "figures": [msgspec.to_builtins(figure) for figure in question.figures],
        "signs": history.standing.signs,
        "settled": history.standing.settled,
        "waiting": history.is_waiting,
        "history": [msgspec.to_builtins(mark) for mark in history.marks],
    }
    return {name: richer.get(name, text) for name, text in texts.items()}


_MARKDOWN_HEADINGS = ("subject", "chapter", "number", "stem")
_BLOCK_START = re.compile(r"(\d*)([-+=:.)])")
_INDENT = "  "


def to_markdown(
    bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()
) -> bytes:
    """To read, print or share; it comes back through its importer.

    Headings are title, subject, chapter and number; under a number stand the stem, a list of
    options and a list of fields. A text's line ends are hard breaks: a backslash at the end.
    """
    parts = [f"# {escaped(bank.title)}"]
    by_subject = groupby(chosen(bank, subjects), key=lambda located: located.subject)
    for subject, of_subject in by_subject:
        parts.append(f"## {escaped(subject.title)}")
        for chapter, of_chapter in groupby(of_subject, key=lambda located: located.chapter):
            parts.append(f"### {escaped(chapter.title)}")
            for located in of_chapter:
                parts += _markdown_question(located, histories or {})
    return encoded("\n\n".join(parts) + "\n")


def _markdown_question(located: LocatedQuestion, histories: Histories) -> Iterator[str]:
    texts = fields(located, histories)
    yield f"#### {texts['number']}"
    if "stem" in texts:
        yield _markdown_text(texts["stem"])
    options = [f"- ({x}) {_markdown_text(texts[x], _INDENT)}" for x in LETTERS if x in texts]
    if options:
        yield "\n".join(options)
    shown = {*_MARKDOWN_HEADINGS, *LETTERS, *(["kind"] if _is_plain(located.question) else [])}
    rest = {name: text for name, text in texts.items() if name not in shown}
    if rest:
        yield "\n".join(
            f"* **{name}:** {_markdown_text(text, _INDENT)}" for name, text in rest.items()
        )


def _is_plain(question: Question) -> bool:
    """Whether its kind goes without saying: one key among options that aren't true and false."""
    is_single = question.kind is Kind.BEST and len(question.answer_key) <= 1
    return is_single and len(question.options) != 2


def _markdown_text(text: str, indent: str = "") -> str:
    return f"\\\n{indent}".join(map(_markdown_line, text.split("\n")))


def _markdown_line(line: str) -> str:
    """A line that means nothing but itself, wherever it stands."""
    safe = marked_up(line)
    if safe[:1] in (" ", "\t"):
        return f"&#{ord(safe[0])};{safe[1:]}"
    return _BLOCK_START.sub(r"\1\\\2", safe, count=1) if _BLOCK_START.match(safe) else safe


MOST_CHARACTERS = 32_767
"""What one cell of a spreadsheet holds."""

_NARROW, _WIDE = 11, 48
_WIDE_COLUMNS = {"stem", "explanation"}


def to_xlsx(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """A sheet per subject, every cell plain text or a number. A text too long for a cell raises."""
    from openpyxl import Workbook

    located = chosen(bank, subjects)
    _check_lengths(located, histories or {})
    book = Workbook(write_only=True)
    taken: set[str] = set()
    for _, group in groupby(located, key=lambda each: each.subject.id):
        of_subject = list(group)
        name = _sheet_name(of_subject[0].subject.title, taken)
        _fill_sheet(cast("Worksheet", book.create_sheet(name)), of_subject, histories or {})
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def _check_lengths(located: Sequence[LocatedQuestion], histories: Histories) -> None:
    for each in located:
        longest = max(fields(each, histories).values(), key=len)
        if len(longest) > MOST_CHARACTERS:
            where = f"{each.subject.title}, {each.chapter.title}, {each.question.number}"
            raise InputError(
                f"{where}: a text of {len(longest):,} characters does not fit a spreadsheet's"
                f" cell, which holds {MOST_CHARACTERS:,}; export as CSV or JSON instead."
            )


def _sheet_name(title: str, taken: set[str]) -> str:
    """A name that spreadsheets allow and no other sheet has (in any case of its letters)."""
    plain = re.sub(r"[\[\]:*?/\\]", " ", printable(title)).strip(" '")[:31] or "Sheet"
    name, count = plain, 1
    while name.casefold() in taken:
        count += 1
        name = f"{plain[:26]} {count}"
    taken.add(name.casefold())
    return name


def _fill_sheet(
    sheet: "Worksheet", located: Sequence[LocatedQuestion], histories: Histories
) -> None:
    from openpyxl.utils import get_column_letter

    headers, rows = table(located, histories)
    sheet.freeze_panes = "A2"
    for at, header in enumerate(headers, start=1):
        wide = _WIDE if header in _WIDE_COLUMNS else _NARROW
        sheet.column_dimensions[get_column_letter(at)].width = wide
    sheet.append([_sheet_cell(sheet, header, bold=True) for header in headers])
    at_number = headers.index("number")
    for row in rows:
        cells: list[Cell | int] = [_sheet_cell(sheet, text) for text in row]
        cells[at_number] = int(row[at_number])
        sheet.append(cells)


def _sheet_cell(sheet: "Worksheet", text: str, *, bold: bool = False) -> "Cell":
    """Text that stays text, whatever sign it begins with."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    cell = WriteOnlyCell(sheet, value=printable(text))
    cell.data_type = "s"
    cell.quotePrefix = True
    if bold:
        cell.font = Font(bold=True)
    return cell


WRITERS: dict[str, Callable[[Bank, Histories, Sequence[str]], bytes]] = {
    "csv": to_csv,
    "json": to_json,
    "jsonl": to_json_lines,
    "xlsx": to_xlsx,
    "md": to_markdown,
}
"""What writes each format, by the ending of its files."""
