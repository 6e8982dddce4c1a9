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
    question: _Said | None = None
    for number, line in lines:
        if match := NUMBER.fullmatch(line):
            if question:
                yield question
            question = number, {**places, "number": match[1]}
        elif match := _HEADING.fullmatch(line):
            if question:
                yield question
            question = None
            _take_heading(len(match[1]), _plain(match[2]), places, parsed)
        elif line.strip() and not _take(line, question):
            parsed.warnings.append(Finding(number, "not part of a question; left out"))
    if question:
        yield question


def _take_heading(depth: int, title: str, places: dict[str, str], parsed: Parsed) -> None:
    if depth == 1:
        parsed.title = title
    elif depth == 2:
        places["subject"] = title
        places.pop("chapter", None)
    else:
        places["chapter"] = title


def _take(line: str, question: _Said | None) -> bool:
    """Add a line to the question it stands under; whether it has a place there."""
    if question is None:
        return False
    fields = question[1]
    match = _OPTION.fullmatch(line) or _FIELD.fullmatch(line)
    name, text = (match[1], match[2]) if match else ("stem", line)
    if name in fields:
        return False
    fields[name] = _plain(text)
    return True


def _plain(text: str) -> str:
    """The text without its escapes."""
    return _ESCAPED.sub(lambda escape: escape[1] or chr(int(escape[2])), text)
