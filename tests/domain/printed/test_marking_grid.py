"""The desk's rule: a number says which question, without one it is the one under the cursor."""

import pytest

from domain.errors import InputError
from domain.printed.marking_grid import GridMark, GridPart, MarkingGrid
from domain.questions import Question
from domain.verdicts import Confidence, Verdict


def part(title: str, *numbers: int) -> GridPart:
    made = [
        Question(id=f"b/{title}/{n}", chapter=title, number=n, answer_key=("a",)) for n in numbers
    ]
    return GridPart(title, tuple(made))


def desk(*parts: GridPart) -> MarkingGrid:
    return MarkingGrid(parts or (part("one", *range(1, 31)),))


def settle(one: MarkingGrid, act) -> None:
    one.settle(act, [GridMark(act.verdict or Verdict.RIGHT, act.confidence)] * len(act.slots))


def typed(one: MarkingGrid, text: str) -> MarkingGrid:
    for character in text:
        one.dash() if character == "-" else one.digit(character)
    return one


def test_a_judgement_without_a_number_is_for_the_cursor_which_moves_on():
    one = desk()
    settle(one, one.judge(Verdict.RIGHT))

    assert one.cursor == 1
    assert one.judge(Verdict.WRONG).slots == (1,)


def test_a_number_is_marked_and_the_cursor_stays():
    one = typed(desk(), "12-15")
    act = one.judge(Verdict.RIGHT, Confidence.UNSURE)
    settle(one, act)

    assert act.slots == (11, 12, 13, 14)
    assert not act.in_turn
    assert (one.cursor, one.typed.text) == (0, "")
    assert [text for text, _ in one.line] == ["12-15"]


@pytest.mark.parametrize("ending", ["space", "enter"])
def test_a_number_ended_is_wrong(ending):
    act = getattr(typed(desk(), "7"), ending)()

    assert (act.slots, act.verdict) == ((6,), Verdict.WRONG)


def test_between_numbers_a_space_only_separates_elsewhere_it_is_a_blank():
    one = desk()
    blank = one.space()
    settle(one, typed(one, "7").space())

    assert blank.verdict is Verdict.BLANK
    assert one.space() is None
    settle(one, one.judge(Verdict.RIGHT))
    assert one.space().slots == (1,)


def test_digits_that_lead_nowhere_are_told_and_mark_no_other_question():
    one = typed(desk(), "3")
    with pytest.raises(InputError, match="31: no such question here \\(1 to 30\\)"):
        one.digit("1")
    with pytest.raises(InputError, match="there is no question 31"):
        one.space()
    one.typed.erase()

    assert one.space().slots == (2,)


@pytest.mark.parametrize("text", ["12-1"])
def test_a_range_that_runs_backwards_is_refused_and_stays_to_be_mended(text):
    one = typed(desk(), text)
    with pytest.raises(InputError, match="runs backwards"):
        one.judge(Verdict.WRONG)

    assert one.typed.text == text
    assert one.targets() == (11,)


def test_a_letter_for_a_range_is_refused():
    with pytest.raises(InputError, match="not to a range"):
        typed(desk(), "3-5").respond("a")


def test_a_number_and_letters_go_on_from_there():
    one = desk()
    settle(one, typed(one, "7").respond("a"))

    assert one.respond("B").slots == (7,)
    assert one.respond("B").confidence is Confidence.UNSURE


def test_the_walk_passes_over_marks_but_a_correction_only_steps_on():
    one = desk()
    settle(one, typed(one, "2").space())
    settle(one, one.judge(Verdict.RIGHT))
    after_new = one.cursor
    one.go(0)
    settle(one, one.judge(Verdict.WRONG))

    assert (after_new, one.cursor) == (2, 1)


def test_enter_takes_the_rest_of_this_part_and_goes_on_to_the_next_open_one():
    one = desk(part("one", 3, 12), part("two", 2, 9))
    settle(one, typed(one, "12").space())
    act = one.enter()
    settle(one, act)

    assert (act.slots, one.cursor, one.part) == ((0,), 2, 1)
    settle(one, one.enter())
    with pytest.raises(InputError, match="everything here is marked"):
        one.enter()
    with pytest.raises(InputError, match="one too many: 9 was the last"):
        one.judge(Verdict.RIGHT)


def test_numbers_belong_to_the_part_of_the_cursor():
    one = desk(part("one", 3, 12), part("two", 2, 9))
    with pytest.raises(InputError, match="9: no such question"):
        one.digit("9")
    one.clear()
    one.move_part(1)

    assert typed(one, "9").judge(Verdict.WRONG).slots == (3,)


def test_a_number_and_an_arrow_go_there():
    one = typed(desk(), "21")
    one.move(1)

    assert one.cursor == 20


def test_taking_back_puts_the_cursor_where_it_was():
    one = desk()
    settle(one, one.judge(Verdict.RIGHT))
    settle(one, typed(one, "20").respond("a"))
    one.unsettle([19], {0: GridMark(Verdict.RIGHT)})

    assert (one.cursor, one.open_slots()[0]) == (1, 1)
