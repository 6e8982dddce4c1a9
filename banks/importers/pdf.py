"""Text from PDF: the pages as running lines, read as printed text. Needs the extra `pdf`."""

import logging
from bisect import bisect_right
from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from banks.importers.archive import said
from banks.importers.common import Draft, Finding, Hints, Parsed
from banks.importers.printed import parse_lines
from banks.importers.printed_pages import Lines, in_reading_order, plain, without_furniture
from domain.errors import InputError
from domain.text import tidy

if TYPE_CHECKING:
    from pypdf import PageObject, PdfReader

MOST_PAGES = 5_000
MOST_CHARACTERS = 50_000_000
_WIDE = 2.2
"""How wide pages are laid out, so that no left column runs into the right one."""


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from a PDF; lines in drafts and findings are page numbers.

    Raises InputError when it is locked, damaged or holds pictures instead of text.
    """
    name = hints.name or "This PDF"
    pages, numbers, furniture = without_furniture(_pages(data, name, hints))
    ordered = in_reading_order(pages)
    texts = [tidy(plain(line)) for page in ordered for line in page if line.strip()]
    lines = list(enumerate(texts, 1))
    if not lines:
        raise InputError(f"{name} holds no text, only pictures of pages; scan it to text first.")
    parsed = Parsed(format="pdf", drafts=[], skipped=[], warnings=[])
    parsed = parse_lines(lines, parsed, hints)
    _tell_pages(parsed, _Pages(ordered, numbers))
    parsed.warnings += [Finding(0, reason) for reason in furniture]
    return parsed


def _pages(data: bytes, name: str, hints: Hints) -> list[Lines]:
    reader = _open(data, name)
    pages: list[Lines] = []
    characters = 0
    for at, page in enumerate(reader.pages):
        text = _text(page, f"{name}, page {at + 1}")
        characters += len(text)
        if characters > MOST_CHARACTERS:
            raise InputError(f"{name} holds more than {MOST_CHARACTERS:,} characters; split it up.")
        pages.append(text.split("\n"))
        if hints.progress:
            hints.progress(0.9 * (at + 1) / len(reader.pages))
    return pages


def _open(data: bytes, name: str) -> "PdfReader":
    try:
        from pypdf import PdfReader
    except ImportError:
        raise InputError(
            f"{name} is a PDF; to read it, install resieve with the extra: resieve[pdf]."
        ) from None
    logging.getLogger("pypdf").setLevel(logging.CRITICAL)
    try:
        reader = PdfReader(BytesIO(data))
        locked = reader.is_encrypted and not reader.decrypt("")
        count = 0 if locked else len(reader.pages)
    except Exception as problem:  # a damaged file can make the library raise anything
        raise InputError(f"{name} is not a valid PDF ({said(problem)}).") from None
    if locked:
        raise InputError(f"{name} is locked with a password; save it without one first.")
    if count > MOST_PAGES:
        raise InputError(f"{name} has {count:,} pages, at most {MOST_PAGES:,} are read; split it.")
    return reader


def _text(page: "PageObject", where: str) -> str:
    try:
        return page.extract_text(
            extraction_mode="layout",
            layout_mode_space_vertically=False,
            layout_mode_scale_weight=_WIDE,
        ).replace("\r", "\n")
    except Exception as problem:  # a damaged page can make the library raise anything
        raise InputError(f"{where} can't be read ({said(problem)}).") from None


class _Pages:
    """Which page a line of the running text is on."""

    def __init__(self, pages: Sequence[Lines], numbers: Sequence[int]) -> None:
        self._numbers = numbers
        self._starts: list[int] = []
        line = 1
        for page in pages:
            self._starts.append(line)
            line += sum(1 for each in page if each.strip())

    def of(self, line: int) -> int:
        """The page's number; 0 for no line."""
        return self._numbers[bisect_right(self._starts, line) - 1] if line else 0


def _tell_pages(parsed: Parsed, pages: _Pages) -> None:
    """Say pages instead of lines; a question without a reference gets its page."""
    draft: Draft
    for draft in parsed.drafts:
        draft.line = pages.of(draft.line)
        draft.reference = draft.reference or f"p. {draft.line}"
    for findings in (parsed.skipped, parsed.warnings):
        findings[:] = [
            Finding(page, f"page {page}: {finding.reason}" if page else finding.reason)
            for finding in findings
            for page in [pages.of(finding.line)]
        ]
