"""A thousand random scripts of keys on the Paper screen against a simple model.

The keys of a script are typed in one burst, as over a slow line; then the log must say what the
model says, and after undoing all of it the log must say nothing.
"""

from random import Random

import pytest

from banks.library import Library
from tests.builders import FakeClock
from tests.tui.paper_desk import KEY, Unhurried, burst, opened, paper, told

COUNT = 23
SCRIPTS = 1000
KEYS = "jjkl .abcDdeB112345670-,?\n\nu<>^"


class Misfit(Exception):
    """A key that the screen refuses."""


class Model:
    """What the log should say, kept as plainly as can be: numbers, letters, snapshots."""

    def __init__(self) -> None:
        self.marks: dict[int, str] = {}
        self.before: list[tuple[dict[int, str], int]] = []
        self.typed, self.is_line, self.cursor = "", False, 1

    def press(self, key: str) -> None:
        try:
            self.do(key)
        except Misfit:
            return

    def do(self, key: str) -> None:
        if key.isdigit():
            self.typed += key
        elif key == "-":
            is_number = self.typed.isdigit() and 1 <= int(self.typed) <= COUNT
            self.typed = self.typed + "-" if is_number else self.typed
        elif key in "<u" and self.typed:
            self.typed = self.typed[:-1] if key == "<" else ""
            self.is_line = self.is_line and key == "<"
        elif key in "<u":
            self.undo()
        elif key in ">^":
            self.move(1 if key == ">" else -10)
        elif self.typed:
            self.end_number(key)
        else:
            self.mark_here(key)

    def named(self) -> list[int]:
        first, _, last = self.typed.rstrip("-").partition("-")
        found = range(int(first), int(last or first) + 1)
        if not found or found[-1] > COUNT or found[0] < 1:
            raise Misfit
        return list(found)

    def move(self, step: int) -> None:
        there = self.cursor + step
        if self.typed:
            begun = int(self.typed.partition("-")[0])
            there = begun if 1 <= begun <= COUNT else there
        self.typed, self.is_line = "", False
        self.cursor = max(1, min(there, COUNT))

    def end_number(self, key: str) -> None:
        numbers = self.named()
        if key.lower() in "abcde":
            if len(numbers) > 1:
                raise Misfit
            self.respond(numbers[0], key)
            return
        self.set(numbers, {"j": "r", "l": "R", "?": "R", ".": "b"}.get(key, "w"))
        self.is_line = True

    def mark_here(self, key: str) -> None:
        if key == "," or (key == " " and self.is_line):
            return
        if key == "\n":
            self.rest()
        elif self.cursor > COUNT:
            raise Misfit
        elif key.lower() in "abcde":
            self.respond(self.cursor, key)
        else:
            self.walk(self.cursor, {"j": "r", "k": "w", "l": "R"}.get(key, "b"))

    def rest(self) -> None:
        open_numbers = [number for number in range(1, COUNT + 1) if number not in self.marks]
        if not open_numbers:
            raise Misfit
        self.set(open_numbers, "r")
        self.cursor = COUNT + 1

    def respond(self, number: int, letter: str) -> None:
        if letter.lower() not in "abcd":
            raise Misfit
        verdict = "r" if KEY[number % 4] == letter.lower() else "w"
        self.walk(number, verdict.upper() if letter.isupper() else verdict)

    def walk(self, number: int, mark: str) -> None:
        is_new = number not in self.marks
        self.set([number], mark)
        self.cursor = number + 1
        while is_new and self.cursor in self.marks:
            self.cursor += 1

    def set(self, numbers: list[int], mark: str) -> None:
        self.before.append((dict(self.marks), self.cursor))
        self.marks |= dict.fromkeys(numbers, mark)
        self.typed, self.is_line = "", False

    def undo(self) -> None:
        if not self.before:
            raise Misfit
        self.marks, self.cursor = self.before.pop()
        self.is_line = False


def script(draw: Random, model: Model) -> str:
    """Keys at random; `?` only behind a number, as elsewhere it opens the help."""
    keys = ""
    for _ in range(draw.randint(3, 24)):
        key = draw.choice(KEYS)
        if key == "?" and not model.typed:
            key = "l"
        model.press(key)
        keys += key
    return keys


@pytest.mark.slow
async def test_the_log_always_says_what_the_model_says_and_nothing_after_undoing_all(tmp_path):
    one = opened(tmp_path, COUNT, has_key=True, system=Unhurried())
    draw = Random(4)
    async with paper(one).run_test(size=(80, 24)) as pilot:
        for _ in range(SCRIPTS):
            model = Model()
            keys = script(draw, model)
            await burst(pilot.app, "[" + keys)
            assert told(one) == model.marks, keys
            await burst(pilot.app, "u" * (len(model.before) + bool(model.typed)))
            assert told(one) == {}, keys
    assert told(Library.open(tmp_path, FakeClock(), read_only=True)) == {}
