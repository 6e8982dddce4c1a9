"""What a sheet says, whatever it is printed with."""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from itertools import groupby

from msgspec import Struct

from banks.exporters.located import LocatedQuestion, book_order
from domain.errors import InputError
from domain.questions import Bank
from domain.tiers import HARD_TIERS, Tier

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
    """A number to look up, its tier, and where in the book it is."""

    number: int
    tier: Tier = Tier.UNTRIED
    reference: str = ""

    @property
    def mark(self) -> str:
        """`!` hard, `!!` harder, `!!!` hardest, as on the screens; "" for the others."""
        return "!" * max(0, self.tier)


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
        used = {line.tier for part in self.parts for line in part.lines}
        return " · ".join(f"{'!' * tier} {tier.word}" for tier in HARD_TIERS if tier in used)


def sheet_of(
    banks: Iterable[Bank],
    tiers: Mapping[str, Tier],
    order: Order = Order.BOOK,
    title: str = "Sweep",
    about: str = "",
) -> Sheet:
    """The sheet of the living questions in `tiers` (question id → where it stands).

    Raises InputError when there is none.
    """
    chosen = [
        placed for bank in banks for placed in book_order(bank) if placed.question.id in tiers
    ]
    if not chosen:
        raise InputError("There is nothing to put on a sheet: no question was chosen.")
    if order is Order.BOOK:
        return Sheet(title, about, _parts(chosen, tiers, None))
    parts = [
        part
        for tier in sorted(set(tiers.values()), reverse=True)
        for part in _parts([p for p in chosen if tiers[p.question.id] is tier], tiers, tier)
    ]
    return Sheet(title, about, tuple(parts))


def _parts(
    chosen: Iterable[LocatedQuestion], tiers: Mapping[str, Tier], tier: Tier | None
) -> tuple[SheetPart, ...]:
    grouped = groupby(chosen, key=lambda placed: (placed.subject, placed.chapter))
    return tuple(
        SheetPart(subject.title, chapter.title, tuple(_line(p, tiers) for p in group), tier)
        for (subject, chapter), group in grouped
    )


def _line(placed: LocatedQuestion, tiers: Mapping[str, Tier]) -> SheetLine:
    question = placed.question
    return SheetLine(question.number, tiers[question.id], question.reference)
