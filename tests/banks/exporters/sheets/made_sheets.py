"""Sheets whose headings hold no digits, so that every number on them is a question's."""

import random

from banks.exporters.sheets.question_sheet import Sheet, SheetLine, SheetPart
from domain.tiers import Standing, Tier

STANDINGS = (
    *(Standing(tier, signs=int(tier)) for tier in (Tier.HARD, Tier.HARDER, Tier.HARDEST)),
    Standing(Tier.CLEAR, signs=2, settled=True),
)
SUBJECTS = ("Clouds and precipitation", "Wind", "Ανεμος ≥ λ", "Instruments <i> & [b]")
CHAPTERS = ("Genera", "A chapter with quite a long title that takes several lines", "Барометры")


def sheet(seed: int, most: int, *, references: bool = False) -> Sheet:
    """A sheet with up to `most` numbers a chapter."""
    rng = random.Random(seed)
    parts = []
    for subject in SUBJECTS:
        for chapter in CHAPTERS:
            numbers = sorted(rng.sample(range(1, 999), rng.randint(1, most)))
            standings = [rng.choice(STANDINGS) for _ in numbers]
            lines = [
                SheetLine(number, standing, "p. β" if references else "")
                for number, standing in zip(numbers, standings, strict=True)
            ]
            parts.append(SheetPart(subject, chapter, tuple(lines)))
    return Sheet("Sweep of the book", "all that was missed twice", tuple(parts))


def numbers(sheet: Sheet) -> list[int]:
    return [line.number for part in sheet.parts for line in part.lines]
