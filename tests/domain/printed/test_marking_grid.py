"""The grid's rule: a number says which question; without one it is that under the cursor."""

from contextlib import suppress

import pytest

from domain.errors import InputError
from domain.printed.entry import JUDGEMENTS, Judgement
from domain.printed.marking_grid import GridMark, GridPart, MarkingGrid
from domain.questions import Question
from domain.verdicts import Confidence, Verdict


def part(title: str, *numbers: int) -> GridPart:
    made = [
        Question(id=f"b/{title}/{n}", chapter=title, number=n, answer_key=("a",)) for n in numbers
    ]
    return GridPart(title, tuple(made))


def grid_of(*parts: GridPart) -> MarkingGrid:
    return MarkingGrid(parts or (part("one", *range(1, 31)),))


def settle(grid: MarkingGrid, act) -> None:
    judgement = act.judgement or Judgement(Verdict.RIGHT, act.confidence)
    grid.settle(act, [GridMark(judgement.verdict, judgement.confidence)] * len(act.slots))


def typed(grid: MarkingGrid, text: str) -> MarkingGrid:
    for character in text:
        grid.dash() if character == "-" else grid.digit(character)
    return grid


def test_a_judgement_without_a_number_is_for_the_cursor_which_moves_on():
    one = grid_of()
    settle(one, one.judge(JUDGEMENTS["right"]))

    assert one.cursor == 1
    assert one.judge(JUDGEMENTS["wrong"]).slots == (1,)


def test_a_number_is_marked_and_the_cursor_stays():
    one = typed(grid_of(), "12-15")
    act = one.judge(JUDGEMENTS["unsure"])
    settle(one, act)

    assert act.slots == (11, 12, 13, 14)
    assert not act.in_turn
    assert (one.cursor, one.typed.text) == (0, "")
    assert [entry.text for entry in one.line] == ["12-15"]


@pytest.mark.parametrize("ending", ["end_number", "enter"])
def test_a_number_ended_is_wrong(ending):
    act = getattr(typed(grid_of(), "7"), ending)()

    assert (act.slots, act.judgement) == ((6,), JUDGEMENTS["wrong"])


def test_a_space_only_ends_a_number_and_a_range_may_be_typed_with_one():
    one = grid_of()

    assert one.end_number() is None
    assert typed(one, "12-").end_number() is None
    assert typed(one, "15").end_number().slots == (11, 12, 13, 14)


def test_digits_that_lead_nowhere_are_told_and_can_be_mended():
    one = typed(grid_of(), "3")
    with pytest.raises(InputError, match="31: no such question here \\(1 to 30\\)"):
        one.digit("1")
    one.typed.erase()

    assert one.end_number().slots == (2,)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("5", "there is no question 5; 5 marks nothing"),
        ("61", "there is no question 61"),
        ("36-40", "there is no question 36"),
        ("40-38", "runs backwards"),
        ("-40", "'-40' is not a number"),
        ("40-", "'40-' is not a number"),
        ("40-41-42", "is not a number"),
    ],
)
def test_a_number_that_is_not_here_is_closed_named_and_kept_out(text, told):
    one = grid_of(part("evening", *range(37, 60)))
    for character in text:
        with suppress(InputError):
            one.dash() if character == "-" else one.digit(character)
    with pytest.raises(InputError, match=told):
        one.enter()

    assert [(entry.text, entry.mark) for entry in one.line] == [(text, None)]
    assert typed(one, "45").end_number().slots == (8,)


def test_letters_behind_a_number_that_is_not_here_go_nowhere_until_a_number_is():
    one = grid_of(part("evening", *range(37, 60)))
    with suppress(InputError):
        typed(one, "7")
    with pytest.raises(InputError, match="there is no question 7"):
        one.respond("a")
    with pytest.raises(InputError, match="7 was left out, so this letter was too"):
        one.respond("b")

    assert typed(one, "40").respond("a").slots == (3,)


def test_a_letter_for_a_range_is_refused_and_the_range_with_it():
    one = typed(grid_of(), "3-5")
    with pytest.raises(InputError, match="not to a range"):
        one.respond("a")

    assert (one.typed.text, [entry.text for entry in one.line]) == ("", ["3-5"])


def test_enter_before_any_mark_asks_first():
    one = grid_of()
    asked, given = one.enter(), one.enter()

    assert (asked, one.is_asking) == (None, False)
    assert given.slots == tuple(range(30))


def test_any_other_key_takes_the_question_back():
    one = grid_of()
    one.enter()
    typed(one, "3")
    one.clear()

    assert one.enter() is None


def test_a_number_and_letters_go_on_from_there():
    one = grid_of()
    settle(one, typed(one, "7").respond("a"))

    assert one.respond("B").slots == (7,)
    assert one.respond("B").confidence is Confidence.UNSURE


def test_the_walk_passes_over_marks_but_a_correction_only_steps_on():
    one = grid_of()
    settle(one, typed(one, "2").end_number())
    settle(one, one.judge(JUDGEMENTS["right"]))
    after_new = one.cursor
    one.go(0)
    settle(one, one.judge(JUDGEMENTS["wrong"]))

    assert (after_new, one.cursor) == (2, 1)


def test_enter_takes_the_rest_of_this_part_and_goes_on_to_the_next_open_one():
    one = grid_of(part("one", 3, 12), part("two", 2, 9))
    settle(one, typed(one, "12").end_number())
    act = one.enter()
    settle(one, act)

    assert (act.slots, one.cursor, one.part) == ((0,), 2, 1)
    settle(one, one.enter())
    with pytest.raises(InputError, match="everything here is marked"):
        one.enter()
    with pytest.raises(InputError, match="one too many: 9 was the last"):
        one.judge(JUDGEMENTS["right"])


def test_numbers_belong_to_the_part_of_the_cursor():
    one = grid_of(part("one", 3, 12), part("two", 2, 9))
    with pytest.raises(InputError, match="9: no such question"):
        one.digit("9")
    one.clear()
    one.move_part(1)

    assert typed(one, "9").judge(JUDGEMENTS["wrong"]).slots == (3,)


def test_a_number_and_an_arrow_go_there():
    one = typed(grid_of(), "21")
    one.move(1)

    assert one.cursor == 20


def test_taking_back_puts_the_cursor_where_it_was():
    one = grid_of()
    settle(one, one.judge(JUDGEMENTS["right"]))
    settle(one, typed(one, "20").respond("a"))
    one.unsettle([19], {0: GridMark(Verdict.RIGHT)})

    assert (one.cursor, one.open_slots()[0]) == (1, 1)
