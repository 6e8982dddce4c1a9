"""Grading of every kind of question."""

import unicodedata
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.grading import Duplicates, grade, number
from domain.questions import Kind, Option, Question
from domain.responses import Response
from domain.verdicts import Verdict


def response(*chosen: str) -> Response:
    return Response(id="1", at=datetime(2026, 1, 1, tzinfo=UTC), question="q", chosen=chosen)


def question(kind: Kind, key: tuple[str, ...], texts: str = "red blue green", **more) -> Question:
    options = tuple(
        Option(letter, text) for letter, text in zip("abcd", texts.split(), strict=False)
    )
    if kind in (Kind.TEXT, Kind.NUMERIC):
        options = ()
    return Question(
        id="q", chapter="c", number=1, kind=kind, stem="?", options=options, answer_key=key, **more
    )


@pytest.mark.parametrize(
    ("kind", "key", "chosen", "verdict"),
    [
        (Kind.BEST, ("b",), ("b",), Verdict.RIGHT),
        (Kind.BEST, ("b",), ("a",), Verdict.WRONG),
        (Kind.BEST, ("b",), (), Verdict.BLANK),
        (Kind.BEST, ("a", "b"), ("b",), Verdict.RIGHT),
        (Kind.MULTIPLE, ("a", "c"), ("c", "a"), Verdict.RIGHT),
        (Kind.MULTIPLE, ("a", "c"), ("a",), Verdict.WRONG),
        (Kind.MULTIPLE, ("a", "c"), ("a", "b", "c"), Verdict.WRONG),
        (Kind.TEXT, ("Papa",), (" papa. ",), Verdict.RIGHT),
        (Kind.TEXT, ("papa", "P"), ("p",), Verdict.RIGHT),
        (Kind.TEXT, ("papa",), ("pappa",), Verdict.WRONG),
        (Kind.TEXT, ("-..-.",), ("-..-.",), Verdict.RIGHT),
        (Kind.TEXT, ("-..-.",), ("-..-",), Verdict.WRONG),
        (Kind.TEXT, (".....",), ("....",), Verdict.WRONG),
        (Kind.TEXT, ("papa",), ("  ",), Verdict.BLANK),
    ],
)
def test_a_response_is_graded(kind, key, chosen, verdict) -> None:
    assert grade(question(kind, key), response(*chosen)) is verdict


@pytest.mark.parametrize(
    ("typed", "verdict"),
    [
        ("1013.25", Verdict.RIGHT),
        ("1013,3", Verdict.RIGHT),
        ("1013.35", Verdict.RIGHT),  # exactly on the edge of the tolerance
        ("1013.36", Verdict.WRONG),
        ("about 1013", Verdict.WRONG),
        ("nan", Verdict.WRONG),
        ("1.01325e3", Verdict.RIGHT),
    ],
)
def test_a_number_is_right_within_its_tolerance(typed: str, verdict: Verdict) -> None:
    asked = question(Kind.NUMERIC, ("1013.25",), tolerance=0.1)

    assert grade(asked, response(typed)) is verdict


def test_the_twin_of_the_key_is_right() -> None:
    asked = question(Kind.BEST, ("c",), "red blue grey grey")

    assert grade(asked, response("d")) is Verdict.RIGHT


def test_options_that_differ_only_in_spaces_or_composition_say_the_same() -> None:
    options = (Option("a", "no gale"), Option("b", "mère"), Option("c", "no  gale "))
    other = (*options, Option("d", unicodedata.normalize("NFD", "mère")))
    asked = Question(id="q", chapter="c", number=1, options=other, answer_key=("a",))

    assert grade(asked, response("c")) is Verdict.RIGHT
    assert grade(asked, response("b")) is Verdict.WRONG
    assert grade(asked, response("d"), ("b",)) is Verdict.RIGHT


def test_a_disputed_key_takes_the_place_of_the_banks() -> None:
    asked = question(Kind.BEST, ("b",))

    assert grade(asked, response("a"), ("a",)) is Verdict.RIGHT
    assert grade(asked, response("b"), ("a",)) is Verdict.WRONG


def test_the_candidates_own_verdict_stands_where_nothing_was_chosen() -> None:
    own = Response(id="1", at=datetime(2026, 1, 1, tzinfo=UTC), question="q", verdict=Verdict.RIGHT)

    assert grade(Question(id="q", chapter="c", number=1), own) is Verdict.RIGHT
    assert grade(question(Kind.BEST, ("b",)), own) is Verdict.RIGHT


def test_signs_and_spaces_in_numbers_are_read_as_written_by_hand() -> None:
    assert number("−3,5") == number("-3.5")
    assert number("1 013") == 1013
    assert number("1,013.25") is None


def test_every_numeric_key_counts_not_only_the_first() -> None:
    asked = question(Kind.NUMERIC, ("0", "none", "360"))

    assert grade(asked, response("360")) is Verdict.RIGHT
    assert grade(asked, response("0")) is Verdict.RIGHT
    assert grade(asked, response("180")) is Verdict.WRONG


def test_full_width_digits_are_digits() -> None:
    assert number("１０１３．５") == Decimal("1013.5")
    assert grade(question(Kind.NUMERIC, ("１２",)), response("12")) is Verdict.RIGHT


def test_their_own_verdict_stands_on_a_choice_without_a_key() -> None:
    given = Response(
        id="1", at=datetime(2026, 1, 1, tzinfo=UTC), question="q", chosen=("a",),
        verdict=Verdict.RIGHT,
    )  # fmt: skip

    assert grade(question(Kind.BEST, ()), given) is Verdict.RIGHT
    assert grade(question(Kind.BEST, ("b",)), given) is Verdict.WRONG
    assert grade(question(Kind.BEST, ()), response("a")) is Verdict.BLANK


@pytest.mark.parametrize("typed", ["1e1000000", "-1e999999999999999999", "1e9999999", "9" * 5_000])
@pytest.mark.parametrize("key", ["5", "1e9999999", "-1e-9999999"])
def test_numbers_beyond_all_measure_are_wrong_and_no_error(typed: str, key: str) -> None:
    asked = question(Kind.NUMERIC, (key,), tolerance=0.1)

    expected = Verdict.RIGHT if typed == key else Verdict.WRONG
    assert grade(asked, response(typed)) is expected


def test_a_distance_is_exact_however_many_digits_are_typed() -> None:
    asked = question(Kind.NUMERIC, ("1",), tolerance=0.5)

    assert grade(asked, response("1.5" + "0" * 100)) is Verdict.RIGHT
    assert grade(asked, response("1.5" + "0" * 100 + "1")) is Verdict.WRONG


@pytest.mark.parametrize(
    ("typed", "key", "verdict"),
    [
        ("9" * 400, "9" * 399 + "8", Verdict.RIGHT),
        ("1" + "0" * 400, "1" + "0" * 399 + "1", Verdict.WRONG),  # one digit more
        ("1e-400", "0", Verdict.RIGHT),
        ("1e-401", "0", Verdict.WRONG),
    ],
)
def test_a_distance_is_taken_between_numbers_of_400_digits_at_most(
    typed: str, key: str, verdict: Verdict
) -> None:
    assert grade(question(Kind.NUMERIC, (key,), tolerance=1), response(typed)) is verdict


def test_a_tolerance_that_is_no_number_is_none() -> None:
    asked = question(Kind.NUMERIC, ("5",), tolerance=float("inf"))

    assert grade(asked, response("5.5")) is Verdict.WRONG


TEXTS = st.one_of(
    st.text(st.characters(), max_size=12),
    st.sampled_from("abcdefgh"),
    st.from_regex(r"[-+−]?[0-9]{0,30}[.,]?[0-9]{0,30}([eE][-+]?[0-9]{1,25})?", fullmatch=True),
    st.sampled_from(["nan", "sNaN", "-inf", "Infinity1", "1_0", "²", "½", "\ud800", "\0", ""]),
)
MANY = st.lists(TEXTS, max_size=4).map(tuple)


@given(
    kind=st.sampled_from(Kind),
    key=MANY,
    disputed=st.none() | MANY,
    chosen=st.none() | MANY,
    texts=st.lists(TEXTS, max_size=8),
    tolerance=st.floats(),
    verdict=st.none() | st.sampled_from(Verdict),
)
def test_there_is_a_verdict_whatever_is_typed_and_whatever_the_key(
    kind, key, disputed, chosen, texts, tolerance, verdict
) -> None:
    options = tuple(map(Option, "abcdefgh", texts))
    asked = Question(
        id="q",
        chapter="c",
        number=1,
        kind=kind,
        answer_key=key,
        tolerance=tolerance,
        options=options,
    )
    given_ = Response(
        id="1", at=datetime(2026, 1, 1, tzinfo=UTC), question="q", chosen=chosen, verdict=verdict
    )

    assert grade(asked, given_, disputed) in Verdict


@given(st.decimals(allow_nan=False, allow_infinity=False, places=3), st.integers(0, 5000))
def test_distance_agrees_with_exact_fractions(target: Decimal, off: int) -> None:
    typed = Fraction(target) + Fraction(off, 1000)
    asked = question(Kind.NUMERIC, (str(target),), tolerance=2.5)
    text = f"{Decimal(typed.numerator) / Decimal(typed.denominator):f}"

    is_near = abs(Fraction(text) - Fraction(target)) <= Fraction(5, 2)
    assert grade(asked, response(text)) is (Verdict.RIGHT if is_near else Verdict.WRONG)


def test_what_was_chosen_in_a_question_that_is_gone_stands() -> None:
    kept = Question(id="kept", chapter="c", number=1, answer_key=("a",))
    duplicates = Duplicates({"kept": kept}.get)
    letters = Response(id="r", at=datetime(2026, 3, 2, tzinfo=UTC), question="gone", chosen=("b",))
    assert duplicates.chosen(letters) == ("b",)
    for question_id in ("gone", "kept"):
        verdict = Response(
            id="r", at=datetime(2026, 3, 2, tzinfo=UTC), question=question_id, verdict=Verdict.WRONG
        )
        assert duplicates.chosen(verdict) == ()
    assert duplicates.key_here(("a",), "gone", "kept") == ()
    assert duplicates.key_here(("a",), "kept", "gone") == ()
    assert duplicates.key_here(("a",), "kept", "kept") == ("a",)
