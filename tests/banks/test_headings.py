"""Banks, subjects and chapters made by hand, and listed."""

import pytest

from banks.intake.heading_index import new_bank, with_chapter
from banks.views.headings import disputed_rows, headings, retired_rows
from domain.editing import retired
from domain.errors import InputError
from tests.builders import bank, bares, full, library

BOOK = bank(
    "Observer",
    {"Wind": {"Force": [full(1, "Which?", ["x", "y"], "a")], "Gusts": bares(2)}, "Sea": {}},
)


def test_a_new_bank_never_takes_the_id_of_another():
    assert new_bank(" My  book ", ()).title == "My book"
    assert new_bank("My book", ()).id == "my-book"
    assert new_bank("My book", {"my-book", "my-book-2"}).id == "my-book-3"


def test_a_chapter_goes_into_its_subject_or_makes_it():
    book, chapter = with_chapter(BOOK, "wind", "Lulls")
    book, state = with_chapter(book, "Ice", "State")

    assert book.chapter(chapter).title == "Lulls"
    assert book.subject_of(chapter).id == "wind"
    assert book.subject_of(state).title == "Ice"
    assert len(book.subjects) == 3


def test_a_chapter_that_is_there_is_not_made_again():
    book, chapter = with_chapter(BOOK, "Wind", "FORCE")

    assert chapter == "wind.force"
    assert book.subjects == BOOK.subjects


@pytest.mark.parametrize(("subject", "chapter"), [("", "x"), ("x", "  ")])
def test_titles_are_never_empty(subject, chapter):
    with pytest.raises(InputError, match="need a title"):
        with_chapter(BOOK, subject, chapter)
    with pytest.raises(InputError, match="needs a title"):
        new_bank("  ", ())


def test_headings_are_listed_with_what_is_in_each(tmp_path):
    lines = headings(library(tmp_path, BOOK))

    assert [(line.depth, line.title, line.questions) for line in lines] == [
        (0, "All questions", 3),
        (1, "Observer", 3),
        (2, "Wind", 3),
        (3, "Force", 1),
        (3, "Gusts", 2),
        (2, "Sea", 0),
    ]


def test_disputed_questions_are_listed_while_they_are_in_use(tmp_path):
    opened = library(tmp_path, BOOK)
    disputed, other = (
        "observer/wind.force/1",
        next(name for name in BOOK.questions if "gusts" in name),
    )
    opened.dispute(disputed, ("b",), "p. 3")
    opened.dispute(other, ("b",), "p. 4")
    opened.save_bank(BOOK.with_questions(retired([BOOK.questions[other]])))

    assert [row.question.id for row in retired_rows(opened)] == [other]
    assert [row.question.id for row in disputed_rows(opened)] == [disputed]
    opened.dispute(disputed, ())
    assert disputed_rows(opened) == []
