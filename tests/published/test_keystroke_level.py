"""A chapter of 105 with 30 misses and 10 doubts marked in every way: the keys, and their time."""

import shlex
from contextlib import closing
from pathlib import Path
from random import Random

import pytest
from textual.events import Key

from banks.library import Library
from tests.published import keystroke_level as klm
from tests.tui.marking_stage import KEY, burst, opened, paper, told
from tui.base_screen import OrderedKeysScreen
from tui.cli import main

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

    def walk(self) -> str:
        return "".join({"r": "j", "w": "k", "R": "l"}[mark] for mark in self.truth.values())

    def listed(self) -> str:
        ends = {"w": " ", "R": "l"}
        return "".join(f"{number}{ends[self.truth[number]]}" for number in self.exceptions) + "\n"

    def letters(self) -> str:
        return "".join(self._letter(number, mark) for number, mark in self.truth.items())

    def command(self) -> str:
        numbers = {
            word: ",".join(str(number) for number, mark in self.truth.items() if mark == letter)
            for word, letter in (("wrong", "w"), ("unsure", "R"))
        }
        return (
            "resieve mark --subject Instruments --chapter Barometers "
            f"--wrong {numbers['wrong']} --unsure {numbers['unsure']} --rest right\n"
        )

    def _letter(self, number: int, mark: str) -> str:
        if mark == "w":
            return KEY[(number + 1) % 4]
        letter = KEY[number % 4]
        return letter.upper() if mark == "R" else letter


CHAPTER = Chapter()
TYPED = {
    "one by one": CHAPTER.walk(),
    "exceptions": CHAPTER.listed(),
    "responses": CHAPTER.letters(),
    "command": CHAPTER.command(),
}
MENTAL = {"responses": -(-klm.QUESTIONS // klm.LETTERS_AT_ONCE)}
"""Each question is checked, which tells the key; copied letters are checked by nobody."""
WAYS = {
    name: klm.Way(
        name,
        keys=len(keys),
        shifts=sum(key.isupper() for key in keys),
        mental=MENTAL.get(name, klm.QUESTIONS),
    )
    for name, keys in TYPED.items()
}


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The keys that reached the screen."""
    keys: list[str] = []
    take = OrderedKeysScreen.on_key

    async def counting(screen: OrderedKeysScreen, event: Key) -> None:
        keys.append(event.key)
        await take(screen, event)

    monkeypatch.setattr(OrderedKeysScreen, "on_key", counting)
    return keys


@pytest.mark.parametrize("way", ["one by one", "exceptions", "responses"])
async def test_the_screen_takes_the_keys_counted_and_records_the_chapter(tmp_path, taken, way):
    library = opened(tmp_path, klm.QUESTIONS, has_key=way == "responses")
    async with paper(library).run_test(size=(80, 24)) as pilot:
        await burst(pilot.app, TYPED[way])

        assert told(library) == CHAPTER.truth
        assert len(taken) == WAYS[way].keys


def test_the_command_records_the_same_chapter(tmp_path):
    opened(tmp_path, klm.QUESTIONS).close()
    program, *words = shlex.split(TYPED["command"])

    assert program == "resieve"
    assert main(["--store", str(tmp_path), *words]) == 0
    with closing(Library.open(tmp_path, read_only=True)) as library:
        assert told(library) == CHAPTER.truth


def test_the_screen_never_costs_more_than_the_command_that_records_the_same():
    on_screen = [WAYS[name] for name in ("one by one", "exceptions", "responses")]
    for key in (klm.K_TYPIST, klm.K_LETTERS):
        assert max(way.seconds(key) for way in on_screen) < WAYS["command"].seconds(key)
    assert all(way.keys <= 1.2 * klm.QUESTIONS for way in on_screen)


def test_the_developers_notes_print_the_table():
    assert klm.table(WAYS.values()) in DEVELOPERS.read_text(encoding="utf-8")
