"""Questions as Markdown, to read, print or share; it comes back through its importer.

Headings are title, subject, chapter and number; under a number stand the stem, a list of options
and a list of fields. A text's line ends are hard breaks: a backslash at the end of a line.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

from banks.exporters.question_rows import (
    Histories,
    LocatedQuestion,
    chosen,
    encoded,
    escaped,
    fields,
    marked_up,
)
from domain.questions import LETTERS, Bank, Kind, Question

_HEADINGS = ("subject", "chapter", "number", "stem")
_BLOCK_START = re.compile(r"(\d*)([-+=:.)])")
_INDENT = "  "


def to_markdown(
    bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()
) -> bytes:
    """The bank's active questions. Raises InputError when there is none."""
    parts = [f"# {escaped(bank.title)}"]
    by_subject = groupby(chosen(bank, subjects), key=lambda placed: placed.subject)
    for subject, of_subject in by_subject:
        parts.append(f"## {escaped(subject.title)}")
        for chapter, of_chapter in groupby(of_subject, key=lambda placed: placed.chapter):
            parts.append(f"### {escaped(chapter.title)}")
            for placed in of_chapter:
                parts += _question(placed, histories or {})
    return encoded("\n\n".join(parts) + "\n")


def _question(placed: LocatedQuestion, histories: Histories) -> Iterator[str]:
    said = fields(placed, histories)
    yield f"#### {said['number']}"
    if "stem" in said:
        yield _text(said["stem"])
    options = [f"- ({x}) {_text(said[x], _INDENT)}" for x in LETTERS if x in said]
    if options:
        yield "\n".join(options)
    shown = {*_HEADINGS, *LETTERS, *(["kind"] if _is_plain(placed.question) else [])}
    rest = {name: text for name, text in said.items() if name not in shown}
    if rest:
        yield "\n".join(f"* **{name}:** {_text(text, _INDENT)}" for name, text in rest.items())


def _is_plain(question: Question) -> bool:
    """Whether its kind goes without saying: one key among options that aren't true and false."""
    is_single = question.kind is Kind.BEST and len(question.answer_key) <= 1
    return is_single and len(question.options) != 2


def _text(text: str, indent: str = "") -> str:
    return f"\\\n{indent}".join(map(_line, text.split("\n")))


def _line(line: str) -> str:
    """A line that means nothing but itself, wherever it stands."""
    safe = marked_up(line)
    if safe[:1] in (" ", "\t"):
        return f"&#{ord(safe[0])};{safe[1:]}"
    return _BLOCK_START.sub(r"\1\\\2", safe, count=1) if _BLOCK_START.match(safe) else safe
