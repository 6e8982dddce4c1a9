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
    grid = grid_of()
    settle(grid, grid.judge(JUDGEMENTS["right"]))

    assert grid.cursor == 1
    assert grid.judge(JUDGEMENTS["wrong"]).slots == (1,)


def test_a_number_is_marked_and_the_cursor_stays():
    grid = typed(grid_of(), "12-15")
    act = grid.judge(JUDGEMENTS["unsure"])
    settle(grid, act)

    assert act.slots == (11, 12, 13, 14)
    assert not act.in_turn
    assert (grid.cursor, grid.typed.text) == (0, "")
    assert [entry.text for entry in grid.line] == ["12-15"]


@pytest.mark.parametrize("ending", ["end_number", "enter"])
def test_a_number_ended_is_wrong(ending):
    act = getattr(typed(grid_of(), "7"), ending)()

    assert (act.slots, act.judgement) == ((6,), JUDGEMENTS["wrong"])


def test_a_space_only_ends_a_number_and_a_range_may_be_typed_with_one():
    grid = grid_of()

    assert grid.end_number() is None
    assert typed(grid, "12-").end_number() is None
    assert typed(grid, "15").end_number().slots == (11, 12, 13, 14)


def test_digits_that_lead_nowhere_are_told_and_can_be_mended():
    grid = typed(grid_of(), "3")
    with pytest.raises(InputError, match="31: no such question here \\(1 to 30\\)"):
        grid.digit("1")
    grid.typed.erase()

    assert grid.end_number().slots == (2,)


@pytest.mark.parametrize(
    ("text", "message"),
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
def test_a_number_that_is_not_here_is_closed_named_and_kept_out(text, message):
    grid = grid_of(part("evening", *range(37, 60)))
    for character in text:
        with suppress(InputError):
            grid.dash() if character == "-" else grid.digit(character)
    with pytest.raises(InputError, match=message):
        grid.enter()

    assert [(entry.text, entry.mark) for entry in grid.line] == [(text, None)]
    assert typed(grid, "45").end_number().slots == (8,)


def test_letters_behind_a_number_that_is_not_here_go_nowhere_until_a_number_is():
    grid = grid_of(part("evening", *range(37, 60)))
    with suppress(InputError):
        typed(grid, "7")
    with pytest.raises(InputError, match="there is no question 7"):
        grid.respond("a")
    with pytest.raises(InputError, match="7 was left out, so this letter was too"):
        grid.respond("b")

    assert typed(grid, "40").respond("a").slots == (3,)


def test_a_letter_for_a_range_is_refused_and_the_range_with_it():
    grid = typed(grid_of(), "3-5")
    with pytest.raises(InputError, match="not to a range"):
        grid.respond("a")

    assert (grid.typed.text, [entry.text for entry in grid.line]) == ("", ["3-5"])


def test_enter_before_any_mark_asks_first():
    grid = grid_of()
    asked, given = grid.enter(), grid.enter()

    assert (asked, grid.is_asking) == (None, False)
    assert given.slots == tuple(range(30))


def test_any_other_key_takes_the_question_back():
    grid = grid_of()
    grid.enter()
    typed(grid, "3")
    grid.clear()

    assert grid.enter() is None


def test_a_number_and_letters_go_on_from_there():
    grid = grid_of()
    settle(grid, typed(grid, "7").respond("a"))

    assert grid.respond("B").slots == (7,)
    assert grid.respond("B").confidence is Confidence.UNSURE


def test_the_walk_passes_over_marks_but_a_correction_only_steps_on():
    grid = grid_of()
    settle(grid, typed(grid, "2").end_number())
    settle(grid, grid.judge(JUDGEMENTS["right"]))
    after_new = grid.cursor
    grid.go(0)
    settle(grid, grid.judge(JUDGEMENTS["wrong"]))

    assert (after_new, grid.cursor) == (2, 1)


def test_enter_takes_the_rest_of_this_part_and_goes_on_to_the_next_open_one():
    grid = grid_of(part("one", 3, 12), part("two", 2, 9))
    settle(grid, typed(grid, "12").end_number())
    act = grid.enter()
    settle(grid, act)

    assert (act.slots, grid.cursor, grid.part) == ((0,), 2, 1)
    settle(grid, grid.enter())
    with pytest.raises(InputError, match="everything here is marked"):
        grid.enter()
    with pytest.raises(InputError, match="one too many: 9 was the last"):
        grid.judge(JUDGEMENTS["right"])


def test_numbers_belong_to_the_part_of_the_cursor():
    grid = grid_of(part("one", 3, 12), part("two", 2, 9))
    with pytest.raises(InputError, match="9: no such question"):
        grid.digit("9")
    grid.clear()
    grid.move_part(1)

    assert typed(grid, "9").judge(JUDGEMENTS["wrong"]).slots == (3,)


def test_a_number_and_an_arrow_go_there():
    grid = typed(grid_of(), "21")
    grid.move(1)

    assert grid.cursor == 20


def test_taking_back_puts_the_cursor_where_it_was():
    grid = grid_of()
    settle(grid, grid.judge(JUDGEMENTS["right"]))
    settle(grid, typed(grid, "20").respond("a"))
    grid.unsettle([19], {0: GridMark(Verdict.RIGHT)})

    assert (grid.cursor, grid.open_slots()[0]) == (1, 1)
