"""How a question is put: order, letters, time."""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from domain.presentation import Seating, seat
from domain.questions import Kind, Option, Question


def question(*texts: str, **fields: object) -> Question:
    options = tuple(Option(id="abcdefgh"[n], text=text) for n, text in enumerate(texts))
    return Question(
        id="b/c/1",
        chapter="c",
        number=1,
        stem="Which?",
        options=options,
        answer_key=("a",),
        **fields,
    )


def shown(asked: Question, seed: int) -> list[str]:
    return [option.text for option in seat(asked, 4, Random(seed)).options]


@given(st.integers(0, 10_000))
def test_the_same_seed_seats_the_same_and_nothing_is_lost(seed):
    texts = ("calm", "light air", "gale", "storm")

    assert shown(question(*texts), seed) == shown(question(*texts), seed)
    assert sorted(shown(question(*texts), seed)) == sorted(texts)


def test_different_seeds_seat_differently():
    texts = ("calm", "light air", "gale", "storm")

    assert len({tuple(shown(question(*texts), seed)) for seed in range(50)}) > 10


@pytest.mark.parametrize(
    "other",
    [
        "All of the above",
        "Some of the above",
        "Both A and B",
        "Both BC",
        "Either AB",
        "None of these",
        "I and III only",
        "a, b",
        "d) gust",
    ],
)
def test_options_that_speak_of_others_keep_the_printed_order(other):
    texts = ["calm", "gale", "storm", other]

    assert all(shown(question(*texts), seed) == texts for seed in range(20))


@pytest.mark.parametrize(
    "other",
    ["Before the gale", "only for gales", "F and V sounds", "Both GH and wind", "all those at sea"],
)
def test_words_that_look_like_letters_let_the_options_be_shuffled(other):
    texts = ["calm", "gale", "storm", other]

    assert any(shown(question(*texts), seed) != texts for seed in range(20))


@pytest.mark.parametrize(
    "explanation",
    [
        "It blows 13 hours. E)",
        "Answer- DB, D, C, A",
        "Therefore, a,b,d ruled out.",
        "Option C is a name, not a force.",
        "(b) is too strong.",
        "b) is too strong.",
        "Ans. B i.e. gale",
        "Ans. is 'd' i.e., storm",
        "The answer is A",
        "Ans-a. Calm",
        "Answer: C. Gale",
        "B is correct because it blows.",
        "We are left with option `c' only.",
    ],
)
def test_an_explanation_that_names_letters_keeps_the_printed_order(explanation):
    texts = ["calm", "gale", "storm"]
    asked = question(*texts, explanation=explanation)

    assert all(shown(asked, seed) == texts for seed in range(20))


@pytest.mark.parametrize(
    "explanation",
    ["A storm has a force of its own.", "The answer is a gale that blows.", "Vitamin C helps."],
)
def test_an_explanation_with_the_article_a_does_not(explanation):
    asked = question("calm", "gale", "storm", "air", explanation=explanation)

    assert len({tuple(shown(asked, seed)) for seed in range(50)}) > 10


@pytest.mark.parametrize(
    "texts",
    [["2", "4", "8", "16"], ["1,000 hPa", "900 hPa", "850 hPa"], ["0–2 m", "3–5 m", "6–8 m"]],
)
def test_numbers_that_rise_or_fall_keep_the_printed_order(texts):
    assert all(shown(question(*texts), seed) == texts for seed in range(20))


@pytest.mark.parametrize(
    "texts",
    [
        ["2", "8", "4", "16"],
        ["2 m", "4 km", "8 m"],
        ["2", "2", "4"],
        ["type 1", "type 2", "type 3"],
    ],
)
def test_other_numbers_are_shuffled(texts):
    assert len({tuple(shown(question(*texts), seed)) for seed in range(50)}) > 1


def test_a_stem_that_names_an_option_keeps_the_printed_order():
    asked = replace(question("calm", "gale", "storm"), stem="Why is option B no calm?")

    assert shown(asked, 3) == ["calm", "gale", "storm"]


def test_true_or_false_without_texts_has_two_options_with_words():
    asked = Question(id="b/c/2", chapter="c", number=2, answer_key=("b",), kind=Kind.TRUE_FALSE)

    assert [(o.id, o.text) for o in seat(asked, 4, Random(1)).options] == [
        ("a", "True"),
        ("b", "False"),
    ]


@given(st.integers(0, 10_000))
def test_fixed_options_keep_their_places(seed):
    asked = question("calm", "gale", "storm", "air")
    options = (asked.options[0], Option(id="b", text="gale", fixed=True), *asked.options[2:])
    fixed = Question(
        id="b/c/1", chapter="c", number=1, stem="Which?", options=options, answer_key=("a",)
    )

    assert shown(fixed, seed)[1] == "gale"


def test_without_a_generator_the_order_is_as_printed():
    assert [o.id for o in seat(question("x", "y", "z"), 4, None).options] == ["a", "b", "c"]


def test_a_keyed_question_has_letters_without_text_and_a_bare_one_none():
    keyed = Question(id="b/c/2", chapter="c", number=2, answer_key=("e",))
    bare = Question(id="b/c/3", chapter="c", number=3)
    number = Question(id="b/c/4", chapter="c", number=4, answer_key=("7",), kind=Kind.NUMERIC)

    assert seat(keyed, 5, Random(1)).letters == "abcde"
    assert seat(bare, 5, Random(1)).letters == ""
    assert seat(number, 5, Random(1)).letters == ""


def test_letters_and_ids_translate_both_ways():
    seating = Seating((Option("x", "gale"), Option("y", "calm")))

    assert [seating.option_at(position) for position in (-1, 0, 1, 2)] == [None, "x", "y", None]
    assert [seating.letter(option_id) for option_id in ("x", "y", "z")] == ["a", "b", "z"]
