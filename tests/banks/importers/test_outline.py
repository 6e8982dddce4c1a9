import pytest

from banks.importers.common import Hints
from banks.importers.outline import Outline, is_outline, parse_outline
from banks.intake.reconcile import reconcile
from domain.errors import InputError
from domain.questions import Bank, Form


def read(text: str) -> Outline:
    return parse_outline(text.encode(), Hints(name="book.csv"))


def test_a_shape_becomes_bare_questions_and_weights() -> None:
    outline = read("subject,chapter,questions,weight\nClouds,1 Genera,3,8\nClouds,2 Species,2,8\n")
    bank = reconcile(Bank(id="b", title="B"), outline.parsed, weights=outline.weights).bank
    (clouds,) = bank.subjects
    assert (clouds.title, clouds.weight) == ("Clouds", 8)
    assert [chapter.title for chapter in clouds.chapters] == ["1 Genera", "2 Species"]
    numbers = [[q.number for q in bank.in_chapter(c.id)] for c in clouds.chapters]
    assert numbers == [[1, 2, 3], [1, 2]]
    assert {question.form for question in bank.questions.values()} == {Form.BARE}


def test_a_shape_without_header_or_weight_is_read_too() -> None:
    outline = read("Clouds;1 Genera;3\nWind;Only;2\n")
    assert len(outline.parsed.drafts) == 5
    assert outline.weights == {}


def test_a_larger_shape_later_adds_only_what_is_new() -> None:
    first = reconcile(Bank(id="b", title="B"), read("Clouds,1,3\n").parsed)
    second = reconcile(first.bank, read("Clouds,1,5\n").parsed)
    assert second.counts() == {"added": 2, "updated": 0, "unchanged": 3, "retired": 0}


def test_bad_rows_are_named_by_line() -> None:
    outline = read(
        "subject,chapter,questions,weight\n,1,3,\nClouds,1,many,\nClouds,2,0,\nClouds,3,4,x\nClouds,4,9999999,\n"
    )
    assert [finding.line for finding in outline.parsed.skipped] == [2, 3, 4, 6]
    assert [finding.line for finding in outline.parsed.warnings] == [5]
    assert len(outline.parsed.drafts) == 4


def test_no_usable_row_says_what_was_expected() -> None:
    with pytest.raises(InputError, match="subject,chapter,questions,weight"):
        read("nothing here\n")


@pytest.mark.parametrize(
    ("head", "known"),
    [
        ("subject,chapter,questions\n", True),
        ("\ufeffSubject;Chapter;Questions;Weight\n", True),
        ("subject,chapter,number,stem,key\n", False),
        ("subject,chapter,number,date,verdict\n", False),
    ],
)
def test_a_shape_is_told_from_questions_by_its_header(head: str, known: bool) -> None:
    assert is_outline(head.encode()) is known
