from datetime import date

import pytest

from banks.importers.common import Hints
from banks.importers.marks_reader import MarksFile, are_marks, parse_marks
from domain.errors import InputError
from domain.verdicts import Confidence, Verdict

HEAD = "subject,chapter,number,date,verdict,sureness\n"


def read(text: str) -> MarksFile:
    return parse_marks(text.encode(), Hints(name="marks.csv"))


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
    found = read(
        HEAD
        + "Clouds,1,1,11/02/2027,right,\n"
        + "Clouds,1,x,2027-02-11,right,\n"
        + "Clouds,1,3,2027-02-11,maybe,\n"
        + ",1,4,2027-02-11,right,\n"
        + "Clouds,1,5,2027-02-11,right,very\n"
        + "Clouds,1,6,2027-02-11,right,\n"
    )
    assert [finding.line for finding in found.skipped] == [2, 3, 4, 5, 6]
    assert "11/02/2027" in found.skipped[0].reason
    assert [mark.number for mark in found.marks] == [6]


def test_no_usable_mark_says_what_was_expected() -> None:
    with pytest.raises(InputError, match="subject,chapter,number,date,verdict,sureness"):
        read("what,ever\n")


def test_marks_are_told_from_questions_by_their_header() -> None:
    assert are_marks(HEAD.encode("utf-8-sig"))
    assert not are_marks(b"subject,chapter,number,stem,key\n")
