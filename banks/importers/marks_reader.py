"""Marks kept elsewhere: CSV `subject,chapter,number,date,verdict[,sureness]` → plain values."""

import re
from datetime import date

from msgspec import Struct

from banks.importers.cells import unguarded
from banks.importers.common import Finding, Hints
from banks.importers.csv_reader import Rows, delimiter_of
from banks.importers.encoding import Text
from domain.errors import InputError
from domain.text import tidy
from domain.verdicts import Confidence, Verdict

COLUMNS = ("subject", "chapter", "number", "date", "verdict", "sureness")
"""The columns, in this order, with or without a header; `sureness` may be missing."""
EXAMPLE = (
    "subject,chapter,number,date,verdict,sureness\nClouds,1 Genera,17,2027-02-11,wrong,sure\n"
    "Clouds,1 Genera,18,2027-02-11,right,unsure\nClouds,1 Genera,19,2027-02-11,blank,"
)

_VERDICTS = {
    **dict.fromkeys(("right", "r", "correct", "1", "true", "yes", "✓", "✔", "+"), Verdict.RIGHT),
    **dict.fromkeys(("wrong", "w", "incorrect", "0", "false", "no", "x", "✗", "-"), Verdict.WRONG),
    **dict.fromkeys(("blank", "b", "skipped", "not attempted", "?"), Verdict.BLANK),
}
_CONFIDENCE = {
    **dict.fromkeys(("", "sure", "s"), Confidence.SURE),
    **dict.fromkeys(("unsure", "u", "doubt", "?"), Confidence.UNSURE),
    **dict.fromkeys(("guess", "guessed", "g"), Confidence.GUESS),
}


class PastMark(Struct, frozen=True, kw_only=True, gc=False):
    """One mark as it was kept: where, when, what it came to."""

    line: int
    subject: str
    chapter: str
    number: int
    day: date
    verdict: Verdict
    confidence: Confidence = Confidence.SURE


class MarksFile(Struct, kw_only=True):
    """All of a file: the marks, and the rows that are none."""

    encoding: str = "utf-8"
    marks: list[PastMark] = []
    skipped: list[Finding] = []
    warnings: list[Finding] = []


def parse_marks(data: bytes, hints: Hints) -> MarksFile:
    """The marks that a file holds. Raises InputError when there is none."""
    text = Text(data, hints.name, hints.encoding)
    lines = list(text.lines())
    found = MarksFile(encoding=text.encoding)
    rows = Rows(iter(lines), delimiter_of(lines[:200]))
    at = {name: place for place, name in enumerate(COLUMNS)}
    for line, raw in rows:
        cells = [tidy(unguarded(cell)) for cell in raw]
        folded = [cell.casefold() for cell in cells]
        if set(COLUMNS[:5]) <= set(folded):
            at = {name: folded.index(name) for name in COLUMNS if name in folded}
        elif any(cells):
            _take(found, line, cells, at)
    found.skipped += rows.broken
    found.warnings += text.findings()
    if not found.marks:
        told = "".join(f" Line {f.line}: {f.reason}." for f in found.skipped[:3])
        name = hints.name or "The file"
        raise InputError(f"{name}: no mark was found.{told}\nExpected, for example:\n{EXAMPLE}")
    return found


def are_marks(data: bytes) -> bool:
    """Whether the file's first line has the header of marks."""
    head = data[:400].lstrip(b"\xef\xbb\xbf").split(b"\n")[0].decode("utf-8", "replace")
    cells = [cell.strip(' "\r').casefold() for cell in re.split(r"[,;\t|]", head)]
    return set(COLUMNS[:5]) <= set(cells)


def _take(found: MarksFile, line: int, cells: list[str], at: dict[str, int]) -> None:
    cell = {name: cells[place] if place < len(cells) else "" for name, place in at.items()}
    verdict = _VERDICTS.get(cell["verdict"].casefold())
    confidence = _CONFIDENCE.get(cell.get("sureness", "").casefold())
    day, number = _day(cell["date"]), cell["number"]
    problem = ""
    if not cell["subject"] or not cell["chapter"]:
        problem = "names no subject or no chapter"
    elif not (number.isascii() and number.isdecimal() and len(number) <= 6) or int(number) == 0:
        problem = f"the number '{number[:20]}' is not a whole number from 1 on"
    elif day is None:
        problem = f"the date '{cell['date'][:20]}' is not a date like 2027-02-11"
    elif verdict is None:
        problem = f"the verdict '{cell['verdict'][:20]}' is not right, wrong or blank"
    elif confidence is None:
        problem = f"the confidence '{cell['sureness'][:20]}' is not sure, unsure or guess"
    if problem or day is None or verdict is None or confidence is None:
        found.skipped.append(Finding(line, problem))
        return
    found.marks.append(
        PastMark(
            line=line, subject=cell["subject"], chapter=cell["chapter"], number=int(number),
            day=day, verdict=verdict, confidence=confidence,
        )
    )  # fmt: skip


def _day(text: str) -> date | None:
    """An ISO 8601 date, or the day of an ISO 8601 moment. Other orders are ambiguous: None."""
    match = re.fullmatch(r"(\d{4}-\d\d-\d\d)(?:[T ].*)?", text)
    try:
        return date.fromisoformat(match[1]) if match else None
    except ValueError:
        return None
