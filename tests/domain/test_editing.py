"""Editing banks by hand: identity stays, numbers are never given twice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain import editing
from domain.errors import InputError
from domain.questions import LETTERS, Option
from tests.builders import bank, bares, full

BOOK = bank(
    "Observer",
    {
        "Wind": {"Force": [full(1, "Which?", ["x", "y"], "a"), *bares(4)[1:]], "Gusts": bares(2)},
    },
)
FORCE, GUSTS = "wind.force", "wind.gusts"


def numbers(book, chapter: str) -> list[int]:
    return [question.number for question in book.in_chapter(chapter)]


def test_a_new_question_takes_the_next_number_and_an_id_of_its_place():
    number = editing.next_number(BOOK, GUSTS)
    blank = editing.blank_question(BOOK, GUSTS, number)
    book, made = editing.put_in(BOOK, blank)

    assert number == 3
    assert made.id == "observer/wind.gusts/3"
    assert numbers(book, GUSTS) == [1, 2, 3]
    assert numbers(BOOK, GUSTS) == [1, 2]


def test_a_taken_number_is_refused_with_the_next_free_one():
    with pytest.raises(InputError, match=r"number 2 is taken in Gusts; the next free one is 3"):
        editing.put_in(BOOK, editing.blank_question(BOOK, GUSTS, 2))


def test_a_number_whose_question_was_retired_gets_an_id_that_was_never_used():
    old = BOOK.questions["observer/wind.force/1"]
    book = BOOK.with_questions(editing.retired([old]))
    book, made = editing.put_in(book, editing.blank_question(book, FORCE, 1))
    book = book.with_questions(editing.retired([made]))
    book, again = editing.put_in(book, editing.blank_question(book, FORCE, 1))

    assert len({old.id, made.id, again.id}) == 3
    assert len(book.questions) == len(BOOK.questions) + 2


def test_moved_questions_keep_id_and_number_where_it_is_free():
    first, three = (BOOK.questions[f"observer/wind.force/{n}"] for n in (1, 3))
    book = BOOK.with_questions(editing.moved(BOOK, [first, three], GUSTS))

    assert numbers(book, FORCE) == [2, 4]
    assert [(q.number, q.id) for q in book.in_chapter(GUSTS)][2:] == [
        (3, "observer/wind.force/1"),
        (4, "observer/wind.force/3"),
    ]


def test_moving_within_the_chapter_changes_nothing():
    first = BOOK.questions["observer/wind.force/1"]

    assert editing.moved(BOOK, [first], FORCE) == [first]


@given(st.lists(st.sampled_from(sorted(BOOK.questions)), unique=True))
def test_no_number_is_given_twice_and_nothing_is_lost(ids):
    chosen = [BOOK.questions[question_id] for question_id in ids]
    book = BOOK.with_questions(editing.moved(BOOK, chosen, GUSTS))

    assert len(set(numbers(book, GUSTS))) == len(numbers(book, GUSTS))
    assert len(numbers(book, GUSTS)) + len(numbers(book, FORCE)) == 6


def test_a_retired_question_comes_back_under_another_number_if_its_own_is_taken():
    first = BOOK.questions["observer/wind.force/1"]
    book = BOOK.with_questions(editing.retired([first]))
    free = editing.taken_back(book, [book.questions[first.id]])
    book, _ = editing.put_in(book, editing.blank_question(book, FORCE, 1))
    taken = editing.taken_back(book, [book.questions[first.id]])

    assert [question.number for question in free] == [1]
    assert [(question.number, question.retired) for question in taken] == [(5, False)]


def test_tags_are_added_once_and_taken_off():
    first = editing.tagged([BOOK.questions["observer/wind.force/1"]], ["sea", "wind"], [])
    two = editing.tagged(first, ["sea", "ice"], ["wind"])

    assert two[0].tags == ("sea", "ice")


OLD = tuple(Option(letter, text) for letter, text in zip("abcd", ("w", "x", "y", "z"), strict=True))


@pytest.mark.parametrize(
    ("texts", "ids"),
    [
        (["w", "x", "y", "z"], "abcd"),
        (["w", "y", "z"], "acd"),
        (["z", "y", "x", "w"], "dcba"),
        (["w", "X", "y", "z"], "abcd"),
        (["w", "x", "y", "z", "new"], "abcde"),
        (["w", "new", "x", "y", "z"], "aebcd"),
    ],
)
def test_an_option_keeps_its_id_through_edits(texts, ids):
    made = editing.options_from(texts, OLD)

    assert [(option.id, option.text) for option in made] == list(zip(ids, texts, strict=True))


@given(
    st.lists(st.sampled_from("wxyzpq"), max_size=8), st.lists(st.sampled_from("wxyz"), max_size=8)
)
def test_option_ids_are_never_given_twice(texts, old_texts):
    old = [Option(LETTERS[n], text) for n, text in enumerate(old_texts)]
    made = editing.options_from(texts, old)

    assert [option.text for option in made] == texts
    assert len({option.id for option in made}) == len(texts)


def test_more_options_than_letters_are_too_many():
    with pytest.raises(InputError, match="at most 26"):
        editing.options_from([str(n) for n in range(27)], [])


def test_the_next_question_is_the_next_number():
    two = BOOK.questions["observer/wind.force/2"]
    last = BOOK.questions["observer/wind.force/4"]

    assert editing.after(BOOK, two).number == 3
    assert editing.after(BOOK, last) is None


def test_titles_change_and_ids_stay():
    book = editing.renamed(BOOK, "  Observer's  book ")
    book = editing.renamed(book, "Winds", "wind")
    book = editing.renamed(book, "Forces", "wind", FORCE)
    titles = [
        (subject.title, [chapter.title for chapter in subject.chapters])
        for subject in book.subjects
    ]

    assert (book.id, book.title) == ("observer", "Observer's book")
    assert titles == [("Winds", ["Forces", "Gusts"])]
    assert numbers(book, FORCE) == [1, 2, 3, 4]


def test_a_title_is_never_empty():
    with pytest.raises(InputError, match="empty"):
        editing.renamed(BOOK, "  ")
