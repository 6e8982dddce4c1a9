from hypothesis import given
from hypothesis import strategies as st

from domain.errors import InputError
from domain.printed.entry import AnswerKeyGrid


def entry(count: int = 5, **before: str) -> AnswerKeyGrid:
    known = {int(name[1:]): tuple(letters) for name, letters in before.items()}
    return AnswerKeyGrid(list(range(1, count + 1)), [4] * count, known)


def test_letters_count_on_from_the_number_typed():
    keys = entry()
    keys.digit("3")
    keys.letter("b")
    keys.letter("C")

    assert keys.changed == {3: ("b",), 4: ("c",)}
    assert keys.gaps == [1, 2, 5]


def test_a_letter_as_before_is_no_change():
    keys = entry(n1="a")
    keys.letter("a")

    assert keys.changed == {}


def test_a_second_letter_is_added_to_the_number_before():
    keys = entry()
    keys.letter("c")
    keys.add()
    keys.letter("a")
    keys.letter("b")

    assert keys.keys == {1: ("a", "c"), 2: ("b",)}


@given(st.lists(st.sampled_from(["a", "b", "d", "e", "+", "2", "4", ">", " "]), max_size=25))
def test_taking_all_back_leaves_the_key_as_it_was(keys):
    typed = entry(n2="c", n5="d")
    for key in keys:
        try:
            {"+": typed.add, ">": lambda: typed.move(1), " ": typed.skip}.get(
                key, lambda key=key: typed.digit(key) if key.isdigit() else typed.letter(key)
            )()
        except InputError:
            continue
    while typed.undo():
        pass

    assert typed.keys == typed.before
    assert typed.changed == {}
