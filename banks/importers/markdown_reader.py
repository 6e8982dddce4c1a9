"""Markdown as our own export writes it: headings down to the number, options, fields.

Lines end at a line feed only; a backslash at the end of a line joins the next to it.
"""

import re
from collections.abc import Iterator
from typing import Any

from banks.importers.common import Finding, Hints, Parsed
from banks.importers.encoding import Text
from banks.importers.json_reader import ObjectReader

NUMBER = re.compile(r"#### (\d{1,6})\s*")
"""The heading of a question, by which such a file is known."""

_HEADING = re.compile(r"(#{1,3}) (.+)", re.DOTALL)
_OPTION = re.compile(r"- \(([a-z])\) ?(.*)", re.DOTALL)
_FIELD = re.compile(r"\* \*\*(\w+):\*\* ?(.*)", re.DOTALL)
_ESCAPED = re.compile(r"\\([!-/:-@\[-`{-~])|&#(\d{1,5});")
_UNFINISHED = re.compile(r"(?<!\\)(?:\\\\)*\\\n")

_Said = tuple[int, dict[str, Any]]


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from Markdown; lines that are none of its parts are told."""
    text = Text(data, hints.name, hints.encoding)
    parsed = Parsed(format="markdown", encoding=text.encoding, drafts=[], skipped=[], warnings=[])
    questions = _questions(_joined(text.lines()), parsed)
    ObjectReader(hints, parsed).read(questions, len(data))
    parsed.warnings += text.findings()
    parsed.encodings = text.encodings
    return parsed


def _joined(lines: Iterator[str]) -> Iterator[tuple[int, str]]:
    """(number of the first line, text): lines joined where a hard break stands between them."""
    held, first = "", 0
    for number, line in enumerate(lines, start=1):
        first = first if held else number
        if _UNFINISHED.search(line) and line.endswith("\\\n"):
            held += (line[2:] if held and line.startswith("  ") else line)[:-2] + "\n"
            continue
        last = line[2:] if held and line.startswith("  ") else line
        yield first, (held + last).removesuffix("\n")
        held = ""
    if held:
        yield first, held.removesuffix("\n")


def _questions(lines: Iterator[tuple[int, str]], parsed: Parsed) -> Iterator[_Said]:
    places: dict[str, str] = {}
    said: _Said | None = None
    for number, line in lines:
        if found := NUMBER.fullmatch(line):
            if said:
                yield said
            said = number, {**places, "number": found[1]}
        elif found := _HEADING.fullmatch(line):
            if said:
                yield said
            said = None
            _take_heading(len(found[1]), _plain(found[2]), places, parsed)
        elif line.strip() and not _take(line, said):
            parsed.warnings.append(Finding(number, "not part of a question; left out"))
    if said:
        yield said


def _take_heading(depth: int, title: str, places: dict[str, str], parsed: Parsed) -> None:
    if depth == 1:
        parsed.title = title
    elif depth == 2:
        places["subject"] = title
        places.pop("chapter", None)
    else:
        places["chapter"] = title


def _take(line: str, said: _Said | None) -> bool:
    """Add a line to the question it stands under; whether it has a place there."""
    if said is None:
        return False
    fields = said[1]
    found = _OPTION.fullmatch(line) or _FIELD.fullmatch(line)
    name, text = (found[1], found[2]) if found else ("stem", line)
    if name in fields:
        return False
    fields[name] = _plain(text)
    return True


def _plain(text: str) -> str:
    """The text without its escapes."""
    return _ESCAPED.sub(lambda found: found[1] or chr(int(found[2])), text)
