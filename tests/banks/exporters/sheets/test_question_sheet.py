"""What goes on a sheet, and the order it stands in."""

import pytest

from banks.exporters.sheets import Order, Sheet, sheet_of
from domain.errors import InputError
from domain.questions import Bank, Chapter, Question, Subject
from domain.tiers import Tier


def question(chapter: str, number: int, **more: object) -> Question:
    return Question(id=f"b/{chapter}/{number}", chapter=chapter, number=number, **more)


QUESTIONS = (
    question("fog", 9, reference="p. 4"),
    question("fog", 2),
    question("gales", 5),
    question("gales", 6, retired=True),
)
BANK = Bank(
    id="b",
    title="Book",
    subjects=(
        Subject("w", "Wind", (Chapter("gales", "Gales"),)),
        Subject("s", "Sky", (Chapter("fog", "Fog"),)),
    ),
    questions={each.id: each for each in QUESTIONS},
)
TIERS = {
    "b/fog/9": Tier.HARDEST,
    "b/fog/2": Tier.HARD,
    "b/gales/5": Tier.HARD,
    "b/gales/6": Tier.HARDEST,
}


def laid_out(sheet: Sheet) -> list[tuple[str, str, list[int]]]:
    return [
        (part.heading, part.chapter, [line.number for line in part.lines]) for part in sheet.parts
    ]


def test_in_book_order_chapters_and_numbers_stand_as_in_the_book() -> None:
    sheet = sheet_of([BANK], TIERS)

    assert laid_out(sheet) == [("Wind", "Gales", [5]), ("Sky", "Fog", [2, 9])]
    assert [line.reference for line in sheet.parts[1].lines] == ["", "p. 4"]
    assert sheet.count == 3


def test_hardest_first_takes_tier_after_tier() -> None:
    sheet = sheet_of([BANK], TIERS, Order.HARDEST)

    assert laid_out(sheet) == [
        ("Sky · hardest", "Fog", [9]),
        ("Wind · hard", "Gales", [5]),
        ("Sky · hard", "Fog", [2]),
    ]


def test_only_the_tiers_on_it_are_explained() -> None:
    assert sheet_of([BANK], TIERS).tiers == "! hard · !!! hardest"


def test_retired_and_unchosen_questions_are_not_on_it() -> None:
    with pytest.raises(InputError, match="nothing to put on a sheet"):
        sheet_of([BANK], {"b/gales/6": Tier.HARDEST, "other": Tier.HARD})
