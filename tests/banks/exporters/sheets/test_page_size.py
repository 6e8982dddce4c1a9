"""How numbers flow down the columns: all of them, in order, none cut, no heading alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from banks.exporters.sheets.question_sheet import (
    A4,
    COLUMNS,
    LETTER,
    SHORTEST,
    BlockKind,
    PageSize,
    Sheet,
    SheetLine,
    SheetPart,
    pages,
    room,
)
from tests.banks.exporters.sheets.made_sheets import numbers, sheet


def by_words(text: str, kind: BlockKind) -> tuple[str, ...]:
    return tuple(text.split(" ", 2))


@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
@given(seed=st.integers(0, 10**6), most=st.integers(1, 90))
def test_every_number_stands_once_in_order_and_inside_its_column(
    paper: PageSize, seed: int, most: int
) -> None:
    made = sheet(seed, most)

    laid_out = pages(made, paper, by_words)

    columns = [(at, column) for at, page in enumerate(laid_out) for column in page]
    blocks = [block for _, column in columns for block in column]
    assert [block.line.number for block in blocks if block.line] == numbers(made)
    for at, column in columns:
        assert sum(block.height for block in column) <= room(paper, at) + 1e-6
        assert column[-1].kind is BlockKind.LINE
        assert column[0].kind is not BlockKind.LINE
    assert all(1 <= len(page) <= COLUMNS for page in laid_out)


def test_a_chapter_that_goes_on_in_the_next_column_says_so() -> None:
    columns = [column for page in pages(sheet(3, 60), A4, by_words) for column in page]

    continued = [column[0] for column in columns if column[0].kind is BlockKind.CONTINUED]
    assert continued
    titles = {" ".join(block.text) for column in columns for block in column if block.count}
    assert all(block.text[0] in titles for block in continued)


def test_a_page_that_is_not_full_is_filled_evenly() -> None:
    last = pages(sheet(5, 12), A4, by_words)[-1]

    heights = [sum(block.height for block in column) for column in last]
    assert len(last) == COLUMNS
    assert max(heights) - min(heights) < 40


def test_a_few_numbers_stay_in_one_column() -> None:
    part = SheetPart("Sky", "Clouds", tuple(SheetLine(number) for number in range(1, 13)))

    [[column]] = pages(Sheet("Sweep", "", (part,)), A4, by_words)

    assert sum(block.height for block in column) < SHORTEST
