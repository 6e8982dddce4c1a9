"""Keys counted from the pilot on the ways that are walked most, beside a goal for each.

The goal was stated before it was measured: the least keys that the information needs, times 1.1.
What is missed takes each number and what ends it; then one key for the rest that was right.
DEVELOPERS.md holds the table; `python -m tests.tui.test_key_counts` writes it anew.
"""

import asyncio
import re
from collections.abc import Awaitable, Callable, Iterable
from contextlib import chdir
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import pytest
from msgspec.structs import replace
from textual.events import Paste
from textual.pilot import Pilot

from banks.demo.making import printed_bank
from banks.library import Given, Library
from banks.planning.first_study import StudiedAlready, with_studied
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.sittings.drill_sitting import DrillSitting
from banks.sittings.printed_sheets import print_list
from domain.drill_choice import DrillChoice
from domain.marking.blueprint import Blueprint, Section
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose, Reason, Response
from domain.verdicts import Verdict
from tests.builders import bank, bares, full, library
from tests.tui.stage import Stage, settled
from tui.app import Resieve
from tui.screens.paper_result import PaperResult
from tui.screens.today import TodayScreen

GOAL = 1.1
EXAM = date(2026, 9, 1)
REST = 1
"""The key that marks the rest of a chapter right."""
MISSED = (3, 7, 12, 15, 18, 22, 25, 28, 31, 34)
KEYS = {"\n": "enter", " ": "space", ",": "comma", "-": "minus", "'": "apostrophe"}


class CountedKeys:
    """Types and counts; a capital letter is one key."""

    def __init__(self, pilot: Pilot[str]) -> None:
        self.pilot, self.count = pilot, 0

    async def press(self, *keys: str) -> None:
        self.count += len(keys)
        await self.pilot.press(*keys)
        await settled(self.pilot)

    async def type_at_once(self, text: str) -> None:
        """Counted key by key, given to the field in one go: drawing each key takes seconds."""
        self.count += len(text)
        self.pilot.app.post_message(Paste(text))
        await self.pilot.pause()

    async def type(self, text: str) -> None:
        await self.press(*(KEYS.get(character, character) for character in text))

    async def miss(self, numbers: Iterable[int]) -> None:
        """Mark these wrong and the rest of the chapter right."""
        await self.type(missed_text(numbers))
        await self.press("enter")


class CountedWay(NamedTuple):
    """What a way needs at least, what it took, and what of it is on record."""

    least: int
    keys: int
    marked: int


def missed_text(numbers: Iterable[int]) -> str:
    """Numbers as they are typed, each with what ends it."""
    return "".join(f"{number} " for number in numbers)


def marked_now(opened: Library, purpose: Purpose) -> int:
    """How many were missed or mixed up for this purpose, today or the day before."""
    history = opened.history
    responses = (each for name in history.questions() for each in history.responses(name))
    return sum(
        history.verdict(response) is not Verdict.RIGHT or history.reason(response) is not None
        for response in responses
        if response.purpose is purpose and response.at > opened.now() - timedelta(days=2)
    )


# the ways


def shape() -> str:
    """21 subjects of nine chapters, as they are typed."""
    titles = [subject.title for subject in printed_bank(date(2026, 3, 2)).subjects]
    return "\n".join(
        f"{title} " + " ".join(str(60 + (place + 7 * chapter) % 9) for chapter in range(9))
        for place, title in enumerate(titles)
    )


async def first_run(folder: Path) -> CountedWay:
    """The shape and the exam day are typed; to the exam day, to Today, into the chapter: 3 keys."""
    opened, text, exam = library(folder), shape(), "2027-05-15"
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        keys = CountedKeys(pilot)
        await settled(pilot)
        first, rest = text.split("\n", 1)
        await keys.type(first)
        await keys.type_at_once("\n" + rest)
        await keys.press("tab")
        await keys.type(exam)
        await keys.press("ctrl+r")
        await pilot.app.workers.wait_for_complete()
        await settled(pilot)
        await keys.press("enter")
        await keys.miss(MISSED)
    (book,) = opened.banks.values()
    assert [len(subject.chapters) for subject in book.subjects] == [9] * 21
    tried = len(opened.history.answered_on(opened.today()))
    assert tried == len(next(iter(PlanWorkload(opened).plan().entries)).parts[0].numbers)
    least = len(text) + len(exam) + 3 + len(missed_text(MISSED)) + REST
    return CountedWay(least, keys.count, marked_now(opened, Purpose.REVISION))


async def first_study(folder: Path) -> CountedWay:
    """Each of 60 is right, didn't know or mixed up: a key each; to the line, into it: 2 keys."""
    book = bank("Book", {"Clouds": {"Genera": bares(60)}, "Wind": {"Force": bares(60)}})
    opened = library(folder, book)
    studied = StudiedAlready(("book/wind",), opened.today() + timedelta(days=60))
    accept(opened, with_studied(PlanInputs(exam=EXAM), book, studied))
    circles = "".join("ij" if number % 5 < 3 else "mj" for number in range(30))
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        keys = CountedKeys(pilot)
        await settled(pilot)
        await keys.press("end", "enter")
        await keys.type(circles)
    reasons = [opened.history.reason(response) for response in responses_of(opened, "clouds")]
    assert (reasons.count(Reason.UNKNOWN), reasons.count(Reason.MIXED_UP)) == (18, 12)
    return CountedWay(60 + 2, keys.count, marked_now(opened, Purpose.STUDY))


async def yesterdays_chapter(folder: Path) -> CountedWay:
    """The day before is a key, and so is the chapter that it held."""
    opened = library(folder, bank("Book", {"Clouds": {"Genera": bares(60)}}))
    accept(opened, PlanInputs(exam=EXAM))
    opened.now.go_on(days=1)
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        keys = CountedKeys(pilot)
        await settled(pilot)
        await keys.press("ctrl+k", "enter")
        await keys.miss(MISSED)
    days = {opened.history.day(response.at) for response in responses_of(opened, "clouds")}
    assert days == {opened.today() - timedelta(days=1)}
    least = 2 + len(missed_text(MISSED)) + REST
    return CountedWay(least, keys.count, marked_now(opened, Purpose.REVISION))


def missed_twice(folder: Path) -> tuple[Library, list[str]]:
    """Two chapters of which 45 questions each were missed on two days, and these questions."""
    chapters = {"Genera": bares(60), "Species": bares(60)}
    opened = library(folder, bank("Book", {"Clouds": chapters}))
    names = [
        f"book/clouds.{chapter}/{number}" for chapter in ("genera", "species")
        for number in range(16, 61)
    ]  # fmt: skip
    for _ in range(2):
        opened.record([Given(question=name, verdict=Verdict.WRONG) for name in names], Purpose.FREE)
        opened.now.go_on(days=1)
    opened.now.go_on(days=10)
    accept(opened, PlanInputs(exam=EXAM))
    return opened, names


SHEET_MISSED = tuple(range(17, 60, 3))
"""Of each of the two chapters."""


async def sheet(folder: Path) -> CountedWay:
    """To the sheet on Today and into it: 2 keys."""
    opened, names = missed_twice(folder)
    print_list(opened, folder / "sheet.txt", "Sheet", Purpose.SWEEP, names)
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        keys = CountedKeys(pilot)
        await settled(pilot)
        await keys.press("end", "enter")
        await keys.miss(SHEET_MISSED)
        await keys.miss(SHEET_MISSED)
    least = 2 + 2 * (len(missed_text(SHEET_MISSED)) + REST)
    return CountedWay(least, keys.count, marked_now(opened, Purpose.SWEEP))


async def triage_list(folder: Path) -> CountedWay:
    """To Triage, print, to this file; to Today, to the sheet, into it: 6 keys."""
    opened, _ = missed_twice(folder)
    with chdir(folder):
        async with Resieve(lambda _: opened).run_test(size=(80, 24)) as pilot:
            keys = CountedKeys(pilot)
            while not pilot.app.is_ready:
                await pilot.pause(0.01)
            await keys.press("f4", "P", "enter", "f2")
            await keys.press("end", "enter")
            await keys.miss(SHEET_MISSED)
            await keys.miss(SHEET_MISSED)
    least = 6 + 2 * (len(missed_text(SHEET_MISSED)) + REST)
    return CountedWay(least, keys.count, marked_now(opened, Purpose.SWEEP))


def responses_of(opened: Library, subject: str) -> list[Response]:
    """The newest response to each question tried of a subject."""
    return [
        opened.history.responses(question.id)[-1]
        for location, question in opened.active_questions()
        if location.subject.id == subject and opened.history.responses(question.id)
    ]


WAYS: dict[str, tuple[Callable[[Path], Awaitable[CountedWay]], int]] = {
    "first run: 21 subjects of 9 chapters typed, first chapter marked": (first_run, len(MISSED)),
    "first study of 60 questions, 30 circles of two kinds": (first_study, 30),
    "yesterday's chapter": (yesterdays_chapter, len(MISSED)),
    "a sheet of 90 questions keyed back, 30 missed": (sheet, 30),
    "a list of Triage printed and keyed back, 30 of 90 missed": (triage_list, 30),
}
"""The ways by their names in the table, and the misses or circles each must leave on record."""


def row(name: str, way: CountedWay) -> str:
    """The way's line in the table of DEVELOPERS.md."""
    return f"| {name} | {way.least:,} | {int(GOAL * way.least):,} | {way.keys:,} |"


# the drill


async def drill_ways(folder: Path) -> dict[str, tuple[int, int]]:
    """What each way takes at least and took; one candidate goes them all, each to its end."""
    chapter = [full(number, f"Which is {number}?", ["this", "that"], "a", shuffle=False)
               for number in range(1, 9)]  # fmt: skip
    opened = library(folder, bank("Book", {"Clouds": {"Genera": chapter}}))
    names = [f"book/clouds.genera/{number}" for number in range(1, 9)]
    for missed in (names[:3], names[:5]):
        given = [Given(question=name, chosen=("b",)) for name in missed]
        opened.record(given, Purpose.FREE)
        opened.now.go_on(days=1)
    accept(opened, PlanInputs(exam=EXAM))
    opened.keep_drill_choice(DrillChoice(questions=4))
    paper = Blueprint(sections=(Section("book/clouds", 2),), minutes=5)
    taken = opened.open_sitting("Paper", Purpose.PAPER, names[6:], paper=paper)
    opened.record([Given(question=names[6], chosen=("b",))], Purpose.PAPER, sitting=taken)
    opened.close_sitting(taken)
    counts: dict[str, tuple[int, int]] = {}
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        app, keys = pilot.app, CountedKeys(pilot)
        await settled(pilot)

        async def walk(name: str, least: int, *pressed: str) -> DrillSitting:
            before = keys.count
            await keys.press(*pressed)
            counts[name] = (least, keys.count - before)
            run: DrillSitting = app.screen.run
            return run

        run = await walk("the repeatedly missed drilled, from Today", 3, "f4", "1", "d")
        assert set(run.sitting.opened.questions) == set(names[:3])
        await walk("a question answered, its answer read, on to the next", 2, "b", "enter")
        assert (run.index, len(run.sitting.given)) == (1, 1)
        await walk("an earlier response corrected, on to the next", 3, "left", "a", "enter")
        assert (run.index, run.score.right) == (1, 1)
        opened.save_settings(
            replace(opened.settings, looks=replace(opened.settings.looks, goes_on=True))
        )
        await walk("a question right and sure, going on by itself", 1, "a")
        assert (run.index, run.score.right) == (2, 2)
        run = await walk("the last Drill… again", 2, "ctrl+t", "enter")
        assert len(run.sitting.opened.questions) == 4
        app.push_screen(PaperResult(taken))
        await settled(pilot)
        run = await walk("a paper's misses drilled, from its result", 3, "V", "1", "d")
        assert set(run.sitting.opened.questions) == set(names[6:])
    return counts


def drill_rows(ways: dict[str, tuple[int, int]]) -> list[str]:
    """Their lines in the table."""
    return [f"| {name} | {least} | {least} | {keys} |" for name, (least, keys) in ways.items()]


async def test_the_drill_takes_no_key_too_many(tmp_path):
    ways = await drill_ways(tmp_path / "store")

    assert all(keys == least for least, keys in ways.values())
    assert set(drill_rows(ways)) <= set(DOCUMENT.read_text("utf-8").splitlines())


DOCUMENT = Path(__file__).parents[2] / "DEVELOPERS.md"
TABLE = re.compile(r"(?<=<!-- key counts -->\n\n).*?(?=\n\n<!-- /key counts -->)", re.DOTALL)


@pytest.mark.slow
@pytest.mark.parametrize("name", WAYS)
async def test_a_way_takes_hardly_more_keys_than_its_information(tmp_path, name):
    walk, marked = WAYS[name]
    way = await walk(tmp_path / "store")

    assert way.marked == marked
    assert way.keys <= GOAL * way.least
    assert row(name, way) in DOCUMENT.read_text("utf-8").splitlines()


async def table() -> str:
    """The table of DEVELOPERS.md, every way walked."""
    rows = ["| way | least | goal | keys |", "|---|---|---|---|"]
    for name, (walk, _) in WAYS.items():
        with TemporaryDirectory() as folder:
            rows.append(row(name, await walk(Path(folder) / "store")))
    with TemporaryDirectory() as folder:
        rows += drill_rows(await drill_ways(Path(folder) / "store"))
    return "\n".join(rows)


if __name__ == "__main__":
    written = asyncio.run(table())
    DOCUMENT.write_text(TABLE.sub(lambda _: written, DOCUMENT.read_text("utf-8")), "utf-8")
