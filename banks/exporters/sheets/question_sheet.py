"""What a sheet says, whatever it is printed with."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from enum import StrEnum
from itertools import groupby

from msgspec import Struct

from banks.exporters.located import LocatedQuestion, book_order
from domain.errors import InputError
from domain.questions import Bank
from domain.tiers import HARD_TIERS, Standing, Tier

PASSES = 3
LEGEND = (
    "A box a pass: tick what you knew, cross what you missed, circle a doubt."
    " Key the sheet in on the Paper screen."
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
    """A sheet: its title, a line about what was chosen, and the numbers chapter by chapter."""

    title: str
    about: str
    parts: tuple[SheetPart, ...]

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
