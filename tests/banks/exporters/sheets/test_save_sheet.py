"""Sheets as files: text, Markdown, web page and PDF hold exactly the numbers chosen."""

import re
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from banks.exporters.sheets.question_sheet import (
    A4,
    LETTER,
    MARGIN,
    PageSize,
    Sheet,
    SheetLine,
    SheetPart,
)
from banks.exporters.sheets.sheet_writers import ENDINGS, to_bytes, write_sheet
from domain.errors import InputError, UsageError
from tests.banks.exporters.sheets.made_sheets import numbers, sheet

POINTS_PER_MM = 72 / 25.4


def pdf_pages(made: Sheet, paper: PageSize = A4) -> list[str]:
    reader = PdfReader(BytesIO(to_bytes(made, ".pdf", paper)))
    return [page.extract_text() for page in reader.pages]


@pytest.mark.parametrize("most", [1, 20, 80])
@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
def test_the_pdf_holds_exactly_the_numbers_chosen(most: int, paper: PageSize) -> None:
    made = sheet(most, most, references=True)

    numbers_read = []
    for text in pdf_pages(made, paper):
        body = re.sub(r"\d+ / \d+\s*$|\d+ questions", "", text.strip())
        # A number in bold is followed by its mark; a chapter's count stands before its title.
        numbers_read += [int(number) for number in re.findall(r"(\d+)\s*[!●]+", body)]

    assert sorted(numbers_read) == sorted(numbers(made))


def test_no_number_is_cut_by_the_edge_of_a_page() -> None:
    made = sheet(7, 60)
    reader = PdfReader(BytesIO(to_bytes(made, ".pdf")))
    count = 0

    for page in reader.pages:
        places: list[tuple[str, float, float]] = []

        def note(text: str, _cm: list, tm: list, *_: object, into: list = places) -> None:
            into.append((text.strip(), tm[4] / POINTS_PER_MM, tm[5] / POINTS_PER_MM))

        page.extract_text(visitor_text=note)
        held = [(x, y) for text, x, y in places if text and (x, y) != (0.0, 0.0)]
        count += len(held)
        assert all(MARGIN - 2 <= x <= A4.width - MARGIN for x, _ in held)
        assert all(MARGIN - 2 <= y <= A4.height - MARGIN + 2 for _, y in held)
    assert count > len(numbers(made))


@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
def test_the_pages_have_the_size_of_the_paper(paper: PageSize) -> None:
    page = PdfReader(BytesIO(to_bytes(sheet(1, 3), ".pdf", paper))).pages[0]

    assert float(page.mediabox.width) == pytest.approx(paper.width * POINTS_PER_MM, abs=0.1)
    assert float(page.mediabox.height) == pytest.approx(paper.height * POINTS_PER_MM, abs=0.1)


def test_greek_cyrillic_and_signs_print_and_what_the_font_lacks_has_a_stand_in() -> None:
    part = SheetPart("Ανεμος ≥ λ₂ → ½", "Барометры 雲", (SheetLine(1),))

    [text] = pdf_pages(Sheet("Sweep", "", (part,)))

    assert "Ανεμος ≥ λ₂ → ½" in text
    assert "Барометры ▯" in text


def test_the_font_is_inside_the_pdf() -> None:
    fonts = PdfReader(BytesIO(to_bytes(sheet(1, 3), ".pdf"))).pages[0]["/Resources"]["/Font"]

    embedded = [
        "/FontFile2" in font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        for font in fonts.values()
    ]
    assert embedded == [True, True]


def test_a_title_or_reference_too_long_is_shortened_and_not_printed_over_others() -> None:
    part = SheetPart("x" * 300, "y " * 300, (SheetLine(1, reference="page " * 40),))

    [text] = pdf_pages(Sheet("Sweep " * 60, "about " * 60, (part,)))

    assert text.count("…") == 5


def test_the_text_holds_exactly_the_numbers_and_fits_a_terminal() -> None:
    made = sheet(2, 30, references=True)

    text = to_bytes(made, ".txt").decode()

    numbers_read = [int(number) for number in re.findall(r"(\d+) [!●]+ *\[ \]\[ \]\[ \]", text)]
    assert sorted(numbers_read) == sorted(numbers(made))
    assert max(map(len, text.splitlines())) <= 78


def test_the_markdown_is_a_table_a_chapter_with_three_boxes_a_number() -> None:
    made = sheet(2, 30)

    text = to_bytes(made, ".md").decode()

    rows = re.findall(r"^\| (\d+) \| ([!●]+) \| ☐ \| ☐ \| ☐ \|", text, re.MULTILINE)
    assert [int(number) for number, _ in rows] == numbers(made)
    assert "## Instruments \\<i\\> \\& \\[b\\]" in text


def test_the_web_page_is_sound_and_text_in_it_stays_text() -> None:
    made = sheet(2, 30)
    reader = Reading()

    page = to_bytes(made, ".html").decode()
    reader.feed(page)

    quiet = [line.mark for part in made.parts for line in part.lines if line.standing.settled]
    assert re.findall(r'<i class="settled">(.*?)</i>', page) == quiet != []
    assert [int(text) for text in reader.texts["b"]] == numbers(made)
    assert "Instruments <i> & [b]" in reader.texts["h2"]
    assert reader.open == []
    assert reader.boxes == 3 * len(numbers(made))


class Reading(HTMLParser):
    """Texts by element, and the elements that were never closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: dict[str, list[str]] = {}
        self.boxes = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.boxes += tag == "u"
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and data.strip():
            self.texts.setdefault(self.open[-1], []).append(data)


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_sheet_is_written_whole_in_the_place_of_the_old_one(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"sheet{ending.upper()}"
    path.write_text("old")

    write_sheet(path, sheet(1, 3))

    assert len(path.read_bytes()) > 500
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


def test_another_ending_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"ends in .txt, .md, .html, .pdf"):
        write_sheet(tmp_path / "sheet.doc", sheet(1, 3))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_or_stands_in_the_way_is_said(tmp_path: Path) -> None:
    (tmp_path / "taken.txt").mkdir()

    with pytest.raises(InputError, match="there is no folder"):
        write_sheet(tmp_path / "nowhere" / "sheet.txt", sheet(1, 3))
    with pytest.raises(InputError, match="is a folder"):
        write_sheet(tmp_path / "taken.txt", sheet(1, 3))
    assert [each.name for each in tmp_path.rglob("*")] == ["taken.txt"]
