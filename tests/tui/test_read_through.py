"""A finished sitting or paper read through: what is listed, what is shown, what is drilled."""

from pathlib import Path

from banks.library import Given, Library
from banks.views.drill import newest_sittings, read_through
from domain.marking.blueprint import Blueprint, Section
from domain.responses import Medium, Purpose, ReadingTime
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock, bank, bare, full, library
from tests.tui.stage import Stage, settled
from tui.screens.paper_result import PaperResult
from tui.screens.read_through import ReadThroughScreen

NAME = "observer/wind.force/{}"


def opened_in(folder: Path) -> Library:
    questions = [
        full(number, f"Which is force {number}?", ["Breeze", "Calm"], "a", shuffle=False,
             explanation=f"Because of {number}.")
        for number in range(1, 6)
    ]  # fmt: skip
    shape = {"Wind": {"Force": [*questions, bare(6)]}}
    return library(folder, bank("Observer", shape), clock=FakeClock())


def answered(opened: Library, purpose: Purpose, **fields: object) -> str:
    """A sitting over six questions: wrong, unsure, a wrong guess, right, and two left out."""
    names = [NAME.format(number) for number in range(1, 7)]
    sitting = opened.open_sitting("Force", purpose, names, **fields)
    given = (("b", Confidence.SURE), ("a", Confidence.UNSURE), ("b", Confidence.GUESS),
             ("a", Confidence.SURE))  # fmt: skip
    outcomes = [
        opened.record(
            [Given(question=name, chosen=(letter,), confidence=sure, seconds=12)],
            purpose,
            sitting=sitting,
        )[0]
        for name, (letter, sure) in zip(names, given, strict=False)
    ]
    opened.put_on_record(ReadingTime, response=outcomes[0].response.id, seconds=31.0)
    return sitting


async def test_a_drill_is_read_filtered_and_drilled(tmp_path):
    opened = opened_in(tmp_path)
    sitting = answered(opened, Purpose.REVISION)
    app = Stage(opened, ReadThroughScreen(sitting))
    async with app.run_test() as pilot:
        everything = await settled(pilot)
        await pilot.press("end", "up")
        last = await settled(pilot)
        await pilot.press("1")
        missed = await settled(pilot)
        await pilot.press("2")
        with_unsure = await settled(pilot)
        await pilot.press("2", "d")
        drilled = app.screen.run.sitting.opened

    verdicts = [item.verdict for item in read_through(opened, sitting)]
    wrong, right = Verdict.WRONG, Verdict.RIGHT
    assert verdicts == [wrong, right, wrong, right, None, None]
    for words in ("all: 6 questions", "✗ Wrong", "The key is a", "Because of 1.", "12+31 s"):
        assert words in everything
    assert "Why?" not in everything
    assert "The key is a." in last
    assert "Because of 5." in last
    assert "missed: 2 questions" in missed
    assert "missed, unsure: 3 questions" in with_unsure
    assert drilled.questions == (NAME.format(1), NAME.format(3))
    assert drilled.purpose is Purpose.FREE


async def test_the_misses_of_a_paper_are_drilled_in_three_keys_its_gaps_among_them(tmp_path):
    opened = opened_in(tmp_path)
    paper = Blueprint(sections=(Section("observer/wind", 6),), minutes=10)
    sitting = answered(opened, Purpose.PAPER, paper=paper)
    opened.close_sitting(sitting)
    app = Stage(opened, PaperResult(sitting))
    async with app.run_test() as pilot:
        await pilot.press("V", "1", "d")
        await settled(pilot)
        drilled = app.screen_stack[-1].run.sitting.opened.questions

    assert drilled == tuple(NAME.format(number) for number in (1, 3, 5, 6))


def test_the_newest_sittings_are_listed_and_letters_stand_as_printed_in_a_marked_one(tmp_path):
    opened = opened_in(tmp_path)
    opened.open_sitting("Nothing yet", Purpose.FREE, [NAME.format(1)])
    first = answered(opened, Purpose.SWEEP, medium=Medium.PRINTED)
    second = answered(opened, Purpose.REVISION, seed=7)

    listed = newest_sittings(opened, 5)
    assert [line.id for line in listed] == [second, first]
    assert [(line.given, line.missed) for line in listed] == [(4, 2), (4, 2)]


async def test_guesses_are_listed_and_all_again_and_a_long_text_turned(tmp_path):
    stem = "\n".join(f"line {number}." for number in range(40))
    made = library(
        tmp_path, bank("Observer", {"Wind": {"Force": [full(1, stem, ["x", "y"], "a")]}})
    )
    name = made.open_sitting("Long", Purpose.FREE, [NAME.format(1)])
    made.record([Given(question=NAME.format(1), chosen=("a",))], Purpose.FREE, sitting=name)
    async with Stage(made, ReadThroughScreen(name)).run_test() as pilot:
        top = await settled(pilot)
        await pilot.press("right")
        further = await settled(pilot)
        await pilot.press("left")
        back = await settled(pilot)
        await pilot.press("3")
        guessed = await settled(pilot)
        await pilot.press("0")
        everything = await settled(pilot)

    assert "line 7." in top
    assert "line 7." not in further
    assert "line 17." in further
    assert back == top == everything
    assert "guessed: 0 questions" in guessed
