"""A library with a keyed bank and some months of history whose truth is known."""

import random
from datetime import datetime, timedelta
from pathlib import Path

from banks.contents import Location
from banks.library import Given, Library
from domain.questions import Kind, Question
from domain.responses import Purpose, Response
from domain.verdicts import Confidence
from tests.builders import FakeClock, bank, full, keyed, library

STRENGTH = {"clouds": 0.85, "wind": 0.6, "maps": 0.35}
"""How likely a question of the subject is right, whatever its history."""


def book(questions: int = 20):
    """Three subjects of two chapters; the last chapter has its text, the others only a key."""
    titles = ("Clouds", "Wind", "Maps")
    subjects = {
        title: {
            "Chapter 1": [keyed(n, "abcd"[n % 4]) for n in range(1, questions + 1)],
            "Chapter 2": [keyed(n, "abcd"[n % 4]) for n in range(1, questions + 1)],
        }
        for title in titles
    }
    subjects["Maps"]["Signs"] = [
        full(1, "Which sign is a church?", ["cross", "flag", "tree"], "a", shuffle=False),
        full(2, "Which sign is a golf course?", ["cross", "flag", "tree"], "b", shuffle=False),
        full(3, "Which are wet?", ["marsh", "dune", "bog"], "ac", kind=Kind.MULTIPLE,
             shuffle=False),
        full(4, "Metres in a kilometre?", key=("1000",), kind=Kind.NUMERIC),
    ]  # fmt: skip
    return bank("Book", subjects)


def studied(folder: Path, days: int = 60, share: float = 0.12, seed: int = 4) -> Library:
    """Each question is taken on some of the days; the clock stands at the day after the last.

    No miss is like another, so that nothing is mixed up.
    """
    clock = FakeClock()
    opened = library(folder, book(), clock=clock)
    rng, start = random.Random(seed), clock.at
    records = []
    for day in range(days):
        for location, question in opened.active_questions():
            if location.chapter.title != "Signs" and rng.random() < share:
                at = start + timedelta(days=day, seconds=len(records))
                records.append(_response(rng, len(records), at, location, question))
    opened.store.append(records)
    for record in records:
        opened.history.add(record)
    clock.go_on(days=days)
    return opened


def _response(
    rng: random.Random, number: int, at: datetime, location: Location, question: Question
) -> Response:
    right = rng.random() < STRENGTH[location.subject.id]
    confidence = rng.choices(list(Confidence), [0.8, 0.15, 0.05])[0]
    return Response(
        id=f"made-{number:05}", at=at, question=question.id,
        chosen=question.answer_key if right else (f"miss {number}",), confidence=confidence,
        seconds=40.0 if location.subject.id == "clouds" else 60.0,
        purpose=rng.choice([Purpose.REVISION, Purpose.SWEEP]),
    )  # fmt: skip


def choose(opened: Library, question: str, *letters: str, purpose: Purpose = Purpose.FREE) -> None:
    """Answer a question with options by letter, one response a letter."""
    for letter in letters:
        opened.record([Given(question=question, chosen=(letter,))], purpose)
