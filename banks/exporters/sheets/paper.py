"""Paper: its size, and how the numbers of a sheet flow down its columns. Lengths in millimetres."""

from collections.abc import Callable, Iterator, Sequence
from enum import StrEnum

from msgspec import Struct

from banks.exporters.sheets.sheet import Line, Part, Sheet


class PaperSize(Struct, frozen=True):
    """A size of paper, upright."""

    name: str
    width: float
    height: float


A4 = PaperSize("A4", 210.0, 297.0)
LETTER = PaperSize("Letter", 215.9, 279.4)
PAPER = {"a4": A4, "letter": LETTER}

COLUMNS = 4
MARGIN = 12.0
GUTTER = 4.0
HEAD_FIRST, HEAD_LATER = 36.0, 8.0
FOOT = 8.0
SHORTEST = 100.0
"""A column at least this long is begun before the next one."""


class Kind(StrEnum):
    """What a block in a column is."""

    SUBJECT = "subject"
    CHAPTER = "chapter"
    CONTINUED = "continued"
    LINE = "line"


HEIGHTS = {Kind.SUBJECT: 9.0, Kind.CHAPTER: 7.0, Kind.CONTINUED: 7.0, Kind.LINE: 6.2}
LEADING = {Kind.SUBJECT: 4.6, Kind.CHAPTER: 3.6}
"""What each further line of a heading adds."""

Wrap = Callable[[str, Kind], tuple[str, ...]]
"""A heading's text → the lines it takes in a column."""


class Block(Struct, frozen=True):
    """Something that stands in a column and is never cut: a heading, or a number's line."""

    kind: Kind
    text: tuple[str, ...] = ()
    count: int = 0
    line: Line | None = None

    @property
    def height(self) -> float:
        """How much of a column it takes."""
        return HEIGHTS[self.kind] + LEADING.get(self.kind, 0.0) * max(0, len(self.text) - 1)


Column = list[Block]
Page = list[Column]


def column_width(paper: PaperSize) -> float:
    """How wide a column is."""
    return (paper.width - 2 * MARGIN - (COLUMNS - 1) * GUTTER) / COLUMNS


def room(paper: PaperSize, page: int) -> float:
    """The height of a column on a page (0-based), under the page's head."""
    head = HEAD_LATER if page else HEAD_FIRST
    return paper.height - 2 * MARGIN - head - FOOT


def pages(sheet: Sheet, paper: PaperSize, wrap: Wrap) -> list[Page]:
    """Every block in its column; the columns of the last page are as even as can be."""
    rest = _blocks(sheet.parts, wrap)
    found: list[Page] = []
    while rest:
        page, left = _page(rest, room(paper, len(found)))
        found.append(page if left else _evened(rest, room(paper, len(found))))
        rest = left
    return found


def _blocks(parts: Sequence[Part], wrap: Wrap) -> list[Block]:
    blocks, heading = [], ""
    for part in parts:
        if part.heading != heading:
            heading = part.heading
            blocks.append(Block(Kind.SUBJECT, wrap(heading, Kind.SUBJECT)))
        title = wrap(part.chapter, Kind.CHAPTER)
        blocks.append(Block(Kind.CHAPTER, title, count=len(part.lines)))
        blocks += [Block(Kind.LINE, line=line) for line in part.lines]
    return blocks


def _page(blocks: list[Block], height: float) -> tuple[Page, list[Block]]:
    page, rest = [], blocks
    for _ in range(COLUMNS):
        column, rest = _column(rest, height)
        if column:
            page.append(column)
    return page, rest


def _column(blocks: list[Block], height: float) -> tuple[Column, list[Block]]:
    """As many blocks as fit, no heading without a line under it, and the blocks that are left."""
    column: Column = []
    used = 0.0
    for group in _groups(blocks):
        if column and used + sum(block.height for block in group) > height + 1e-9:
            break
        column += group
        used += sum(block.height for block in group)
    rest = blocks[len(column) :]
    if rest and rest[0].kind is Kind.LINE:
        rest = [_continued(column), *rest]
    return column, rest


def _groups(blocks: Sequence[Block]) -> Iterator[list[Block]]:
    """Headings together with the line that follows them; other lines alone."""
    group: list[Block] = []
    for block in blocks:
        group.append(block)
        if block.kind is Kind.LINE:
            yield group
            group = []


def _continued(column: Column) -> Block:
    headings = (Kind.CHAPTER, Kind.CONTINUED)
    title = next(block.text for block in reversed(column) if block.kind in headings)
    return Block(Kind.CONTINUED, (" ".join(title),))


def _evened(blocks: list[Block], height: float) -> Page:
    """The last page's blocks in columns as short as possible."""
    low = max(SHORTEST, sum(block.height for block in blocks) / COLUMNS)
    while low < height:
        page, left = _page(blocks, low)
        if not left:
            return page
        low += HEIGHTS[Kind.LINE] / 2
    return _page(blocks, height)[0]
