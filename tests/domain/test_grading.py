"""Grading of every kind of question."""

from datetime import UTC, datetime

import pytest

from domain.grading import grade, number
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
        id="q", chapter="c", number=1, kind=kind, stem="?", options=options, key=key, **more
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
