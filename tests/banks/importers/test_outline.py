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


def shape(text: str) -> dict[str, dict[str, int]]:
    """Questions by chapter title by subject title."""
    counts: dict[str, dict[str, int]] = {}
    for draft in read(text).parsed.drafts:
        chapters = counts.setdefault(draft.subject, {})
        chapters[draft.chapter] = chapters.get(draft.chapter, 0) + 1
    return counts


@pytest.mark.parametrize(
    ("text", "chapters"),
    [
        ("Clouds 6 4 2", {"Clouds": {"Chapter 1": 6, "Chapter 2": 4, "Chapter 3": 2}}),
        ("Clouds: Genera 6, Species 4", {"Clouds": {"Genera": 6, "Species": 4}}),
        ("Clouds: Part 2 6; Part 3 4", {"Clouds": {"Part 2": 6, "Part 3": 4}}),
        ("SI 2: 60, 45", {"SI 2": {"Chapter 1": 60, "Chapter 2": 45}}),
        ("Clouds 2x3 4", {"Clouds": {"Chapter 1": 3, "Chapter 2": 3, "Chapter 3": 4}}),
        ("Clouds, 6, 4 2", {"Clouds": {"Chapter 1": 6, "Chapter 2": 4, "Chapter 3": 2}}),
        ("Clouds 6\nClouds 4", {"Clouds": {"Chapter 1": 6, "Chapter 2": 4}}),
        ("Clouds 6 weight 8", {"Clouds": {"Chapter 1": 6}}),
        ("Clouds,1 Genera,6,8\nWind 5", {"Clouds": {"1 Genera": 6}, "Wind": {"Chapter 1": 5}}),
    ],
)
def test_a_line_per_subject_is_read(text: str, chapters: dict[str, dict[str, int]]) -> None:
    assert shape(text) == chapters


def test_a_line_may_end_with_the_weight() -> None:
    assert read("Clouds 6 4 weight 8\nWind: Force 5, weight 2.5").weights == {
        "Clouds": 8,
        "Wind": 2.5,
    }


@pytest.mark.parametrize(
    ("text", "line", "reason"),
    [
        ("Wind 5\nClouds", 2, "'Clouds' has no number of questions yet; as: Clouds 60 45 62"),
        ("Wind 5\n\n60 45", 3, "names no subject"),
        ("Wind 5\nClouds: Genera 6, Species", 2, "'Species' has no number of questions yet"),
        ("Wind 5\nClouds 6 0", 2, "'0' is not a number of questions from 1 to 5,000"),
        ("Wind 5\nClouds 501x2", 2, "'Clouds' has more than 500 chapters"),
    ],
)
def test_a_line_per_subject_that_cannot_be_read_is_named(text: str, line: int, reason: str) -> None:
    outline = read(text)
    assert [
        (finding.line, finding.reason[: len(reason)]) for finding in outline.parsed.skipped
    ] == [(line, reason)]
    assert "wind" in {draft.subject.casefold() for draft in outline.parsed.drafts}


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("Clouds 60 45\nWind: Force 88\n", True),
        ("Clouds,1 Genera,105,8\nWind,1,88,5\n", True),
        ("Clouds\t1 Genera\t105\r\n", True),
        ("Clouds 60 45\nWhich cloud is the highest?\n", False),
        ("1. Which cloud is highest?\na) Cirrus 1\n", False),
        ("1 b 2 c 3 a", False),
        ("", False),
    ],
)
def test_a_shape_without_header_is_told_by_all_of_its_lines(text: str, known: bool) -> None:
    assert is_outline(text.encode()) is known
