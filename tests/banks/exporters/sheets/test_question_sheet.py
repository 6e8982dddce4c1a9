"""What goes on a sheet, and the order it stands in."""

import pytest

from banks.exporters.sheets.question_sheet import Order, Sheet, sheet_of
from domain.errors import InputError
from domain.questions import Bank, Chapter, Question, Subject
from domain.tiers import Standing, Tier


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
HARD, HARDEST = Standing(Tier.HARD, signs=1), Standing(Tier.HARDEST, signs=3)
STANDINGS = {"b/fog/9": HARDEST, "b/fog/2": HARD, "b/gales/5": HARD, "b/gales/6": HARDEST}


def laid_out(sheet: Sheet) -> list[tuple[str, str, list[int]]]:
    return [
        (part.heading, part.chapter, [line.number for line in part.lines]) for part in sheet.parts
    ]


def test_in_book_order_chapters_and_numbers_stand_as_in_the_book() -> None:
    sheet = sheet_of([BANK], STANDINGS)

    assert laid_out(sheet) == [("Wind", "Gales", [5]), ("Sky", "Fog", [2, 9])]
    assert [line.reference for line in sheet.parts[1].lines] == ["", "p. 4"]
    assert sheet.count == 3


def test_hardest_first_takes_tier_after_tier() -> None:
    sheet = sheet_of([BANK], STANDINGS, Order.HARDEST)

    assert laid_out(sheet) == [
        ("Sky · hardest", "Fog", [9]),
        ("Wind · hard", "Gales", [5]),
        ("Sky · hard", "Fog", [2]),
    ]


def test_only_the_tiers_on_it_are_explained() -> None:
    assert sheet_of([BANK], STANDINGS).tiers == "! hard · !!! hardest"


def test_a_settled_question_keeps_its_signs_and_a_clear_one_has_none() -> None:
    settled = Standing(Tier.CLEAR, signs=2, settled=True)
    sheet = sheet_of([BANK], {"b/fog/9": settled, "b/fog/2": Standing(Tier.CLEAR)})

    assert [line.mark for line in sheet.parts[0].lines] == ["", "●!!"]
    assert sheet.tiers == "● settled"


def test_retired_and_unchosen_questions_are_not_on_it() -> None:
    with pytest.raises(InputError, match="nothing to put on a sheet"):
        sheet_of([BANK], {"b/gales/6": HARDEST, "other": HARD})
