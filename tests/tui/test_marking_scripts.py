"""Random scripts of keys on the marking screen against a simple model.

The keys of a script are typed in one burst, as over a slow line; then the log must say what the
model says, and after undoing all of it the log must say nothing. `RESIEVE_EXPLORE=1` tries a
thousand.
"""

import os
from dataclasses import dataclass, replace
from random import Random

import pytest
from textual.pilot import Pilot

from banks.library import Library
from domain.responses import Reason
from tests.builders import FakeClock
from tests.tui.marking_stage import KEY, Unhurried, burst, opened, paper

COUNT = 23
SEEDS, SCRIPTS = ((1, 2, 3, 4), 250) if os.environ.get("RESIEVE_EXPLORE") else ((1, 2), 30)
KEYS = [*("jjkl ..abcDdeB112345670-,?\n\nuKmMiIrs<>→↑⌫" * 3), "pr", "ps", "pf", "pp", "pd"]
PURPOSES = {
    "r": "revision", "s": "sweep", "f": "first study", "p": "pass", "d": "free drill",
}  # fmt: skip
SIGNS = {
    "j": "right", "l": "right unsure", "?": "right unsure", "k": "wrong", ".": "blank",
    "K": "wrong was-sure", "m": "right unsure mixed up", "M": "wrong mixed up",
    "i": "blank didn't know", "I": "wrong didn't know", "r": "wrong misread", "s": "wrong slip",
}  # fmt: skip
REASONS = tuple(f" {reason}" for reason in Reason)


@dataclass(frozen=True)
class Mark:
    """What the log says of a question."""

    sign: str
    letter: str = ""
    purpose: str = "revision"
    days_back: int = 0


class Misfit(Exception):
    """A key that the screen refuses."""


class Model:
    """What the log should say, kept as plainly as can be: numbers, marks, snapshots."""

    def __init__(self) -> None:
        self.marks: dict[int, Mark] = {}
        self.before: list[tuple[dict[int, Mark], int, str, int]] = []
        self.typed, self.cursor = "", 1
        self.is_refused = self.is_asking = False
        self.purpose, self.days_back = "revision", 0

    def press(self, key: str) -> None:
        is_asking, self.is_asking = self.is_asking, key[0] in "p<>" and self.is_asking
        try:
            self.do(key, is_asking)
        except Misfit:
            return

    def do(self, key: str, is_asking: bool) -> None:
        if key.isdigit():
            self.typed, self.is_refused = self.typed + key, False
        elif key == "-":
            self.typed += "-"
        elif key in "⌫u" and (self.typed or self.is_refused):
            self.typed, self.is_refused = self.typed[:-1] if key == "⌫" else "", False
        elif key in "⌫u":
            self.undo()
        elif key in "→↑":
            self.go(1 if key == "→" else -10)
        elif key[0] == "p":
            self.move(PURPOSES[key[1]], self.days_back)
        elif key in "<>":
            self.move(self.purpose, self.days_back + (1 if key == "<" else -1))
        elif self.typed:
            self.end_number(key)
        else:
            self.mark_here(key, is_asking)

    def named(self) -> list[int]:
        first, dash, last = self.typed.partition("-")
        if not first.isdigit() or (dash and not last.isdigit()):
            self.refuse()
        numbers = range(int(first), int(last or first) + 1)
        if not numbers or numbers[-1] > COUNT or numbers[0] < 1:
            self.refuse()
        return list(numbers)

    def refuse(self) -> None:
        self.typed, self.is_refused = "", True
        raise Misfit

    def go(self, step: int) -> None:
        there = self.cursor + step
        begun = self.typed.partition("-")[0]
        if begun.isdigit() and 1 <= int(begun) <= COUNT:
            there = int(begun)
        self.typed, self.is_refused = "", False
        self.cursor = max(1, min(there, COUNT))

    def end_number(self, key: str) -> None:
        if key in " ," and self.typed.endswith("-"):
            return
        numbers = self.named()
        if key.lower() in "abcde":
            if len(numbers) > 1 or key.lower() == "e":
                self.refuse()
            self.respond(numbers[0], key)
        else:
            self.set(numbers, SIGNS.get(key, "wrong"))

    def mark_here(self, key: str, is_asking: bool) -> None:
        if key in " ,":
            return
        if key == "\n":
            self.rest(is_asking)
        elif key.lower() in "abcde":
            if self.is_refused or self.cursor > COUNT or key.lower() == "e":
                raise Misfit
            self.respond(self.cursor, key)
        elif self.cursor > COUNT:
            raise Misfit
        else:
            self.walk(self.cursor, SIGNS[key])

    def rest(self, is_asking: bool) -> None:
        open_numbers = [number for number in range(1, COUNT + 1) if number not in self.marks]
        if not open_numbers:
            raise Misfit
        if not self.marks and not is_asking:
            self.is_asking = True
            return
        self.set(open_numbers, "right")
        self.cursor = COUNT + 1

    def respond(self, number: int, letter: str) -> None:
        is_right = KEY[number % 4] == letter.lower()
        sign = ("right" if is_right else "wrong") + (" unsure" if letter.isupper() else "")
        self.walk(number, sign, letter.lower())

    def walk(self, number: int, sign: str, letter: str = "") -> None:
        is_new = number not in self.marks
        self.set([number], sign, letter)
        self.cursor = number + 1
        while is_new and self.cursor in self.marks:
            self.cursor += 1

    def set(self, numbers: list[int], sign: str, letter: str = "") -> None:
        self.snapshot()
        for number in numbers:
            self.marks[number] = self.merged(self.marks.get(number), sign, letter)
        self.typed, self.is_refused = "", False

    def merged(self, old: Mark | None, sign: str, letter: str) -> Mark:
        """A reason said of a question that has its letter keeps the letter."""
        reason = next((reason for reason in REASONS if sign.endswith(reason)), "")
        if reason and old and old.letter:
            sign = next((old.sign.removesuffix(r) for r in REASONS if old.sign.endswith(r)), "")
            sign, letter = (sign or old.sign) + reason, old.letter
        return Mark(sign, letter, self.purpose, self.days_back)

    def move(self, purpose: str, days_back: int) -> None:
        if not 0 <= days_back <= 60:
            raise Misfit
        if (purpose, days_back) == (self.purpose, self.days_back):
            return
        if self.marks:
            self.snapshot()
        self.purpose, self.days_back = purpose, days_back
        self.marks = {
            number: replace(mark, purpose=purpose, days_back=days_back)
            for number, mark in self.marks.items()
        }

    def snapshot(self) -> None:
        self.before.append((dict(self.marks), self.cursor, self.purpose, self.days_back))

    def undo(self) -> None:
        if not self.before:
            raise Misfit
        now = self.marks
        self.marks, self.cursor, purpose, days_back = self.before.pop()
        if now.keys() == self.marks.keys() and all(
            replace(mark, purpose="", days_back=0)
            == replace(self.marks[number], purpose="", days_back=0)
            for number, mark in now.items()
        ):
            self.purpose, self.days_back = purpose, days_back


def logged(library: Library) -> dict[int, Mark]:
    """What is on record, by number."""
    marks = {}
    for location, question in library.active_questions():
        for response in library.history.responses(question.id):
            assert location.chapter.id.endswith("barometers")
            assert question.number not in marks
            words = [
                library.history.verdict(response),
                response.confidence if response.confidence != "sure" else "",
                library.history.reason(response) or "",
                "was-sure" if response.was_sure else "",
            ]
            marks[question.number] = Mark(
                " ".join(filter(None, words)),
                "".join(response.chosen or ()),
                str(response.purpose),
                (library.today() - library.history.day(response.at)).days,
            )
    return marks


def script(draw: Random, model: Model) -> list[str]:
    """Keys at random; `?` only behind a number, as elsewhere it opens the help."""
    keys = []
    for _ in range(draw.randint(3, 24)):
        key = draw.choice(KEYS)
        if key == "?" and not model.typed:
            key = "l"
        model.press(key)
        keys.append(key)
    return keys


async def in_bursts(pilot: Pilot, keys: list[str]) -> None:
    """All at once up to a dialog, its key once it is there, and so on."""
    waiting = ""
    for key in keys:
        waiting += key[0]
        if len(key) > 1:
            await burst(pilot.app, waiting)
            waiting = ""
            while not pilot.app.screen.is_modal:
                await pilot.pause()
            await pilot.press(key[1])
            while pilot.app.screen.is_modal:
                await pilot.pause()
    await burst(pilot.app, waiting)


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
async def test_the_log_always_says_what_the_model_says_and_nothing_after_undoing_all(
    tmp_path, seed
):
    library = opened(tmp_path, COUNT, has_key=True, system=Unhurried())
    draw = Random(seed)
    async with paper(library).run_test(size=(80, 24)) as pilot:
        for _ in range(SCRIPTS):
            model = Model()
            keys = script(draw, model)
            await in_bursts(pilot, ["⇱", *keys])
            assert logged(library) == model.marks, " ".join(keys)
            await burst(pilot.app, "u" * (len(model.before) + 1))
            while model.before:
                model.undo()
            assert logged(library) == {}, " ".join(keys)
            is_elsewhere = model.purpose != "revision"
            await in_bursts(pilot, [*">" * model.days_back, *["pr"] * is_elsewhere])
    assert logged(Library.open(tmp_path, FakeClock(), read_only=True)) == {}
