"""The shape of a printed bank, CSV `subject,chapter,questions[,weight]` → bare questions 1…n."""

import re

from msgspec import Struct

from banks.importers.common import Draft, Finding, Hints, Parsed
from banks.importers.csv_reader import DELIMITERS, Rows, delimiter_of
from banks.importers.encoding import Text
from domain.errors import InputError
from domain.grading import number as as_number
from domain.questions import normal_text
from domain.text import tidy

MAX_CHAPTER = 5_000
"""Questions that a chapter may have."""
EXAMPLE = (
    "subject,chapter,questions,weight\nClouds,1 Genera,105,8\nClouds,2 Species,96,8\nWind,1,88,5"
)

_SPELLINGS = {
    "subject": "subject",
    "chapter": "chapter",
    "topic": "chapter",
    "unit": "chapter",
    "questions": "questions",
    "count": "questions",
    "number of questions": "questions",
    "weight": "weight",
}


class Outline(Struct, kw_only=True):
    """Bare questions to be reconciled with the bank, and the subjects' shares in the exam."""

    parsed: Parsed
    weights: dict[str, float]


def parse_outline(data: bytes, hints: Hints) -> Outline:
    """The shape that a file holds. Raises InputError when no row of it can be used."""
    text = Text(data, hints.name, hints.encoding)
    lines = list(text.lines())
    delimiter = delimiter_of(lines[:200])
    rows = Rows(iter(lines), delimiter)
    outline = Outline(
        parsed=Parsed(format=DELIMITERS[delimiter], encoding=text.encoding), weights={}
    )
    at: dict[str, int] = {"subject": 0, "chapter": 1, "questions": 2, "weight": 3}
    for line, cells in rows:
        cells = [tidy(cell) for cell in cells]
        named = _header(cells)
        if named:
            at = named
        elif any(cells):
            _take(outline, line, cells, at)
    outline.parsed.skipped += rows.broken
    outline.parsed.warnings += text.findings()
    if not outline.parsed.drafts:
        found = "".join(f" Line {f.line}: {f.reason}." for f in outline.parsed.skipped[:3])
        name = hints.name or "The file"
        raise InputError(f"{name}: no chapter was found.{found}\nExpected, for example:\n{EXAMPLE}")
    return outline


def is_outline(data: bytes) -> bool:
    """Whether the file's first line has the header of a printed bank's shape."""
    head = data[:400].lstrip(b"\xef\xbb\xbf").split(b"\n")[0].decode("utf-8", "replace")
    return bool(_header([cell.strip(' "\r') for cell in re.split(r"[,;\t|]", head)]))


def _header(cells: list[str]) -> dict[str, int]:
    found = {
        _SPELLINGS[cell.casefold()]: at
        for at, cell in enumerate(cells)
        if cell.casefold() in _SPELLINGS
    }
    return found if {"subject", "questions"} <= found.keys() else {}


def _take(outline: Outline, line: int, cells: list[str], at: dict[str, int]) -> None:
    parsed = outline.parsed
    cell = {name: cells[place] if place < len(cells) else "" for name, place in at.items()}
    count = cell["questions"]
    if not cell["subject"]:
        parsed.skipped.append(Finding(line, "names no subject"))
    elif not count.isdecimal() or len(count) > 9 or not 1 <= int(count) <= MAX_CHAPTER:
        told = f"'{count[:20]}' is not a number of questions from 1 to {MAX_CHAPTER:,}"
        parsed.skipped.append(Finding(line, told))
    else:
        _take_weight(outline, line, cell)
        parsed.drafts += [
            Draft(line=line, subject=cell["subject"], chapter=cell.get("chapter", ""), number=one)
            for one in range(1, int(count) + 1)
        ]


def _take_weight(outline: Outline, line: int, cell: dict[str, str]) -> None:
    weight = cell.get("weight", "")
    if not weight:
        return
    value, subject = as_number(weight), normal_text(cell["subject"])
    if value is None or value < 0:
        told = f"the weight '{weight[:20]}' is not a number; left out"
        outline.parsed.warnings.append(Finding(line, told))
    elif outline.weights.setdefault(subject, float(value)) != float(value):
        told = f"{subject} has another weight further up; that one is kept"
        outline.parsed.warnings.append(Finding(line, told))
