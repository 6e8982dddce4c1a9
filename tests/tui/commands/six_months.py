"""A candidate with a pencil who lives six months by the commands alone, and keeps a book of it.

How often they miss is common practice, no source: of 525 questions of a subject 250 to 300 are
marked at first, and 150 to 200 are missed again in revision.
"""

import json
from collections import Counter, defaultdict
from datetime import date, timedelta
from pathlib import Path
from random import Random

import pytest

from domain.tiers import Judged, Tier, TierRules, fold
from domain.verdicts import Confidence, Verdict
from tui.cli import main

SUBJECTS = ("Clouds", "Wind", "Tides", "Instruments", "Maps", "Morse code")
CHAPTERS, NUMBERS = 3, 16
FIRST_DAY, ROUNDS_BEGIN, EXAM = date(2027, 1, 4), date(2027, 3, 8), date(2027, 7, 5)
SPARE_DAYS = (1, 5)
"""On these weekdays, Tuesday and Saturday, a spare day goes into a sweep of all subjects."""
Question = tuple[str, str, int]

MISSED_AT_FIRST = 0.52
MISSED_AGAIN = (0.58, 0.45, 0.3)
"""The chance of missing what was missed the last time, on the second, third and later tries."""
MISSED_NEWLY = 0.05


def key_of(number: int) -> str:
    """The key that the printed book gives."""
    return "abcd"[number % 4]


class Candidate:
    """The pencil and the book: each question's verdicts by day."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(seed)
        self.book: dict[Question, list[tuple[date, bool]]] = defaultdict(list)
        self.questions: list[Question] = [
            (subject, f"Chapter {chapter}", number)
            for subject in SUBJECTS
            for chapter in range(1, CHAPTERS + 1)
            for number in range(1, NUMBERS + 1)
        ]
        self.responses = 0

    def take(self, question: Question, day: date) -> bool:
        """Try a question and write down whether it was right."""
        before = self.book[question]
        if not before:
            missing = MISSED_AT_FIRST
        elif before[-1][1]:
            missing = MISSED_NEWLY
        else:
            missing = MISSED_AGAIN[min(len(before), len(MISSED_AGAIN)) - 1]
        right = self.rng.random() >= missing
        before.append((day, right))
        self.responses += 1
        return right

    def tiers(self) -> Counter[str]:
        """How many questions ought to stand in each tier, by the book."""
        return Counter(self._tier(question).word for question in self.questions)

    def _tier(self, question: Question) -> Tier:
        judged = [
            Judged(day, Verdict.RIGHT if right else Verdict.WRONG, Confidence.SURE)
            for day, right in self.book[question]
        ]
        return fold(judged, TierRules()).tier


class Life:
    """The store, the commands, and the candidate who uses them day by day."""

    def __init__(self, store: Path, capsys: pytest.CaptureFixture[str], seed: int) -> None:
        self.store, self.capsys = store, capsys
        self.day = FIRST_DAY
        self.candidate = Candidate(seed)
        self.papers = 0

    def run(self, *words: str) -> str:
        """A command on this day; it must succeed without a word on standard error."""
        status = main(["--store", str(self.store), "--today", str(self.day), *words])
        out, err = self.capsys.readouterr()
        assert (status, err) == (0, ""), words
        return out

    def ask(self, *words: str) -> dict:
        """A command's JSON."""
        return json.loads(self.run(*words, "--json"))

    # before the rounds

    def set_up(self, folder: Path) -> None:
        """The printed bank's shape, its key, the plan."""
        rows = [f"{s},Chapter {c},{NUMBERS}" for s in SUBJECTS for c in range(1, CHAPTERS + 1)]
        shape = folder / "shape.csv"
        shape.write_text("\n".join(["subject,chapter,questions", *rows]), encoding="utf-8")
        self.run("outline", str(shape), "--bank", "Book")
        key = " ".join(f"{number} {key_of(number)}" for number in range(1, NUMBERS + 1))
        for subject in SUBJECTS:
            for chapter in range(1, CHAPTERS + 1):
                self.run("key", "--subject", subject, "--chapter", f"Chapter {chapter}", key)
        self.run(
            "plan", "--exam", str(EXAM), "--start", str(ROUNDS_BEGIN),
            "--minutes", "mon-fri 3+2, sat 15, sun 0",
        )  # fmt: skip

    def first_study(self) -> None:
        """Every chapter once, a chapter every third day."""
        for subject in SUBJECTS:
            for chapter in range(1, CHAPTERS + 1):
                place = (subject, f"Chapter {chapter}")
                self.mark(place, range(1, NUMBERS + 1), "study")
                self.day += timedelta(days=3)

    # a day

    def mark(self, place: tuple[str, str], numbers, purpose: str) -> None:
        """Take these questions of a chapter and mark them."""
        verdicts = {n: self.candidate.take((*place, n), self.day) for n in numbers}
        given = {
            f"--{word}": ",".join(str(n) for n, right in verdicts.items() if right is is_right)
            for word, is_right in (("right", True), ("wrong", False))
        }
        words = [part for option, text in given.items() if text for part in (option, text)]
        self.run(
            "mark", "--subject", place[0], "--chapter", place[1], *words, "--purpose", purpose
        )  # fmt: skip

    def work(self) -> dict:
        """What the plan says for today; on spare days a sweep. Gives today's plan after it."""
        today = self.ask("today")
        for line in today["lines"]:
            purpose = {"block": "revision", "sweep": "sweep"}.get(line["kind"])
            places: dict[tuple[str, str], list[int]] = defaultdict(list)
            for item in line["items"]:
                if not item["done"]:
                    places[item["subject"], item["chapter"]].append(item["number"])
            for place, numbers in places.items():
                if purpose:
                    self.mark(place, numbers, purpose)
        if today["role"] == "slack" and self.day.weekday() in SPARE_DAYS:
            self.sweep(15)
        return self.ask("today")

    def sweep(self, minutes: float, *words: str) -> None:
        """Take what the chooser picks."""
        chosen = self.ask("sweep", "--minutes", str(max(1.0, minutes)), *words)
        assert chosen["seconds"] <= max(60.0, minutes * 60)
        picks: dict[tuple[str, str], list[int]] = defaultdict(list)
        for pick in chosen["questions"]:
            picks[pick["subject"], pick["chapter"]].append(pick["number"])
        for place, numbers in picks.items():
            self.mark(place, sorted(numbers), "sweep")

    def paper(self) -> dict:
        """A mock paper of 40 questions from the book; its result."""
        if not self.papers:
            self.run("mock", "--questions", "40", "--minutes", "40")
        drawn = self.ask("mock", "begin", "--seed", str(self.papers))["questions"]
        letters = ""
        for question in drawn:
            right = self.candidate.take(
                (question["subject"], question["chapter"], question["number"]), self.day
            )
            letters += key_of(question["number"] + (0 if right else 1))
        self.run("mock", "answer", "--responses", letters)
        self.papers += 1
        return self.ask("mock", "hand-in")
