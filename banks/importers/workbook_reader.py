"""Workbooks (.xlsx): sheets as subjects or chapters, headings between rows, cells as text."""

import itertools
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import TYPE_CHECKING, Any, Protocol, cast

from banks.importers.archive import MOST_BYTES, open_archive, said
from banks.importers.columns import Columns, guess, is_enough
from banks.importers.common import Finding, Hints, Parsed
from banks.importers.table import HEADINGS, Row, TableReader
from domain.errors import InputError
from domain.text import tidy

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet._read_only import ReadOnlyWorksheet
    from openpyxl.worksheet.worksheet import Worksheet


class Cell(Protocol):
    """A cell: its value as stored, and how the spreadsheet shows it."""

    value: Any
    number_format: str


_WHEN = (datetime, date, time, timedelta)


def cell_text(cell: Cell) -> str:
    """The cell's content as text, as near to what the spreadsheet shows as can be known."""
    value = cell.value
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return _number(float(value) if abs(value) < 2**53 else value, cell.number_format or "")
    if isinstance(value, _WHEN):
        return _moment(value, cell.number_format or "")
    return str(value)


def changed_by_the_spreadsheet(cells: Sequence[Cell]) -> str:
    """What to tell about cells that hold dates, times or errors; "" when there are none."""
    when = [cell_text(cell) for cell in cells if isinstance(cell.value, _WHEN)]
    broken = [cell.value for cell in cells if getattr(cell, "data_type", "") == "e"]
    if when:
        held = ", ".join(when[:4])
        return f"the spreadsheet holds dates or times ({held}); kept so, check what was meant"
    return f"the spreadsheet shows an error ({broken[0]}); kept so" if broken else ""


def _number(value: float, shown_as: str) -> str:
    if shown_as.endswith("%"):
        return f"{value * 100:.15g}%"
    whole = float(value).is_integer() and abs(value) < 1e21
    return f"{value:.0f}" if whole else f"{value:.15g}"


def _moment(value: datetime | date | time | timedelta, shown_as: str) -> str:
    """`2-Jan` where no year is shown, `2:25` for a time, else ISO 8601."""
    if isinstance(value, timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return _clock(*divmod(minutes, 60), seconds)
    if isinstance(value, time):
        return _clock(value.hour, value.minute, value.second)
    if isinstance(value, datetime) and value.time() != time():
        return value.isoformat(" ", "minutes")
    if "y" not in shown_as.lower() and "d" in shown_as.lower():
        return f"{value.day}-{value:%b}"
    return value.isoformat()[:10]


def _clock(hours: int, minutes: int, seconds: int) -> str:
    return f"{hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")


MOST_COLUMNS = 64
MOST_SHEETS = 200
MOST_EMPTY = 10_000
MOST_RATIO = 100
_SAMPLE_ROWS = 60
_MOST_TITLES = 10
_UNCACHED = "holds a formula without its result; open the file in its program and save it again"
_FORMULA_ALONE = re.compile(
    rb'<c [^>]*?r="([A-Z]{1,3})(\d{1,7})"[^>]*>\s*<f[^>]*(?:/>|>[^<]*</f>)\s*'
    rb"(?:<v\s*/>|<v>\s*</v>)?\s*</c>"
)
_ROW = re.compile(rb"<row\b[^>]*>")
_ROW_NUMBER = re.compile(rb'\br="(\d{1,7})"')
_HIDDEN = re.compile(rb'\bhidden="(?:1|true)"')
_UNNAMED = re.compile(r"(sheet|tabelle|feuil|foglio|hoja|blad|лист|シート)\s*\d*", re.IGNORECASE)


class WorkbookSheet:
    """A sheet's rows as text. What is peculiar about cells goes into `warnings` as they pass."""

    def __init__(self, sheet: "ReadOnlyWorksheet") -> None:
        self.name = tidy(sheet.title)
        self.warnings: list[Finding] = []
        self.hidden: list[Finding] = []
        self._sheet = sheet
        self._height = sheet.max_row or 0
        self._passed = 0

    @property
    def share(self) -> float:
        """How much of the sheet has been read, 0 to 1, as far as it says its own height."""
        return self._passed / max(self._height, self._passed, 1)

    def rows(self, *, has_years: bool = False) -> Iterator[Row]:
        """Every row that holds anything, with its number. Raises InputError for damage.

        `has_years`: days are given with their year, whatever the spreadsheet shows of them.
        """
        last = 0
        for number, cells in enumerate(self._raw_rows(), start=1):
            self._passed = number
            texts = _texts(cells, has_years=has_years)
            if texts:
                last = number
                reason = changed_by_the_spreadsheet(cells)
                self.warnings += [Finding(number, reason)] if reason else []
                yield number, texts
            elif number - last > MOST_EMPTY:
                reason = f"after {MOST_EMPTY:,} empty rows nothing more was read"
                self.warnings.append(Finding(number, reason))
                return

    def _raw_rows(self) -> Iterator[Sequence[Cell]]:
        self._sheet.reset_dimensions()
        sheet = cast("Worksheet", self._sheet)  # the stubs bind its method to this class
        rows = iter(sheet.iter_rows(max_col=MOST_COLUMNS))
        while True:
            try:
                cells = next(rows, None)
            except Exception as problem:  # a damaged sheet can make the library raise anything
                raise InputError(f"sheet {self.name} is damaged ({said(problem)}).") from None
            if cells is None:
                return
            yield cells

    @property
    def is_named(self) -> bool:
        """Whether someone gave the sheet a name."""
        return not _UNNAMED.fullmatch(self.name)


def _texts(cells: Sequence[Cell], *, has_years: bool) -> list[str]:
    """The cells as text up to the last that holds any."""
    height = len(cells)
    while height and cells[height - 1].value in (None, ""):
        height -= 1
    return [
        cell.value.isoformat()[:10]
        if has_years and isinstance(cell.value, date)
        else cell_text(cell)
        for cell in cells[:height]
    ]


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from every sheet that holds some. Raises InputError when none does."""
    parsed = Parsed(format="xlsx", drafts=[], skipped=[], warnings=[])
    sheets = _sheets(data, hints.name)
    several = len(sheets) > 1
    for done, sheet in enumerate(sheets):
        read = _read_sheet(sheet, hints, several, _share(sheet, done, len(sheets)))
        where = f"sheet {sheet.name}: " if several else ""
        parsed.drafts += read.drafts
        for own, all_of in ((read.skipped, parsed.skipped), (read.warnings, parsed.warnings)):
            all_of += [Finding(finding.line, where + finding.reason) for finding in own]
    if not parsed.drafts and not parsed.skipped:
        raise InputError(f"{hints.name or 'This workbook'} holds no rows.")
    return parsed


def raw_rows(
    data: bytes, name: str, most: int | None = None
) -> list[tuple[list[Row], list[Finding]]]:
    """The rows of every sheet as text, days in full, and what is peculiar about each."""
    return [
        (list(itertools.islice(sheet.rows(has_years=True), most)), sheet.hidden)
        for sheet in _sheets(data, name, is_glance=most is not None)
    ]


def _share(sheet: WorkbookSheet, done: int, sheets: int) -> Callable[[], float]:
    return lambda: (done + sheet.share) / sheets


def columns(data: bytes) -> Columns:
    """What the columns of the first sheet with questions hold, judged by its first rows."""
    guesses = [_guess(sheet)[1] for sheet in _sheets(data, "", is_glance=True)]
    return next((each for each in guesses if is_enough(each.mapping)), guesses[0])


def _sheets(data: bytes, name: str, *, is_glance: bool = False) -> list[WorkbookSheet]:
    """The sheets; but for a glance at their first rows, with what their readers don't see."""
    book = _open(data, name or "This workbook")
    sheets_read = book.worksheets[:MOST_SHEETS]
    sheets = [WorkbookSheet(sheet) for sheet in sheets_read]
    if not sheets:
        raise InputError(f"{name or 'This workbook'} has no sheets.")
    if is_glance:
        return sheets
    with open_archive(data) as archive:
        for sheet, source in zip(sheets, sheets_read, strict=True):
            path = cast(Any, source)._worksheet_path.lstrip("/")  # there is no public way to it
            sheet.hidden = _unseen(archive.read(path)) if path in archive else []
            if source.sheet_state != "visible":
                reason = "the sheet is hidden in the spreadsheet; its rows were read"
                sheet.hidden.append(Finding(0, reason))
    return sheets


def _unseen(sheet: bytes) -> list[Finding]:
    """What a reader of the sheet doesn't see: hidden rows, formulas without a stored result."""
    findings = [
        Finding(int(cell[2]), f"cell {cell[1].decode()}{int(cell[2])} {_UNCACHED}")
        for cell in _FORMULA_ALONE.finditer(sheet)
    ]
    rows = [
        int(number[1])
        for row in (_ROW.finditer(sheet) if b'hidden="' in sheet else ())
        if _HIDDEN.search(row[0]) and (number := _ROW_NUMBER.search(row[0]))
    ]
    if rows:
        named = ", ".join(map(str, rows[:8])) + (" …" if len(rows) > 8 else "")
        reason = f"rows that the spreadsheet hides were read: {len(rows):,} ({named})"
        findings.append(Finding(rows[0], reason))
    return findings


def _open(data: bytes, name: str) -> "Workbook":
    from openpyxl import load_workbook

    with open_archive(data) as archive:
        unpacked = archive.unpacked_size
    if unpacked > min(MOST_BYTES, len(data) * MOST_RATIO + 2**20):
        raise InputError(f"{name} unpacks to {unpacked:,} bytes, too much for a set of questions.")
    try:
        return load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)
    except Exception as problem:  # a damaged workbook can make the library raise anything
        raise InputError(f"{name} is not a valid workbook ({said(problem)}).") from None


def _guess(sheet: WorkbookSheet) -> tuple[int, Columns]:
    """The number of the header's row (0: there is none), and what the columns hold.

    Rows above the header, as titles over the table, are not part of it.
    """
    rows = list(itertools.islice(sheet.rows(), _SAMPLE_ROWS))
    sheet.warnings.clear()
    width = max((len(cells) for _, cells in rows), default=0)
    rows = [(number, [*cells, *[""] * (width - len(cells))]) for number, cells in rows]
    for at, (number, _) in enumerate(rows[:_MOST_TITLES]):
        columns = guess([cells for _, cells in rows[at:]])
        if columns.header and columns.sure:
            return number, columns
    body = [cells for _, cells in rows if not _is_heading(cells)]
    return 0, guess(body or [cells for _, cells in rows])


def _read_sheet(
    sheet: WorkbookSheet, hints: Hints, several: bool, share: Callable[[], float]
) -> Parsed:
    parsed = Parsed(format="xlsx", drafts=[], skipped=[], warnings=[])
    header, columns = _guess(sheet)
    mapping = hints.columns or columns.mapping
    if not is_enough(mapping):
        names = ", ".join(columns.names[:8])
        reason = f"no column for the stem or the number among {names}; the sheet was left out"
        parsed.skipped += [Finding(0, reason)] if names else []
        return parsed
    headings = _Headings(sheet, mapping, hints, several)
    rows = headings.placed(_body(sheet, header, columns, hints))
    own = HEADINGS & mapping.keys()
    parsed = TableReader(headings.mapping, hints, parsed, filled=own).read(rows, share)
    parsed.warnings += columns.unused(mapping) if columns.header else []
    parsed.warnings += sheet.warnings + sheet.hidden + headings.findings
    return parsed


def _body(sheet: WorkbookSheet, header: int, columns: Columns, hints: Hints) -> Iterator[Row]:
    """The rows of the table and the headings between them, without the header."""
    is_there = columns.header if hints.header is None else hints.header
    skip = max(header, 1) if is_there else 0
    above: list[Row] = []
    for number, cells in sheet.rows():
        if is_there and [cell.strip() for cell in cells] == list(columns.names):
            continue  # the header, or the header once more over a further stretch of rows
        if number > skip:
            yield from above
            above = []
            yield number, cells
        elif _is_heading(cells):
            above.append((number, cells))


class _Headings:
    """Gives every row its subject and chapter, from the sheet's name and rows that are headings."""

    def __init__(
        self, sheet: WorkbookSheet, mapping: dict[str, int], hints: Hints, several: bool
    ) -> None:
        self.findings: list[Finding] = []
        self._named = sheet.name if several and sheet.is_named else ""
        self._as_subject = "subject" not in mapping and not hints.subject
        self._width = max(mapping.values()) + 1
        self._in_columns = "chapter" in mapping
        self.mapping = mapping | ({"subject": self._width} if self._as_subject else {})
        if not self._in_columns:
            self.mapping |= {"chapter": self._width + 1}
        self._tabular = bool(mapping.keys() & {"a", "options", "key"})

    def placed(self, rows: Iterator[Row]) -> Iterator[Row]:
        """The rows with two cells more: subject and chapter. Headings are taken out."""
        subject = self._named if self._as_subject else ""
        chapter = "" if self._as_subject else self._named
        for number, cells in rows:
            if self._tabular and not self._in_columns and _is_heading(cells):
                chapter = tidy("".join(cells))
                self.findings.append(Finding(number, f"taken as a heading: {chapter}"))
                continue
            held = [*cells, *[""] * self._width][: self._width]
            yield number, [*held, subject, chapter]


def _is_heading(cells: Sequence[str]) -> bool:
    """Whether a row holds one text and nothing else, as a merged title does."""
    held = [cell.strip() for cell in cells if cell.strip()]
    return len(held) == 1 and any(sign.isalpha() for sign in held[0]) and len(held[0]) <= 120
