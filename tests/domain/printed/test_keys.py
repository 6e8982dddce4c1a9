from hypothesis import given
from hypothesis import strategies as st

from domain.errors import InputError
from domain.printed.entry import AnswerKeyGrid


def entry(count: int = 5, **before: str) -> AnswerKeyGrid:
    known = {int(name[1:]): tuple(letters) for name, letters in before.items()}
    return AnswerKeyGrid(list(range(1, count + 1)), [4] * count, known)


def test_letters_count_on_from_the_number_typed():
    one = entry()
    one.digit("3")
    one.letter("b")
    one.letter("C")

    assert one.changed == {3: ("b",), 4: ("c",)}
    assert one.gaps == [1, 2, 5]


def test_a_letter_as_before_is_no_change():
    one = entry(n1="a")
    one.letter("a")

    assert one.changed == {}


def test_a_second_letter_is_added_to_the_number_before():
    one = entry()
    one.letter("c")
    one.add()
    one.letter("a")
    one.letter("b")

    assert one.keys == {1: ("a", "c"), 2: ("b",)}


@given(st.lists(st.sampled_from(["a", "b", "d", "e", "+", "2", "4", ">", " "]), max_size=25))
def test_taking_all_back_leaves_the_key_as_it_was(keys):
    one = entry(n2="c", n5="d")
    for key in keys:
        try:
            {"+": one.add, ">": lambda: one.move(1), " ": one.skip}.get(
                key, lambda key=key: one.digit(key) if key.isdigit() else one.letter(key)
            )()
        except InputError:
            continue
    while one.undo():
        pass

    assert one.keys == one.before
    assert one.changed == {}
