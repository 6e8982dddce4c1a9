"""PDF as question books are printed: furniture, columns, run-over questions, a key at the end."""

import sys
from io import BytesIO

import pytest
from fpdf import FPDF
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader, PdfWriter

from banks.importers.common import Draft, Hints
from banks.importers.detect import detect
from banks.importers.pdf import parse
from banks.importers.printed_pages import in_reading_order, without_furniture
from domain.errors import InputError

LETTERS = "abcd"


def question(number: int, stem: str = "") -> list[str]:
    stem = stem or f"What is the cloud number {'x' * (number % 5 + 1)}?"
    return [f"{number}. {stem}", "A) cirrus", "B) stratus", "C) cumulus", "D) nimbus"]


def book(pages: list[list[tuple[float, list[str]]]], header: str = "", footer: str = "") -> bytes:
    """A PDF: for each page columns (left edge in mm, lines); `{}` in furniture is the number."""
    pdf = FPDF()
    pdf.set_auto_page_break(False)
    pdf.set_font("Helvetica", size=10)
    for number, columns in enumerate(pages, start=41):
        pdf.add_page()
        pdf.text(20, 12, header.format(number))
        for left, lines in columns:
            for at, line in enumerate(lines):
                pdf.text(left, 24 + 5 * at, line)
        pdf.text(100, 285, footer.format(number))
    return bytes(pdf.output())


def one_column(*pages: list[str]) -> list[list[tuple[float, list[str]]]]:
    return [[(20.0, lines)] for lines in pages]


def drafts(data: bytes) -> list[Draft]:
    parsed = parse(data, Hints())
    assert parsed.skipped == []
    return parsed.drafts


def test_questions_and_a_key_section_come_in() -> None:
    first = [line for number in range(1, 8) for line in question(number)]
    second = [line for number in range(8, 12) for line in question(number)]
    key = ["Answer key", "1-a 2-b 3-c 4-d 5-a 6-b", "7-c 8-d 9-a 10-b 11-c"]

    read_back = drafts(book(one_column(first, second + key)))

    assert [draft.number for draft in read_back] == list(range(1, 12))
    assert [draft.key for draft in read_back] == [((n - 1) % 4,) for n in range(1, 12)]
    assert [option.text for option in read_back[10].options] == [
        "cirrus", "stratus", "cumulus", "nimbus",
    ]  # fmt: skip


def test_words_of_the_books_own_name_the_answer_key() -> None:
    lines = [
        line for n in range(1, 6) for line in [*question(n), f"Die Nummer dazu: {'ABCD'[n % 4]}"]
    ]
    read_back = drafts(book(one_column(lines)))
    assert [draft.key for draft in read_back] == [((n % 4),) for n in range(1, 6)]


def test_page_furniture_is_removed_and_printed_page_numbers_are_the_reference() -> None:
    pages = one_column(*(question(2 * n - 1) + question(2 * n) for n in range(1, 5)))

    read_back = drafts(book(pages, header="The Observer's Question Book  {}", footer="- {} -"))

    text = " ".join(option.text for draft in read_back for option in draft.options)
    assert "Observer" not in text
    assert "-" not in text
    assert [draft.reference for draft in read_back] == [f"p. {41 + n // 2}" for n in range(8)]


def test_a_question_that_runs_over_a_page_is_joined_across_the_furniture() -> None:
    stem = "A stem so long that its second half stands"
    first = [*question(1), f"2. {stem}"]
    second = ["on the next page?", *question(2)[1:], *question(3)]

    read_back = drafts(book(one_column(first, second, question(4)), header="Clouds", footer="{}"))

    assert read_back[1].stem == f"{stem} on the next page?"
    assert read_back[1].reference == "p. 41"
    assert len(read_back) == 4


def test_an_option_that_ends_many_pages_is_no_furniture() -> None:
    pages = one_column(*(question(number) for number in range(1, 6)))

    read_back = drafts(book(pages, header="Clouds", footer="{}"))

    assert all(draft.options[-1].text == "nimbus" for draft in read_back)


def test_two_columns_are_read_one_after_the_other() -> None:
    left = [line for number in (1, 2, 3) for line in question(number)]
    right = [line for number in (4, 5) for line in question(number)]
    more = [line for number in (6, 7) for line in question(number)]

    read_back = drafts(book([[(20.0, left), (110.0, right)], [(20.0, more), (110.0, question(8))]]))

    assert [draft.number for draft in read_back] == list(range(1, 9))
    assert all(len(draft.options) == 4 for draft in read_back)


def test_options_in_two_columns_under_a_stem_stay_with_their_question() -> None:
    lines, right = [], []
    for number in range(1, 6):
        lines += [f"{number}. Which of the following genera is the one that is meant by this text"]
        lines += ["A) cirrus", "C) cumulus"]
        right += ["", "B) stratus", "D) nimbus"]

    read_back = drafts(book([[(20.0, lines), (80.0, right)]]))

    assert [[o.text for o in draft.options] for draft in read_back] == [
        ["cirrus", "stratus", "cumulus", "nimbus"]
    ] * 5


def test_ligatures_are_the_letters_they_stand_for() -> None:
    pages, *_ = without_furniture([["1. A ﬁne ﬂow"]])

    assert pages == [["1. A ﬁne ﬂow"]]
    from banks.importers.printed_pages import plain

    assert plain("1.  A ﬁne   ﬂow") == "1. A fine flow"


def test_without_printed_numbers_pages_count_from_one() -> None:
    pages = [["top", f"{n}. a", "b", "c", "d", "e", "end"] for n in range(3)]

    assert without_furniture(pages)[1] == [1, 2, 3]


def test_a_title_across_two_columns_keeps_its_place() -> None:
    page = ["          A TITLE ACROSS THE PAGE          "]
    page += [f"{n}. left words here      {n + 10}. right words here" for n in range(1, 30)]

    [lines] = in_reading_order([page])

    assert lines[0].strip() == "A TITLE ACROSS THE PAGE"
    assert [line.split(".")[0].strip() for line in lines[1:]] == [
        *map(str, range(1, 30)), *map(str, range(11, 40)),
    ]  # fmt: skip


def test_findings_say_the_page() -> None:
    data = book(one_column(question(1), [*question(2), "3. Why?", "A) alone"]), footer="{}")

    [finding] = parse(data, Hints()).skipped

    assert finding.line == 42
    assert finding.reason.startswith("page 42: question 3")


def test_it_is_known_by_its_first_bytes() -> None:
    assert detect(book(one_column(question(1)))) == "pdf"


def test_pictures_without_text_are_said_to_be_that() -> None:
    with pytest.raises(InputError, match="no text, only pictures"):
        parse(book(one_column([])), Hints())


def test_a_locked_file_is_said_to_be_locked() -> None:
    writer = PdfWriter()
    writer.append(PdfReader(BytesIO(book(one_column(question(1))))))
    writer.encrypt("secret", algorithm="RC4-128")
    stream = BytesIO()
    writer.write(stream)

    with pytest.raises(InputError, match="locked with a password"):
        parse(stream.getvalue(), Hints())


def test_without_the_extra_the_way_to_it_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pypdf", None)

    with pytest.raises(InputError, match=r"resieve\[pdf\]"):
        parse(b"%PDF-1.7", Hints())


def ends_well(data: bytes) -> None:
    try:
        parsed = parse(data, Hints())
    except InputError as refusal:
        refused = str(refusal)
    else:
        refused = ""
        assert len(parsed.drafts) <= 5
    assert "\n" not in refused


WHOLE = book(one_column(question(1), question(2)), header="Clouds", footer="{}")


@settings(max_examples=60, deadline=None)
@given(rest=st.binary(max_size=200))
def test_any_bytes_after_the_mark_end_well(rest: bytes) -> None:
    ends_well(b"%PDF-1.4\n" + rest)


@settings(max_examples=100, deadline=None)
@given(at=st.integers(0, len(WHOLE) - 1), byte=st.integers(0, 255), cut=st.booleans())
def test_a_file_with_one_byte_changed_or_its_end_cut_off_ends_well(
    at: int, byte: int, cut: bool
) -> None:
    whole = bytearray(WHOLE)
    whole[at] = byte

    ends_well(bytes(whole[: at + 1] if cut else whole))
