"""Keys counted from the pilot for a chapter of 105 with 30 misses and 10 doubts, and their time."""

from pathlib import Path
from random import Random

import pytest
from textual.events import Key

from tests.published import keystroke_level as klm
from tests.tui.paper_desk import KEY, burst, opened, paper, told
from tui.in_order import InOrder

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


class Chapter:
    """What a candidate chose and what it was worth, drawn by lot."""

    def __init__(self) -> None:
        draw = Random(105)
        numbers = range(1, klm.QUESTIONS + 1)
        picked = draw.sample(numbers, klm.MISSES + klm.DOUBTS)
        self.truth = dict.fromkeys(numbers, "r")
        self.truth |= dict.fromkeys(picked[: klm.MISSES], "w")
        self.truth |= dict.fromkeys(picked[klm.MISSES :], "R")
        self.exceptions = picked
        self.digits = sum(len(str(number)) for number in picked)

    def walk(self) -> str:
        return "".join({"r": "j", "w": "k", "R": "l"}[mark] for mark in self.truth.values())

    def listed(self) -> str:
        ends = {"w": " ", "R": "l"}
        return "".join(f"{number}{ends[self.truth[number]]}" for number in self.exceptions) + "\n"

    def letters(self) -> str:
        return "".join(self._letter(number, mark) for number, mark in self.truth.items())

    def _letter(self, number: int, mark: str) -> str:
        if mark == "w":
            return KEY[(number + 1) % 4]
        letter = KEY[number % 4]
        return letter.upper() if mark == "R" else letter


CHAPTER = Chapter()
WAYS = {
    "one by one": (CHAPTER.walk(), 1.05),
    "exceptions": (CHAPTER.listed(), 1.2),
    "responses": (CHAPTER.letters(), 1.0),
}


COUNTED = {way: len(keys) for way, (keys, _) in WAYS.items()}
SHIFTS = {way: sum(key.isupper() for key in keys) for way, (keys, _) in WAYS.items()}


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The keys that reached the screen."""
    keys: list[str] = []
    take = InOrder.on_key

    async def counting(screen: InOrder, event: Key) -> None:
        keys.append(event.key)
        await take(screen, event)

    monkeypatch.setattr(InOrder, "on_key", counting)
    return keys


@pytest.mark.parametrize("way", WAYS)
async def test_a_chapter_costs_no_more_keys_than_promised(tmp_path, taken, way):
    keys, promised = WAYS[way]
    one = opened(tmp_path, klm.QUESTIONS, has_key=way == "responses")
    async with paper(one).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, keys)

        assert told(one) == CHAPTER.truth
        assert len(taken) == COUNTED[way]
        assert len(taken) <= promised * klm.QUESTIONS


def test_the_developers_notes_print_the_table():
    table = klm.table(COUNTED, SHIFTS, CHAPTER.digits)

    assert table in DEVELOPERS.read_text(encoding="utf-8")


@pytest.mark.parametrize("key", [klm.K_TYPIST, klm.K_LETTERS])
def test_each_way_is_predicted_faster_than_the_pencil(key):
    ways = [
        klm.one_by_one(COUNTED["one by one"]), klm.exceptions(COUNTED["exceptions"]),
        klm.responses(COUNTED["responses"] + SHIFTS["responses"]),
    ]  # fmt: skip
    alone, with_rows = klm.pencil(), klm.spreadsheet(CHAPTER.digits)

    assert max(way.seconds(key) for way in ways) < alone.seconds(key) < with_rows.seconds(key)


def test_operators_add_up_as_in_the_model():
    way = klm.Way("worked by hand", keys=10, mental=2, pointing=3, homing=1)

    assert way.seconds(0.20) == pytest.approx(10 * 0.20 + 2 * 1.35 + 3 * 1.10 + 0.40)
