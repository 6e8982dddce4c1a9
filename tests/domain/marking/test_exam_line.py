"""The exam's numbers as a line: what is read is what was written."""

from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from domain.errors import InputError
from domain.marking.blueprint import ExamBlueprint, parse_exam

EXAMS = st.builds(
    ExamBlueprint,
    questions=st.integers(1, 10_000),
    minutes=st.integers(1, 10_000),
    scheme=st.sampled_from(["+4/−1", "+1/0", "+2/−0.5", "+1/−1/4"]),
    hour=st.none() | st.builds(time, st.integers(0, 23), st.integers(0, 59)),
    target=st.none() | st.integers(0, 40_000),
)


@given(EXAMS)
def test_reading_what_was_written_gives_the_same(exam: ExamBlueprint) -> None:
    assert parse_exam(exam.text, None) == exam


@pytest.mark.parametrize(
    ("line", "exam"),
    [
        ("200 q, 180 min, +4/-1", ExamBlueprint(questions=200, minutes=180, scheme="+4/−1")),
        ("9:30, 90 minutes", ExamBlueprint(minutes=90, hour=time(9, 30))),
        ("4/-1", ExamBlueprint(scheme="+4/−1")),
        ("", None),
    ],
)
def test_parts_come_in_any_order_and_may_be_left_out(line: str, exam: ExamBlueprint | None) -> None:
    assert parse_exam(line, None) == exam


def test_what_is_not_named_stays() -> None:
    before = ExamBlueprint(questions=200, hour=time(10), target=300)
    after = ExamBlueprint(questions=200, minutes=60, hour=time(10), target=300)
    assert parse_exam("60 minutes", before) == after
    assert parse_exam("no target", after) == replace(after, target=None)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("two hundred questions", 'Can\'t read "two hundred questions"'),
        ("200 questions, 100 questions", 'Can\'t read "100 questions"'),
        ("25:10", "25:10 is no time of the day"),
        ("0 questions", "1 to 10,000 questions, not 0"),
        ("+1/+2", "right must be worth most"),
    ],
)
def test_what_cannot_be_read_is_named(line: str, words: str) -> None:
    with pytest.raises(InputError, match=words.replace("+", r"\+")):
        parse_exam(line, None)
