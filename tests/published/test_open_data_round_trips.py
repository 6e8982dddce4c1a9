"""Open question sets, through every export and back, and typeset as a PDF and read again.

Sources: MMLU test sets (Hendrycks et al. 2021, MIT), MedMCQA validation split (Pal et al. 2022,
MIT), AQuA-RAT test (Ling et al. 2017, Apache-2.0), OpenBookQA test (Mihaylov et al. 2018,
Apache-2.0): excerpts, and the whole sets where they are at hand. The same round trips on made-up
banks stand in tests/banks/exporters.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from fpdf import FPDF

from banks.exporters.bank_writers import to_csv, to_json, to_json_lines, to_markdown, to_xlsx
from banks.exporters.qti_writer import VERSION_3_0, to_package
from banks.importers import pdf
from banks.importers.common import Draft, Hints
from banks.importers.detect import parse
from banks.intake.reconcile import reconcile
from domain.questions import Bank
from tests.banks.exporters.made_banks import expected, found
from tests.published.open_sets import each

SETS = [
    "mmlu_clinical_knowledge_test.csv",
    "mmlu_college_chemistry_test.csv",
    "mmlu_high_school_us_history_test.csv",
    "mmlu_management_test.csv",
    "aqua_test.json",
    "medmcqa_validation.jsonl",
]
WRITERS: dict[str, Callable[[Bank], bytes]] = {
    "csv": to_csv,
    "json": to_json,
    "jsonl": to_json_lines,
    "xlsx": to_xlsx,
    "md": to_markdown,
    "qti-2.2": to_package,
    "qti-3.0": lambda bank: to_package(bank, VERSION_3_0),
}


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize("path", each(*SETS))
def test_an_open_set_comes_back_through_every_export(path: Path, writer: str) -> None:
    parsed = parse(path.read_bytes(), Hints(name=path.name))
    parsed.drafts = parsed.drafts[:200]
    bank = reconcile(Bank(id="b", title="Set"), parsed, subject="Open", chapter="Set").bank

    back = parse(WRITERS[writer](bank), Hints())

    assert len(back.drafts) == len(parsed.drafts) > 0
    assert found(back.drafts) == expected(bank)


@pytest.mark.parametrize("columns", [1, 2])
@pytest.mark.parametrize("path", each("openbookqa_test.pasted.txt"))
def test_a_printed_set_reads_the_same_from_a_typeset_pdf(path: Path, columns: int) -> None:
    data = path.read_bytes()
    as_text = parse(data, Hints()).drafts

    as_pdf = pdf.parse(typeset(data.decode(), columns), Hints())

    assert len(as_text) == data.count(b" A. ")
    assert as_pdf.skipped == []
    assert [gist(draft) for draft in as_pdf.drafts] == [gist(draft) for draft in as_text]


def gist(draft: Draft) -> tuple[object, ...]:
    options = tuple(" ".join(option.text.split()) for option in draft.options)
    return draft.number, " ".join(draft.stem.split()), options, draft.key


def typeset(text: str, columns: int) -> bytes:
    """The text as pages of a book: a running header, page numbers, one or two columns."""
    page = FPDF()
    page.set_auto_page_break(False)
    page.set_font("Helvetica", size=9)
    page.add_page()
    width = 180 if columns == 1 else 84
    latin = text.encode("latin-1", "replace").decode("latin-1")
    lines = [
        part
        for line in latin.split("\n")
        if line.strip()
        for part in page.multi_cell(width, 4.6, line, dry_run=True, output="LINES")
    ]
    for start in range(0, len(lines), 56 * columns):
        if start:
            page.add_page()
        page.text(15, 10, f"Science questions   {page.page_no()}")
        for at, line in enumerate(lines[start : start + 56 * columns]):
            page.text(15 + 94 * (at // 56), 20 + 4.6 * (at % 56), line)
        page.text(100, 290, str(page.page_no()))
    return bytes(page.output())
