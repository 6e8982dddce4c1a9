"""The form's text and the question it stands for."""

import pytest
from msgspec.structs import replace

from domain.editing import TypedQuestion, question_from, typed
from domain.errors import InputError
from domain.questions import Kind, Option, Question

BARE = Question(id="b/c/7", chapter="c", number=7)
FULL = replace(
    BARE,
    stem="Which?\nSay.",
    options=(Option("a", "calm", fixed=True, explanation="No."), Option("b", "gale\nor storm")),
    answer_key=("b",),
    explanation="Because.",
    reference="p. 3",
    tags=("wind", "sea"),
)


def made(old: Question = BARE, **fields: str) -> Question:
    return question_from(TypedQuestion(**({"number": str(old.number)} | fields)), old)


@pytest.mark.parametrize(
    "question",
    [
        BARE,
        FULL,
        replace(BARE, answer_key=("c",)),
        replace(BARE, stem="How many?", kind=Kind.NUMERIC, answer_key=("12.5",), tolerance=0.5),
        replace(BARE, stem="Which word?", kind=Kind.TEXT, answer_key=("Quebec", "QC")),
        replace(BARE, stem="Which word?", kind=Kind.TEXT, answer_key=("7",)),
        replace(FULL, kind=Kind.MULTIPLE, answer_key=("a", "b")),
        replace(FULL, kind=Kind.MULTIPLE, answer_key=("a",)),
        replace(FULL, kind=Kind.BEST, answer_key=("a", "b")),
        replace(FULL, kind=Kind.TRUE_FALSE, options=(Option("a", "True"), Option("b", "False"))),
    ],
    ids=lambda question: f"{question.form}-{question.kind}-{len(question.answer_key)}",
)
def test_what_is_not_changed_comes_back_the_same(question):
    assert question_from(typed(question), question) == question


def test_a_bare_question_becomes_full_and_keeps_its_id():
    question = made(stem="Which?", options="calm\ngale\n\n", key="B")

    assert (question.id, question.number, question.answer_key) == ("b/c/7", 7, ("b",))
    assert [option.text for option in question.options] == ["calm", "gale"]
    assert question.kind is Kind.BEST


def test_the_key_follows_its_option_when_another_is_taken_out():
    old = made(stem="Which?", options="x\ny\nz", key="c")
    new = question_from(replace(typed(old), options="x\nz", key="b"), old)

    assert new.answer_key == old.answer_key == ("c",)


@pytest.mark.parametrize(
    ("key", "kind", "expected", "tolerance"),
    [
        ("12", Kind.NUMERIC, ("12",), 0),
        ("12 ± 0.5", Kind.NUMERIC, ("12",), 0.5),
        ("12,5 +- 1", Kind.NUMERIC, ("12,5",), 1),
        ("Quebec | QC", Kind.TEXT, ("Quebec", "QC"), 0),
        ("", Kind.TEXT, (), 0),
    ],
)
def test_without_options_the_key_is_a_number_or_a_text(key, kind, expected, tolerance):
    question = made(stem="What?", key=key)

    assert (question.kind, question.answer_key, question.tolerance) == (kind, expected, tolerance)


def test_several_letters_make_a_multiple_response():
    question = made(stem="Which?", options="x\ny\nz", key="a, c")

    assert (question.kind, question.answer_key) == (Kind.MULTIPLE, ("a", "c"))


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"number": "seven"}, "number: 'seven' is not a whole number"),
        ({"options": "x\ny", "key": "c"}, "key: 'c' is not one of the letters a to b"),
        ({"options": "x"}, "options: there is one only"),
        ({"stem": "What?", "key": "12 ± much"}, "key: 'much' is not a tolerance"),
        ({"options": "\n".join(map(str, range(27)))}, "at most 26 options"),
    ],
)
def test_what_does_not_fit_is_named(fields, message):
    with pytest.raises(InputError, match=message):
        made(**fields)
