from datetime import date, datetime
from io import BytesIO

import openpyxl
import pytest

from banks.importers.common import Hints
from banks.importers.marks_reader import (
    MarksFile,
    are_marks,
    known_meaning,
    meaning_fields,
    parse_marks,
)
from domain.errors import InputError
from domain.responses import Purpose, Reason
from domain.verdicts import Confidence, Verdict

HEAD = "subject,chapter,number,date,verdict,sureness\n"
TODAY = date(2027, 3, 1)


def read(text: str, **words: str) -> MarksFile:
    return parse_marks(text.encode(), Hints(name="marks.csv"), words, TODAY)


def test_marks_are_read_with_or_without_header_and_confidence() -> None:
    with_header = read(HEAD + "Clouds,1 Genera,17,2027-02-11,wrong,sure\n").marks
    without = read("Clouds,1 Genera,17,2027-02-11,wrong\n").marks
    assert [(m.number, m.day, m.verdict, m.confidence) for m in with_header] == [
        (17, date(2027, 2, 11), Verdict.WRONG, Confidence.SURE)
    ]
    assert without[0].verdict is Verdict.WRONG


@pytest.mark.parametrize(
    ("verdict", "confidence", "expected"),
    [
        ("right", "unsure", (Verdict.RIGHT, Confidence.UNSURE)),
        ("R", "guess", (Verdict.RIGHT, Confidence.GUESS)),
        ("✗", "", (Verdict.WRONG, Confidence.SURE)),
        ("blank", "", (Verdict.BLANK, Confidence.SURE)),
    ],
)
def test_verdicts_are_known_in_their_obvious_spellings(
    verdict: str, confidence: str, expected: tuple[Verdict, Confidence]
) -> None:
    (mark,) = read(HEAD + f"Clouds,1,1,2027-02-11,{verdict},{confidence}\n").marks
    assert (mark.verdict, mark.confidence) == expected


def test_columns_stand_in_any_order_under_a_header() -> None:
    (mark,) = read("date,verdict,number,chapter,subject\n2027-02-11,right,4,1,Clouds\n").marks
    assert (mark.subject, mark.number) == ("Clouds", 4)


def test_bad_marks_are_named_by_line_and_the_others_kept() -> None:
    file = read(
        HEAD
        + "Clouds,1,1,the 11th,right,\n"
        + "Clouds,1,x,2027-02-11,right,\n"
        + "Clouds,1,3,2027-02-11,maybe,\n"
        + "Clouds,1,4,2027-02-30,right,\n"
        + "Clouds,1,5,2027-02-11,right,very\n"
        + "Clouds,1,6,2027-02-11,right,\n"
    )
    assert [finding.line for finding in file.skipped] == [2, 3, 4, 5, 6]
    assert "the 11th" in file.skipped[0].reason
    assert [mark.number for mark in file.marks] == [6]


def test_no_usable_mark_says_what_was_expected() -> None:
    with pytest.raises(InputError, match="subject,chapter,number,date,verdict,confidence"):
        read("what,ever\n")


def test_marks_are_told_from_questions_by_their_header() -> None:
    assert are_marks(HEAD.encode("utf-8-sig"))
    assert not are_marks(b"subject,chapter,number,stem,key\n")


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("1.4.2026", date(2026, 4, 1)),
        ("15 May", date(2026, 5, 15)),  # the last such day
        ("15 Feb", date(2027, 2, 15)),
        ("Fri 12th Feb 2027", date(2027, 2, 12)),
        ("May 15, 2026", date(2026, 5, 15)),
        ("15 mai 26", date(2026, 5, 15)),
        ("3 août 2026", date(2026, 8, 3)),
        ("12-Juli-2026", date(2026, 7, 12)),
        ("2026/04/01", date(2026, 4, 1)),
        ("25/12/2026", date(2026, 12, 25)),
    ],
)
def test_dates_are_read_as_people_write_them(text: str, day: date) -> None:
    assert [mark.day for mark in read(f'{HEAD}Air,1,1,"{text}",right,\n').marks] == [day]


def test_day_and_month_are_told_apart_by_the_file_or_by_the_candidate() -> None:
    rows = "Air,1,1,03/04/2026,right,\n"
    asked = read(HEAD + rows)
    proven = read(f"{HEAD}{rows}Air,1,2,03/25/2026,right,\n")

    assert asked.unknown["date"] == {"03/04/2026": 1}
    assert "may begin with the day or with the month" in asked.skipped[0].reason
    assert [mark.day for mark in proven.marks] == [date(2026, 3, 4), date(2026, 3, 25)]
    for order, month in (("day first", 4), ("month first", 3)):
        assert [mark.day.month for mark in read(HEAD + rows, date=order).marks] == [month]


def test_words_of_ones_own_are_counted_until_they_are_explained() -> None:
    rows = f"{HEAD}Air,1,1,2026-05-01,?,\nAir,1,2,2026-05-01,hm,\nAir,1,3,2026-05-01,?,\n"
    words = {"verdict: ?": "right, unsure", "verdict: hm": "wrong, mixed up"}

    assert read(rows).unknown == {"verdict": {"?": 2, "hm": 1}}
    assert [(mark.verdict, mark.confidence, mark.reason) for mark in read(rows, **words).marks] == [
        (Verdict.RIGHT, Confidence.UNSURE, None),
        (Verdict.WRONG, Confidence.SURE, Reason.MIXED_UP),
        (Verdict.RIGHT, Confidence.UNSURE, None),
    ]
    left = read(rows, **words | {"verdict: ?": "left out"})
    assert ([mark.number for mark in left.marks], left.unknown) == ([2], {})


@pytest.mark.parametrize(
    ("text", "meaning", "fields"),
    [
        ("right unsure", "right, unsure", ["verdict"]),
        ("Wrong + mixed up", "wrong, mixed up", ["verdict"]),
        ("first study", "first study", ["purpose"]),
        ("guess", "guess", ["confidence"]),
    ],
)
def test_meanings_are_given_in_our_words(text: str, meaning: str, fields: list[str]) -> None:
    assert known_meaning(text) == meaning
    assert meaning_fields(meaning) == fields
    with pytest.raises(InputError, match="'rihgt' is none of: right"):
        known_meaning("rihgt")


def test_purpose_reason_and_seconds_come_along() -> None:
    text = (
        "Title of my list\n\nSubject;Topic;Q No;Day;Result;Sure?;Why;Round;Time\n"
        "Air;1;Q17;2026-05-01;X;;confused;first study;1:05\nAir;1;A1B02;2026-05-01;ok;?;;sweep;40\n"
    )
    file = read(text)
    assert file.skipped == []
    assert [
        (m.number, m.code, m.verdict, m.confidence, m.reason, m.purpose, m.seconds)
        for m in file.marks
    ] == [
        (17, "", Verdict.WRONG, Confidence.SURE, Reason.MIXED_UP, Purpose.STUDY, 65),
        (0, "A1B02", Verdict.RIGHT, Confidence.UNSURE, None, Purpose.SWEEP, 40),
    ]


def test_marks_come_from_workbooks_and_objects_alike() -> None:
    book = openpyxl.Workbook()
    for row in (
        ["My marks"],
        ["subject", "chapter", "number", "date", "verdict", "mood"],
        ["Air", 1, 3, datetime(2026, 5, 1), "wrong", "low"],
    ):
        book.active.append(row)
    book.create_sheet("Remarks").append(["nothing", "of", "use"])
    book.active["D3"].number_format = "d-mmm"
    stream = BytesIO()
    book.save(stream)
    lines = (
        b'{"where": {"subject": "Air", "chapter": "1"}, "number": 3, "date": "2026-05-01", '
        b'"verdict": "wrong"}\n' * 2
    )
    marks = parse_marks(stream.getvalue(), Hints())
    assert marks.skipped == []
    assert [finding.reason for finding in marks.warnings] == ["columns that are not used: mood"]
    for data in (stream.getvalue(), lines):
        assert are_marks(data)
        mark = parse_marks(data, Hints()).marks[0]
        assert (mark.subject, mark.chapter, mark.number) == ("Air", "1", 3)
        assert (mark.day, mark.verdict) == (date(2026, 5, 1), Verdict.WRONG)
