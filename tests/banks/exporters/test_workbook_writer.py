"""Workbooks: what goes out comes back, and no cell is a formula."""

from io import BytesIO

import pytest
from hypothesis import given, settings
from openpyxl import load_workbook

from banks.exporters.bank_writers import to_xlsx
from banks.importers.common import Hints
from banks.importers.detect import detect, parse
from domain.errors import InputError
from domain.questions import Bank, Chapter, Question, Subject
from tests.banks.exporters.made_banks import banks, expected, found


def bank_of(stem: str, *titles: str) -> Bank:
    subjects = [
        Subject(f"s{at}", title, (Chapter(f"c{at}", "Clouds"),)) for at, title in enumerate(titles)
    ]
    questions = [
        Question(id=f"b/c{at}/1", chapter=f"c{at}", number=1, stem=stem, answer_key=("a",))
        for at in range(len(titles))
    ]
    held = {question.id: question for question in questions}
    return Bank(id="b", title="Book", subjects=tuple(subjects), questions=held)


@settings(max_examples=60, deadline=None)
@given(bank=banks())
def test_what_is_exported_comes_back_as_it_was(bank: Bank) -> None:
    data = to_xlsx(bank)

    parsed = parse(data, Hints())

    assert parsed.skipped == []
    assert found(parsed.drafts) == expected(bank)
    assert detect(data) == "xlsx"


@pytest.mark.parametrize("stem", ["=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "#REF!"])
def test_no_cell_is_a_formula_or_an_error(stem: str) -> None:
    book = load_workbook(BytesIO(to_xlsx(bank_of(stem, "Sky"))))

    cells = [cell for row in book.active.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} == {"s", "n"}
    assert all(cell.quotePrefix for cell in cells if cell.data_type == "s")
    assert stem in [cell.value for cell in cells]


def test_each_subject_has_a_sheet_with_a_name_that_spreadsheets_allow() -> None:
    titles = ["Sea: [tides]/waves?", "x" * 40, "X" * 40, "'''"]

    book = load_workbook(BytesIO(to_xlsx(bank_of("Why?", *titles))))

    assert book.sheetnames == ["Sea   tides  waves", "x" * 31, "X" * 26 + " 2", "Sheet"]


def test_a_text_too_long_for_a_cell_is_said_and_nothing_is_cut() -> None:
    with pytest.raises(InputError, match="holds 32,767"):
        to_xlsx(bank_of("x" * 32_768, "Sky"))
