"""What a sheet says, whatever it is printed with."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import groupby

from msgspec import Struct

from banks.exporters.question_rows import LocatedQuestion, book_order
from domain.errors import InputError
from domain.questions import Bank
from domain.tiers import HARD_TIERS, Standing, Tier

PASSES = 3
LEGEND = (
    "A box a pass: tick what you knew, cross what you missed, circle a doubt."
    " Enter the sheet from Today."
)


class Order(StrEnum):
    """How the numbers stand: by tier first, or as the book has them."""

    HARDEST = "hardest first"
    BOOK = "book order"


class SheetLine(Struct, frozen=True):
    """A number to look up, where it stands, and where in the book it is."""

    number: int
    standing: Standing = Standing()
    reference: str = ""

    @property
    def mark(self) -> str:
        """What the pencil left, as in the grid: `!!` harder, `●!` settled; "" without a sign."""
        return self.standing.mark if self.standing.open or self.standing.settled else ""


class SheetPart(Struct, frozen=True):
    """The numbers of one chapter; with `tier`, those of that tier only."""

    subject: str
    chapter: str
    lines: tuple[SheetLine, ...]
    tier: Tier | None = None

    @property
    def heading(self) -> str:
        """The subject, under its tier where the sheet is ordered by tiers."""
        return self.subject if self.tier is None else f"{self.subject} · {self.tier.word}"


class Sheet(Struct, frozen=True):
    """A sheet: its title, a line about what was chosen, and the numbers chapter by chapter.

    `legend` says how it is filled in, `boxes` how many boxes stand beside each number.
    """

    title: str
    about: str
    parts: tuple[SheetPart, ...]
    legend: str = LEGEND
    boxes: int = PASSES

    @property
    def count(self) -> int:
        """How many numbers are on it."""
        return sum(len(part.lines) for part in self.parts)

    @property
    def tiers(self) -> str:
        """What the marks on it mean: "! hard · !! harder"; "" without marks."""
        standings = [line.standing for part in self.parts for line in part.lines]
        used = {standing.tier for standing in standings}
        meanings = [f"{'!' * tier} {tier.word}" for tier in HARD_TIERS if tier in used]
        if any(standing.settled for standing in standings):
            meanings.append("● settled")
        return " · ".join(meanings)


def sheet_of(
    banks: Iterable[Bank],
    standings: Mapping[str, Standing],
    order: Order = Order.BOOK,
    title: str = "Sweep",
    about: str = "",
) -> Sheet:
    """The sheet of the active questions in `standings`, by question id.

    Raises InputError when there is none.
    """
    chosen = [
        located
        for bank in banks
        for located in book_order(bank)
        if located.question.id in standings
    ]
    if not chosen:
        raise InputError("There is nothing to put on a sheet: no question was chosen.")
    if order is Order.BOOK:
        return Sheet(title, about, _parts(chosen, standings, None))
    by_tier: dict[Tier, list[LocatedQuestion]] = defaultdict(list)
    for located in chosen:
        by_tier[standings[located.question.id].tier].append(located)
    parts = [
        part
        for tier in sorted(by_tier, reverse=True)
        for part in _parts(by_tier[tier], standings, tier)
    ]
    return Sheet(title, about, tuple(parts))


def _parts(
    chosen: Iterable[LocatedQuestion], standings: Mapping[str, Standing], tier: Tier | None
) -> tuple[SheetPart, ...]:
    grouped = groupby(chosen, key=lambda located: (located.subject, located.chapter))
    return tuple(
        SheetPart(subject.title, chapter.title, tuple(_line(p, standings) for p in group), tier)
        for (subject, chapter), group in grouped
    )


def _line(located: LocatedQuestion, standings: Mapping[str, Standing]) -> SheetLine:
    question = located.question
    return SheetLine(question.number, standings[question.id], question.reference)


class PageSize(Struct, frozen=True):
    """A size of paper, upright."""

    name: str
    width: float
    height: float


A4 = PageSize("A4", 210.0, 297.0)
LETTER = PageSize("Letter", 215.9, 279.4)
PAPER = {"a4": A4, "letter": LETTER}

COLUMNS = 4
MARGIN = 12.0
GUTTER = 4.0
HEAD_FIRST, HEAD_LATER = 36.0, 8.0
FOOT = 8.0
SHORTEST = 100.0
"""A column at least this long is begun before the next one."""


class BlockKind(StrEnum):
    """What a block in a column is."""

    SUBJECT = "subject"
    CHAPTER = "chapter"
    CONTINUED = "continued"
    LINE = "line"


HEIGHTS = {
    BlockKind.SUBJECT: 9.0,
    BlockKind.CHAPTER: 7.0,
    BlockKind.CONTINUED: 7.0,
    BlockKind.LINE: 6.2,
}
LEADING = {BlockKind.SUBJECT: 4.6, BlockKind.CHAPTER: 3.6}
"""What each further line of a heading adds."""

Wrap = Callable[[str, BlockKind], tuple[str, ...]]
"""A heading's text → the lines it takes in a column."""


class SheetBlock(Struct, frozen=True):
    """Something that stands in a column and is never cut: a heading, or a number's line."""

    kind: BlockKind
    text: tuple[str, ...] = ()
    count: int = 0
    line: SheetLine | None = None

    @property
    def height(self) -> float:
        """How much of a column it takes."""
        return HEIGHTS[self.kind] + LEADING.get(self.kind, 0.0) * max(0, len(self.text) - 1)


Column = list[SheetBlock]
Page = list[Column]


def column_width(paper: PageSize) -> float:
    """How wide a column is."""
    return (paper.width - 2 * MARGIN - (COLUMNS - 1) * GUTTER) / COLUMNS


def room(paper: PageSize, page: int) -> float:
    """The height of a column on a page (0-based), under the page's head."""
    head = HEAD_LATER if page else HEAD_FIRST
    return paper.height - 2 * MARGIN - head - FOOT


def pages(sheet: Sheet, paper: PageSize, wrap: Wrap) -> list[Page]:
    """Every block in its column; the columns of the last page are as even as can be."""
    rest = _blocks(sheet.parts, wrap)
    laid_out: list[Page] = []
    while rest:
        page, left = _page(rest, room(paper, len(laid_out)))
        laid_out.append(page if left else _evened(rest, room(paper, len(laid_out))))
        rest = left
    return laid_out


def _blocks(parts: Sequence[SheetPart], wrap: Wrap) -> list[SheetBlock]:
    blocks, heading = [], ""
    for part in parts:
        if part.heading != heading:
            heading = part.heading
            blocks.append(SheetBlock(BlockKind.SUBJECT, wrap(heading, BlockKind.SUBJECT)))
        title = wrap(part.chapter, BlockKind.CHAPTER)
        blocks.append(SheetBlock(BlockKind.CHAPTER, title, count=len(part.lines)))
        blocks += [SheetBlock(BlockKind.LINE, line=line) for line in part.lines]
    return blocks


def _page(blocks: list[SheetBlock], height: float) -> tuple[Page, list[SheetBlock]]:
    page, rest = [], blocks
    for _ in range(COLUMNS):
        column, rest = _column(rest, height)
        if column:
            page.append(column)
    return page, rest


def _column(blocks: list[SheetBlock], height: float) -> tuple[Column, list[SheetBlock]]:
    """As many blocks as fit, no heading without a line under it, and the blocks that are left."""
    column: Column = []
    used = 0.0
    for group in _groups(blocks):
        if column and used + sum(block.height for block in group) > height + 1e-9:
            break
        column += group
        used += sum(block.height for block in group)
    rest = blocks[len(column) :]
    if rest and rest[0].kind is BlockKind.LINE:
        rest = [_continued(column), *rest]
    return column, rest


def _groups(blocks: Sequence[SheetBlock]) -> Iterator[list[SheetBlock]]:
    """Headings together with the line that follows them; other lines alone."""
    group: list[SheetBlock] = []
    for block in blocks:
        group.append(block)
        if block.kind is BlockKind.LINE:
            yield group
            group = []


def _continued(column: Column) -> SheetBlock:
    headings = (BlockKind.CHAPTER, BlockKind.CONTINUED)
    title = next(block.text for block in reversed(column) if block.kind in headings)
    return SheetBlock(BlockKind.CONTINUED, (" ".join(title),))


def _evened(blocks: list[SheetBlock], height: float) -> Page:
    """The last page's blocks in columns as short as possible."""
    low = max(SHORTEST, sum(block.height for block in blocks) / COLUMNS)
    while low < height:
        page, left = _page(blocks, low)
        if not left:
            return page
        low += HEIGHTS[BlockKind.LINE] / 2
    return _page(blocks, height)[0]
