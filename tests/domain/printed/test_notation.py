import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.errors import InputError
from domain.printed.entry import choices, chosen, numbers, span
from domain.questions import Kind, Option, Question

KNOWN = [1, 2, 3, 5, 8, 13, 21]


def question(**fields) -> Question:
    return Question(id="b/c/1", chapter="c", number=1, **fields)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3", [3]),
        ("2-8", [2, 3, 5, 8]),
        ("13, 2–3;1  13", [13, 2, 3, 1]),
        (" 1 - 3 ", [1, 2, 3]),
        ("", []),
    ],
)
def test_numbers_and_ranges_in_any_order(text, expected):
    assert numbers(text, KNOWN) == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("4", "no question 4"), ("2-4", "no question 4"), ("4-8", "no question 4"),
        ("8-2", "runs backwards"), ("x", "'x' is not a number"), ("1-", "'1-' is not a number"),
        ("99-100", "no question 99"),
    ],
)  # fmt: skip
def test_what_is_no_number_here_is_named(text, message):
    with pytest.raises(InputError, match=message):
        numbers(text, KNOWN)


@given(st.sets(st.integers(1, 400), min_size=1), st.data())
def test_a_range_holds_just_the_numbers_between_its_ends(known, data):
    ordered = sorted(known)
    first, last = sorted(data.draw(st.lists(st.sampled_from(ordered), min_size=2, max_size=2)))

    assert span(f"{first}-{last}", ordered) == [n for n in ordered if first <= n <= last]


@given(st.lists(st.integers(1, 400), min_size=1))
def test_what_was_written_out_reads_back(listed):
    text = ",".join(map(str, listed))

    assert numbers(text, sorted(set(listed))) == list(dict.fromkeys(listed))


def test_a_letter_is_a_place_among_the_printed_options():
    listed = question(options=(Option("x1", "one"), Option("x2", "two")), answer_key=("x2",))

    assert choices(listed, 4) == ("x1", "x2")
    assert chosen(listed, "B", 4) == ("x2",)
    assert chosen(listed, " ", 4) == ()


@pytest.mark.parametrize(
    ("fields", "letter", "message"),
    [
        ({"answer_key": ("a",)}, "e", "'e' is not one of its options \\(a to d\\)"),
        ({"answer_key": ("a",)}, "1", "'1' is not one of its options"),
        ({}, "a", "no key yet"),
        ({"answer_key": ("a", "c"), "kind": Kind.MULTIPLE}, "a", "more than one letter"),
    ],
)
def test_a_letter_that_is_no_response_is_refused(fields, letter, message):
    with pytest.raises(InputError, match=message):
        chosen(question(**fields), letter, 4)
