"""Identity, fingerprints and the order of options."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.questions import (
    Bank,
    Chapter,
    Form,
    Kind,
    Option,
    Question,
    QuestionIndex,
    QuestionPlace,
    StoredQuestions,
    Subject,
    Trait,
    bank_of,
    fingerprint,
    free_name,
    may_shuffle,
    question_id,
    slug,
    speaks_of_others,
)


def full(stem: str, *texts: str, **more) -> Question:
    options = tuple(Option(letter, text) for letter, text in zip("abcdefgh", texts, strict=False))
    return Question(id="q", chapter="c", number=1, stem=stem, options=options, **more)


def test_the_form_says_how_much_is_in_the_bank() -> None:
    bare = Question(id="q", chapter="c", number=1)
    keyed = Question(id="q", chapter="c", number=1, answer_key=("b",))

    assert (bare.form, keyed.form, full("Why?").form) == (Form.BARE, Form.KEYED, Form.FULL)


def test_order_key_and_white_space_leave_a_question_the_same() -> None:
    first = full("What  is\nit?", "red", "blue", answer_key=("a",))
    other = full("What is it?", "blue", "red", answer_key=("b",))

    assert fingerprint(first) == fingerprint(other)


@pytest.mark.parametrize(
    ("stem", "other"),
    [("J << a", "J >> a"), ("is dry", "is not dry"), ("10 m", "10 M"), ("x²", "x2")],
)
def test_symbols_case_and_digits_make_another_question(stem: str, other: str) -> None:
    assert fingerprint(full(stem)) != fingerprint(full(other))


def test_the_kind_belongs_to_the_text() -> None:
    assert fingerprint(full("Q", "a", "b")) != fingerprint(full("Q", "a", "b", kind=Kind.MULTIPLE))


def test_an_identity_depends_on_its_place_and_a_later_takers_text() -> None:
    assert question_id("book", "clouds/1", 12) == "book/clouds/1/12"
    assert question_id("book", "clouds/1", 12, "0a1b2c") == "book/clouds/1/12~0a1b2c"


def test_a_slug_is_plain_and_never_empty() -> None:
    assert slug("Wolken & Strömung, Teil 2") == "wolken-stromung-teil-2"
    assert slug("雲") == slug("雲") != ""


@pytest.mark.parametrize(
    "text",
    ["All of the above", "None of these", "Both A and B", "a and c", "1, 2 and 3", "I and II only",
     "Neither a nor b", "Option A is true", "None", "A & B"],
)  # fmt: skip
def test_options_that_speak_of_others_are_seen(text: str) -> None:
    assert speaks_of_others(text)


@pytest.mark.parametrize(
    "text",
    ["Above the clouds", "A warm front", "None too soon came the rain", "Vitamin A", "i.e. 5"],
)
def test_options_that_stand_alone_are_let_be(text: str) -> None:
    assert not speaks_of_others(text)


def test_options_are_shuffled_only_where_order_means_nothing() -> None:
    assert may_shuffle(full("Q", "red", "blue"))
    assert not may_shuffle(full("Q", "red", "both of these"))
    assert not may_shuffle(full("Q", "True", "False", kind=Kind.TRUE_FALSE))
    assert not may_shuffle(full("Q", "red", "blue", shuffle=False))


def test_a_bank_gives_a_chapters_living_questions_by_number() -> None:
    chapter = Chapter("s/1", "One")
    made = [Question(id=f"b/s/1/{n}", chapter="s/1", number=n, retired=n == 2) for n in (3, 1, 2)]
    bank = Bank(id="b", title="B", subjects=(Subject("s", "S", (chapter,)),)).with_questions(made)

    assert [question.number for question in bank.in_chapter("s/1")] == [1, 3]
    assert bank.in_chapter("nowhere") == ()
    assert bank.subject_of("s/1").id == "s"
    assert bank.chapter("s/1") is chapter


@st.composite
def questions(draw: st.DrawFn, ids: tuple[str, ...]) -> dict[str, Question]:
    """Questions of three chapters with some of these ids, some retired, some of them duplicates."""
    return {
        name: Question(
            id=name,
            chapter=draw(st.sampled_from("xyz")),
            number=draw(st.integers(1, 6)),
            stem=draw(st.sampled_from(["", "Why?"])),
            answer_key=draw(st.sampled_from([(), ("a",)])),
            to_check=draw(st.sampled_from(["", "the key"])),
            retired=draw(st.booleans()),
            same_as=draw(st.sampled_from(["", *ids])),
        )
        for name in draw(st.lists(st.sampled_from(ids), unique=True))
    }


IDS = tuple(f"b/{number}" for number in range(12))


@given(questions(IDS), st.lists(questions(IDS), max_size=3))
def test_the_index_says_of_all_questions_what_each_says(
    first: dict[str, Question], changes: list[dict[str, Question]]
) -> None:
    held, index = Bank(id="b", title="B", questions=first), QuestionIndex()
    read = StoredQuestions(index.with_questions(first.items()), list(first.values()).__getitem__)
    stored = Bank(id="b", title="B", questions=read)
    for changed in ({}, *changes):
        held = held.with_questions(changed.values())
        stored = stored.with_questions(changed.values())
        assert stored == held
        assert list(stored.questions.items()) == list(held.questions.items())
        assert_indexed(held)
        assert_indexed(stored)
    assert dict(read) == first


def assert_indexed(bank: Bank) -> None:
    index, questions = bank.index, bank.questions
    active = {name: question for name, question in questions.items() if not question.retired}
    assert index.ids == list(index.rows) == list(questions)
    assert [index.chapter(row) for row in index.rows.values()] == [
        question.chapter for question in questions.values()
    ]
    assert index.active_count == len(active)
    assert {name: index.place(name) for name in questions} == {
        name: QuestionPlace(question.chapter, question.number) if name in active else None
        for name, question in questions.items()
    }
    for chapter in "xyz":
        own = [question for question in active.values() if question.chapter == chapter]
        own.sort(key=lambda question: (question.number, question.id))
        assert index.ids_in(chapter) == [question.id for question in own]
        assert index.numbers_in(chapter) == [question.number for question in own]
        assert bank.in_chapter(chapter) == tuple(own)
    for trait, has in TRAITS.items():
        having = [name for name, question in questions.items() if has(question)]
        assert list(index.ids_with(trait)) == having
        assert [name for name, row in index.rows.items() if index.has(row, trait)] == having
    for name in questions:
        retired = [other.id for other in questions.values() if other.same_as == name]
        assert bank.duplicates(name) == tuple(retired)
        assert index.same_as.get(name, "") == questions[name].same_as


TRAITS = {
    Trait.RETIRED: lambda question: question.retired,
    Trait.HAS_TEXT: lambda question: question.stem != "",
    Trait.HAS_KEY: lambda question: question.answer_key != (),
    Trait.TO_CHECK: lambda question: question.to_check != "",
}


def test_a_question_id_begins_with_its_bank() -> None:
    assert bank_of(question_id("skerrin", "clouds-1", 7, "0a1b2c")) == "skerrin"


def test_a_taken_name_gets_the_first_free_number() -> None:
    assert free_name("wind", {"air"}) == "wind"
    assert free_name("wind", {"wind", "wind-2", "wind-4"}) == "wind-3"
