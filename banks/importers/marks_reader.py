"""Marks kept elsewhere → plain values: a table with one row per question marked.

People write verdicts and dates in words of their own. What is not known here is counted, so that
the candidate can say what it means; until then rows with it are left out by name.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from functools import cache

from msgspec import Struct
from msgspec.structs import replace

from banks.importers.cells import unguarded
from banks.importers.columns import Columns, fields_by_header, fold_header
from banks.importers.common import Finding, Hints, unused
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
from domain.responses import Purpose, Reason
from domain.text import tidy
from domain.verdicts import Confidence, Verdict

COLUMNS = (
    *("subject", "chapter", "number", "date", "verdict"),
    *("confidence", "purpose", "reason", "seconds"),
)
"""The columns as they are exported; only number, date and verdict must be there."""
EXAMPLE = (
    "subject,chapter,number,date,verdict,confidence\nClouds,1 Genera,17,2027-02-11,wrong,sure\n"
    "Clouds,1 Genera,18,2027-02-11,right,unsure\nClouds,1 Genera,19,2027-02-11,blank,"
)
DAY_FIRST, MONTH_FIRST = "day first", "month first"
LEFT_OUT = "left out"
"""What a candidate says of a word whose rows are to be left out."""

_NEEDED = ("number", "date", "verdict")
_SPELLINGS = {
    "subject": "subject discipline",
    "chapter": "chapter topic unit section",
    "number": "number no nr num q qno questionno questionnumber question item code",
    "date": "date day when on studyday",
    "verdict": "verdict result outcome mark marked right rightwrong rightorwrong correct ok how",
    "confidence": "confidence sureness sure certainty",
    "purpose": "purpose kind round",
    "reason": "reason why",
    "seconds": "seconds secs sec time timetaken duration",
}
_HEADERS = {word: field for field, words in _SPELLINGS.items() for word in words.split()}
_SURELY_MARKS = {"verdict", "result", "outcome", "mark", "marked", "rightwrong", "rightorwrong"}
"""Headers of a verdict that no table of questions has."""

_WORDS: dict[str, dict[str, str]] = {
    "verdict": {
        "right": "right r correct ok 1 true yes y ✓ ✔ +",
        "wrong": "wrong w incorrect 0 false no n x ✗ ✘ - miss missed",
        "blank": "blank b skipped left",
        "right, unsure": "unsure right? ✓? ok?",
        "right, guess": "guess guessed",
    },
    "confidence": {"sure": "sure s certain", "unsure": "unsure u doubt ?", "guess": "guess g ??"},
    "reason": {
        "didn't know": "unknown i",
        "mixed up": "confused m mixedup",
        "misread": "misread r",
        "slip": "slip s careless",
    },
    "purpose": {
        "first study": "study first",
        "revision": "revision revise",
        "sweep": "sweep",
        "pass": "pass",
        "paper": "paper mock test",
        "free drill": "drill free",
    },
}
"""Field → what a word of ours means → how it is also written, apart from itself."""
_OURS: dict[str, tuple[str, StrEnum]] = {
    str(value): (field, value)
    for field, kind in (
        *(("verdict", Verdict), ("confidence", Confidence)),
        *(("reason", Reason), ("purpose", Purpose)),
    )
    for value in kind
}
_KNOWN = {
    field: {spelling: ours for ours, words in means.items() for spelling in (ours, *words.split())}
    for field, means in _WORDS.items()
}
_MONTHS = {
    prefix: month
    for month, prefixes in enumerate(
        (
            *("jan ene gen jän", "feb fév fev", "mar mär mrt", "apr avr abr"),
            *("may mai mag mei maj", "jun juin giu", "jul juil lug", "aug ago aoû aou"),
            *("sep set", "oct okt ott out", "nov", "dec dez dic déc"),
        ),
        1,
    )
    for prefix in prefixes.split()
}
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?")
_NUMERIC = re.compile(r"(\d{1,2})([./-])(\d{1,2})(?:[./-](\d{2}|\d{4}))?\.?(?: .*)?")
_DAY_NAMED = re.compile(
    r"(?:[^\W\d_]{2,10}[.,]* +)?(\d{1,2})(?:st|nd|rd|th|\.)?[ -]+(?:de )?([^\W\d_]{3,})\.?,?"
    r"(?:[ -]+(?:de )?(\d{2}|\d{4}))?",
    re.IGNORECASE,
)
_MONTH_NAMED = re.compile(
    r"(?:[^\W\d_]{2,10}[.,]* +)?([^\W\d_]{3,})\.? +(\d{1,2})(?:st|nd|rd|th)?(?:,? +(\d{4}))?",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)")


class PastMark(Struct, frozen=True, kw_only=True, gc=False):
    """One mark as it was kept: where, when, what it came to. A question that goes by an item
    code has number 0.
    """

    line: int
    subject: str
    chapter: str
    number: int
    day: date
    verdict: Verdict
    confidence: Confidence = Confidence.SURE
    purpose: Purpose = Purpose.REVISION
    reason: Reason | None = None
    seconds: float = 0.0
    code: str = ""


class MarksFile(Struct, kw_only=True):
    """All of a file: the marks, and the rows that are none.

    `unknown` counts the words of each field that are not understood; a date that may be read in
    two ways is one of them.
    """

    encoding: str = "utf-8"
    marks: list[PastMark] = []
    skipped: list[Finding] = []
    warnings: list[Finding] = []
    unknown: dict[str, Counter[str]] = {}


class _Meaning(Struct, frozen=True):
    verdict: Verdict | None = None
    confidence: Confidence | None = None
    reason: Reason | None = None
    purpose: Purpose | None = None


def word_key(field: str, word: str) -> str:
    """Under what a candidate's own word is remembered."""
    return f"{field}: {' '.join(word.split()).casefold()}"


def known_meaning(text: str) -> str:
    """A meaning in our own words, as `right, unsure`. Raises InputError for any other.

    Between the words may stand commas, plus signs or spaces.
    """
    folded = " ".join(text.split()).casefold()
    if folded == LEFT_OUT:
        return folded
    words = sorted(_OURS, key=len, reverse=True)
    known = re.findall("|".join(map(re.escape, words)), folded)
    rest = re.sub("|".join(map(re.escape, words)), "", folded)
    ours = ", ".join(known if not rest.strip(" ,+&") else [folded])
    _meaning(ours)
    return ours


def meaning_fields(meaning: str) -> list[str]:
    """The columns in which a word of this meaning may stand."""
    if meaning == LEFT_OUT:
        return list(_WORDS)
    explained = _meaning(meaning)
    if explained.verdict:
        return ["verdict"]
    return [field for field in ("confidence", "reason", "purpose") if getattr(explained, field)]


def parse_marks(
    data: bytes, hints: Hints, words: Mapping[str, str] | None = None, today: date | None = None
) -> MarksFile:
    """The marks that a file holds. Raises InputError when there is none and no word to explain.

    `words`: what the candidate said their own words mean, by `word_key`; under "date" in which
    order day and month stand. `today` is what dates without a year are reckoned from.
    """
    file = MarksFile(marks=[], skipped=[], warnings=[], unknown={})
    tables = raw_tables(data, hints)
    headed = [table for table in tables if _header_place(table) is not None]
    for table in headed or tables:
        file.encoding = table.encoding
        file.skipped += table.broken
        file.warnings += table.findings
        _Reader(file, words or {}, today).read(table, hints)
    if not file.marks and not file.unknown:
        skipped = "".join(f" Line {f.line}: {f.reason}." for f in file.skipped[:3])
        name = hints.name or "The file"
        raise InputError(f"{name}: no mark was found.{skipped}\nExpected, for example:\n{EXAMPLE}")
    return file


def are_marks(data: bytes, name: str = "", rows: Sequence[Sequence[str]] | None = None) -> bool:
    """Whether one of the file's first rows, in `rows` where they are known, has marks' headers."""
    if is_json(data) and _SURELY_MARKS.isdisjoint(map(fold_header, member_names(data))):
        return False
    return any(map(_is_header, first_rows(data, name) if rows is None else rows))


def marks_columns(data: bytes, name: str = "") -> Columns:
    """What the columns hold, for a mapping: of the first table with rows."""
    tables = raw_tables(data, Hints(name=name), HEAD_ROWS * 2)
    headed = [table for table in tables if _header_place(table) is not None]
    table = next((table for table in headed or tables if table.rows), tables[0])
    rows, place = table.rows, _header_place(table)
    width = max((len(cells) for _, cells in rows), default=0)
    head = rows[place or 0][1] if rows else ()
    names = [name or f"column {at + 1}" for at, name in enumerate(map(str.strip, head))]
    mapping = fields_by_header(head, _HEADERS) if place is not None else _in_order(width)
    body = rows[(place or 0) + 1 :] if place is not None else rows
    return Columns(
        names=tuple(names),
        mapping=mapping,
        header=place is not None,
        sample=tuple(tuple(cells) for _, cells in body[:5]),
        sure=set(_NEEDED) <= mapping.keys(),
        width=width,
        above=place or 0,
    )


def _in_order(width: int) -> dict[str, int]:
    return {field: at for at, field in enumerate(COLUMNS) if at < max(width, 5)}


def _is_header(head: Sequence[str]) -> bool:
    return set(_NEEDED) <= fields_by_header(head, _HEADERS).keys() and not _SURELY_MARKS.isdisjoint(
        map(fold_header, head)
    )


def _header_place(table: RawTable) -> int | None:
    """Which of a table's first rows is the header, None where there is none."""
    rows = enumerate(table.rows[:HEAD_ROWS])
    return next((at for at, (_, cells) in rows if _is_header(cells)), None)


class _Reader:
    """Reads the rows of one table into a `MarksFile`."""

    def __init__(self, file: MarksFile, words: Mapping[str, str], today: date | None) -> None:
        self._found, self._words, self._today = file, words, today
        self._order = words.get("date", "")
        self._has_yearless = False

    def read(self, table: RawTable, hints: Hints) -> None:
        at = hints.columns
        body = table.rows
        place = _header_place(table)
        if place is None and hints.header and body:
            place = 0
        if place is not None:
            head, body = body[place][1], body[place + 1 :]
            at = at or fields_by_header(head, _HEADERS)
            left = [cell.strip() for column, cell in enumerate(head) if column not in at.values()]
            self._found.warnings += unused("columns", list(filter(None, left)))
        at = at or _in_order(len(COLUMNS))
        rows = [(line, _cells(row, at)) for line, row in body if any(map(str.strip, row))]
        self._order = self._order or _proven_order([cell.get("date", "") for _, cell in rows])
        for line, cell in rows:
            try:
                self._found.marks.append(self._mark(line, cell, hints))
            except InputError as problem:
                self._found.skipped.append(Finding(line, str(problem)))
        if self._has_yearless:
            reason = "dates without a year were read as the last such day"
            self._found.warnings.append(Finding(0, reason))

    def _mark(self, line: int, cell: Mapping[str, str], hints: Hints) -> PastMark:
        number = cell.get("number", "")
        digits = number.lstrip("Qq#. ").rstrip(".) ").removesuffix(".0")
        is_code = bool(re.fullmatch(r"[A-Z]\w{2,11}", number)) and not digits.isdecimal()
        is_number = digits.isascii() and digits.isdecimal() and 0 < len(digits) <= 6
        if not is_code and not (is_number and int(digits)):
            raise InputError(f"the number '{number[:20]}' is not a whole number from 1 on")
        meanings = {field: self._meaning(field, cell.get(field, "")) for field in _WORDS}
        day = self._day(cell.get("date", ""))
        explained = {field: _explained(field, cell, meaning) for field, meaning in meanings.items()}
        verdict = explained["verdict"]
        if verdict.verdict is None:
            raise InputError("says neither right nor wrong nor blank")
        return PastMark(
            line=line,
            subject=cell.get("subject", "") or hints.subject,
            chapter=cell.get("chapter", "") or hints.chapter,
            number=0 if is_code else int(digits),
            code=number if is_code else "",
            day=day,
            verdict=verdict.verdict,
            confidence=explained["confidence"].confidence or verdict.confidence or Confidence.SURE,
            purpose=explained["purpose"].purpose or Purpose.REVISION,
            reason=explained["reason"].reason or verdict.reason,
            seconds=self._seconds(line, cell.get("seconds", "")),
        )

    def _meaning(self, field: str, word: str) -> str | None:
        """What a word means, in ours; None, and it is counted, where nobody said so."""
        folded = " ".join(word.split()).casefold()
        text = self._words.get(word_key(field, word)) or _KNOWN[field].get(folded)
        if text is None and word:
            self._found.unknown.setdefault(field, Counter())[word] += 1
        return text

    def _seconds(self, line: int, text: str) -> float:
        clock = _CLOCK.fullmatch(text)
        value = int(clock[1]) * 60 + int(clock[2]) if clock else as_number(text or "0")
        if value is None or not 0 <= value < 100_000:
            reason = f"the seconds '{text[:20]}' are no number; left out"
            self._found.warnings.append(Finding(line, reason))
            return 0.0
        return float(value)

    def _day(self, text: str) -> date:
        """A cell's day. Raises InputError where it is none, or may be two."""
        try:
            day = self._numeric_day(text) or self._named_day(text)
        except ValueError:
            day = None
        if day is None:
            raise InputError(f"the date '{text[:20]}' is not a date like 2027-02-11")
        return day

    def _numeric_day(self, text: str) -> date | None:
        if iso := _ISO.fullmatch(text):
            return date(int(iso[1]), int(iso[2]), int(iso[3]))
        match = _NUMERIC.fullmatch(text)
        if not match:
            return None
        first, second = int(match[1]), int(match[3])
        order = DAY_FIRST if match[2] == "." or first == second else self._order
        if not order:
            self._found.unknown.setdefault("date", Counter())[text] += 1
            raise InputError(f"the date '{text[:20]}' may begin with the day or with the month")
        day, month = (first, second) if order == DAY_FIRST else (second, first)
        return self._of_year(day, month, match[4])

    def _named_day(self, text: str) -> date | None:
        match = _DAY_NAMED.fullmatch(text)
        day, name, year = (match[1], match[2], match[3]) if match else ("", "", None)
        if not match and (match := _MONTH_NAMED.fullmatch(text)):
            day, name, year = match[2], match[1], match[3]
        folded = name.casefold()
        month = _MONTHS.get(folded[:4]) or _MONTHS.get(folded[:3])
        return self._of_year(int(day), month, year) if month else None

    def _of_year(self, day: int, month: int, year: str | None) -> date | None:
        if year is not None:
            return date(int(year) + (2000 if len(year) == 2 else 0), month, day)
        if self._today is None:
            return None
        self._has_yearless = True
        latest = date(self._today.year, month, day)
        return latest if latest <= self._today + timedelta(1) else latest.replace(latest.year - 1)


def _explained(field: str, cell: Mapping[str, str], meaning: str | None) -> _Meaning:
    """What a cell says. Raises InputError for a word that nobody explained or that is left out."""
    word = cell.get(field, "")
    if meaning == LEFT_OUT:
        raise InputError(f"'{word[:20]}' is left out, as you said")
    if meaning is None and word:
        expected = " or ".join(list(_WORDS[field])[:3])
        raise InputError(f"the {field} '{word[:20]}' is not understood; {expected} is expected")
    return _meaning(meaning) if meaning else _Meaning()


def _cells(row: Sequence[str], at: Mapping[str, int]) -> dict[str, str]:
    return {
        field: tidy(unguarded(row[column])) if column < len(row) else ""
        for field, column in at.items()
    }


def _proven_order(cells: Sequence[str]) -> str:
    """In which order day and month stand, where a number beyond 12 proves it; else ""."""
    matches = [match for cell in cells if (match := _NUMERIC.fullmatch(cell)) and match[2] != "."]
    is_day_first = any(int(match[1]) > 12 for match in matches)
    is_month_first = any(int(match[3]) > 12 for match in matches)
    if is_day_first == is_month_first:
        return ""
    return DAY_FIRST if is_day_first else MONTH_FIRST


@cache
def _meaning(text: str) -> _Meaning:
    """What our own words mean together. Raises InputError for one that is none of them."""
    explained = _Meaning()
    for word in text.split(", "):
        if word not in _OURS:
            raise InputError(f"'{word[:30]}' is none of: {', '.join(_OURS)}")
        field, value = _OURS[word]
        explained = replace(explained, **{field: value})
    return explained
