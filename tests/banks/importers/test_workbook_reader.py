"""Workbooks as people make them: sheets, titles, numbers as text, dates that were fractions."""

import zipfile
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from banks.importers.common import Cancelled, Draft, Hints
from banks.importers.workbook_reader import columns, parse
from domain.errors import InputError

HEADER = ["No.", "Question", "A", "B", "C", "D", "Answer"]
LOW = [1, "Which is low?", "Cirrus", "Stratus", "Cirrocumulus", "Cirrostratus", "b"]
WET = [2, "Which is wet?", "Fog", "Dust", "Sand", "Smoke", "a"]
Rows = Sequence[Sequence[Any]]


def workbook(**sheets: Rows) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name.replace("_", " "))
        for row in rows:
            sheet.append(row)
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def drafts(**sheets: Rows) -> list[Draft]:
    parsed = parse(workbook(**sheets), Hints())
    assert parsed.skipped == []
    return parsed.drafts


def test_a_plain_table_comes_in() -> None:
    low, wet = drafts(Sheet1=[HEADER, LOW, WET])

    assert (low.number, low.stem, low.key) == (1, "Which is low?", (1,))
    assert [option.text for option in wet.options] == ["Fog", "Dust", "Sand", "Smoke"]
    assert (low.subject, low.chapter, low.line, wet.line) == ("", "", 2, 3)


def test_several_named_sheets_are_subjects() -> None:
    low, wet = drafts(Sky=[HEADER, LOW], Sea=[HEADER, WET])

    assert (low.subject, wet.subject) == ("Sky", "Sea")


def test_sheets_are_chapters_where_the_subject_is_known() -> None:
    data = workbook(Sky=[HEADER, LOW], Sea=[HEADER, WET])

    low, wet = parse(data, Hints(subject="Weather")).drafts

    assert [(d.subject, d.chapter) for d in (low, wet)] == [("", "Sky"), ("", "Sea")]


def test_sheets_that_nobody_named_say_nothing() -> None:
    assert {draft.subject for draft in drafts(Sheet1=[HEADER, LOW], Sheet2=[HEADER, WET])} == {""}


def test_a_merged_title_over_the_table_and_between_rows_is_a_chapter() -> None:
    book = Workbook()
    for row in (["Chapter 1: Clouds"], HEADER, LOW, ["Chapter 2: Fog"], WET):
        book.active.append(row)
    book.active.merge_cells("A1:G1")
    book.active.merge_cells("A4:G4")
    stream = BytesIO()
    book.save(stream)

    parsed = parse(stream.getvalue(), Hints())

    assert [draft.chapter for draft in parsed.drafts] == ["Chapter 1: Clouds", "Chapter 2: Fog"]
    findings = [(finding.line, finding.reason) for finding in parsed.warnings]
    assert (4, "taken as a heading: Chapter 2: Fog") in findings


def test_a_header_that_is_repeated_is_no_question() -> None:
    low, wet = drafts(Sheet1=[HEADER, LOW, ["Fog"], HEADER, WET])

    assert (low.chapter, wet.chapter) == ("", "Fog")


def test_numbers_stored_as_text_are_numbers() -> None:
    [draft] = drafts(Sheet1=[HEADER, ["7 ", "How many?", "1", 2, 3.5, "4.0", "2"]])

    assert draft.number == 7
    assert [option.text for option in draft.options] == ["1", "2", "3.5", "4.0"]
    assert draft.key == (1,)


def test_what_became_a_date_or_a_time_is_kept_and_told() -> None:
    options = [datetime(2026, 1, 2), time(2, 25), timedelta(hours=30, minutes=2), date(2026, 1, 4)]
    book = Workbook()
    book.active.append(HEADER)
    book.active.append([1, "Which ratio?", *options, "a"])
    book.active["C2"].number_format = "d-mmm"
    stream = BytesIO()
    book.save(stream)

    parsed = parse(stream.getvalue(), Hints())

    [draft] = parsed.drafts
    assert [option.text for option in draft.options] == ["2-Jan", "2:25", "30:02", "2026-01-04"]
    findings = [finding for finding in parsed.warnings if "dates or times" in finding.reason]
    assert [finding.line for finding in findings] == [2]


def test_percentages_stay_percentages_and_truth_values_words() -> None:
    book = Workbook()
    book.active.append(HEADER)
    book.active.append([1, "How much?", 0.25, True, 0.1 + 0.2, 1e21, "a"])
    book.active["C2"].number_format = "0%"
    stream = BytesIO()
    book.save(stream)

    [draft] = parse(stream.getvalue(), Hints()).drafts

    assert [option.text for option in draft.options] == ["25%", "True", "0.3", "1e+21"]


def test_a_sheet_without_questions_is_left_out_and_told() -> None:
    data = workbook(Notes=[["Made by hand"], ["in spring"]], Sky=[HEADER, LOW])

    parsed = parse(data, Hints())

    assert len(parsed.drafts) == 1
    assert "sheet Notes: no column for the stem" in parsed.skipped[0].reason


def test_a_bad_row_is_named_with_its_sheet_and_number() -> None:
    parsed = parse(
        workbook(Sky=[HEADER, LOW], Sea=[HEADER, WET, [3, "Why?", "x", "y", "", "", "q"]]), Hints()
    )

    [finding] = parsed.skipped
    assert finding.line == 3
    assert finding.reason.startswith("sheet Sea: the key 'q'")


def test_the_columns_can_be_shown_and_named_by_hand() -> None:
    rows = [["Q", "first", "second", "right"], ["Which is low?", "Cirrus", "Stratus", "B"]]
    data = workbook(Sheet1=rows)

    assert columns(data).names == ("Q", "first", "second", "right")
    mapping = {"stem": 0, "a": 1, "b": 2, "key": 3}
    [draft] = parse(data, Hints(columns=mapping, header=True)).drafts
    assert (draft.stem, draft.key) == ("Which is low?", (1,))


def test_a_large_sheet_tells_its_progress_and_can_be_stopped() -> None:
    data = workbook(Sheet1=[HEADER, *([number, *LOW[1:]] for number in range(1, 5000))])
    shares: list[float] = []

    def stop_half_way(share: float) -> None:
        shares.append(share)
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        parse(data, Hints(progress=stop_half_way))
    assert shares == sorted(shares)
    assert 0.3 < shares[0] < 0.5 < shares[-1] < 1


def repacked(data: bytes, path: str, change: bytes) -> bytes:
    stream = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(stream, "w", 8) as new:
        for name in old.namelist():
            new.writestr(name, change if name == path else old.read(name))
    return stream.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
LAUGHS = b'<!DOCTYPE a [<!ENTITY b "ha"><!ENTITY c "&b;&b;&b;&b;&b;&b;">]>'


@pytest.mark.parametrize("path", [SHEET, "xl/workbook.xml", "[Content_Types].xml"])
def test_entities_are_not_expanded(path: str) -> None:
    data = repacked(workbook(Sheet1=[HEADER, LOW]), path, LAUGHS + b"<a>&c;</a>")

    with pytest.raises(InputError):
        parse(data, Hints())


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    data = repacked(workbook(Sheet1=[HEADER, LOW]), SHEET, b" " * (60 * 2**20))

    with pytest.raises(InputError, match="unpacks to"):
        parse(data, Hints())


def test_rows_and_columns_far_out_cost_nothing() -> None:
    far = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        b'<row r="1"><c r="XFD1"><v>1</v></c></row><row r="900000"><c r="A900000">'
        b"<v>1</v></c></row></sheetData></worksheet>"
    )

    with pytest.raises(InputError, match="no rows"):
        parse(repacked(workbook(Sheet1=[HEADER]), SHEET, far), Hints())


def test_after_thousands_of_empty_rows_nothing_more_is_read_and_that_is_told() -> None:
    book = Workbook()
    for row in (HEADER, LOW):
        book.active.append(row)
    book.active["A30000"] = "far"
    stream = BytesIO()
    book.save(stream)

    parsed = parse(stream.getvalue(), Hints())

    assert len(parsed.drafts) == 1
    assert "10,000 empty rows" in parsed.warnings[-1].reason


cells = st.one_of(
    st.none(),
    st.text("aB1=+-@'\n é", max_size=6),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.datetimes(min_value=datetime(1950, 1, 1), max_value=datetime(2100, 1, 1)),
    st.times(),
    st.timedeltas(min_value=timedelta(0), max_value=timedelta(days=40)),
)


@settings(max_examples=60, deadline=None)
@given(rows=st.lists(st.lists(cells, max_size=9), max_size=8), headed=st.booleans())
def test_any_cells_end_in_drafts_findings_or_a_sentence(rows: Rows, headed: bool) -> None:
    data = workbook(Sheet1=[HEADER, *rows] if headed else rows)
    try:
        parsed = parse(data, Hints())
    except InputError as refusal:
        refused = str(refusal)
    else:
        refused = ""
        held = [row for row in rows if any(cell not in (None, "") for cell in row)]
        assert len(parsed.drafts) + len(parsed.skipped) <= len(held) + 1
    assert "\n" not in refused


@settings(max_examples=60, deadline=None)
@given(at=st.integers(0, 6000), byte=st.integers(0, 255))
def test_a_workbook_with_one_byte_changed_ends_well(at: int, byte: int) -> None:
    whole = bytearray(WHOLE)
    whole[at % len(whole)] = byte
    try:
        parsed = parse(bytes(whole), Hints())
    except InputError as refusal:
        assert str(refusal)  # noqa: PT017 (either end is a good one)
    else:
        assert len(parsed.drafts) <= 2


WHOLE = workbook(Sheet1=[HEADER, LOW, WET])


def test_what_the_spreadsheet_hides_or_never_reckoned_is_told() -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Chapter", *HEADER, "Mood"], ["Genera", *LOW], [None, *WET], ["", 3, "=A1"]):
        sheet.append(row)
    sheet.merge_cells("A2:A3")
    sheet.row_dimensions[3].hidden = True
    hidden = book.create_sheet("Wind")
    hidden.append(HEADER)
    hidden.append(LOW)
    hidden.sheet_state = "hidden"
    stream = BytesIO()
    book.save(stream)

    parsed = parse(stream.getvalue(), Hints())

    assert [draft.chapter for draft in parsed.drafts] == [*["Genera"] * 3, ""]
    reasons = [finding.reason.partition(": ")[2] for finding in parsed.warnings]
    assert "rows that the spreadsheet hides were read: 1 (3)" in reasons
    assert any(
        reason.startswith("cell C4 holds a formula without its result") for reason in reasons
    )
    assert "columns that are not used: Mood" in reasons
    assert "the sheet is hidden in the spreadsheet; its rows were read" in reasons
