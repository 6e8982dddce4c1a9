"""A store with a printed bank and a plan, and a clock that can be turned."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from pathlib import Path

from banks.library import Given, Library
from banks.planning.intents import accept
from domain.plan.inputs import PlanInputs
from domain.questions import Bank
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.builders import bank, bares
from tests.domain.plan.scenes import MONDAY, usual

TITLES = ("Clouds", "Wind", "Tides", "Instruments", "Maps", "Morse code")


class Clock:
    """A clock that stands at noon of a day until it is turned to another."""

    def __init__(self, day: date = MONDAY) -> None:
        self.day = day

    def __call__(self) -> datetime:
        return datetime.combine(self.day, time(12), UTC)


def printed_bank(subjects: int = 4, chapters: int = 4, questions: int = 80) -> Bank:
    """A bank of bare questions; the first is book/clouds.chapter-1/1."""
    titles = [f"Chapter {number}" for number in range(1, chapters + 1)]
    shape = {title: dict.fromkeys(titles, bares(questions)) for title in TITLES[:subjects]}
    return bank("Book", shape)


def planned_library(
    folder: Path, clock: Clock, inputs: PlanInputs | None = None, planned: Bank | None = None
) -> Library:
    """An open library with the bank and an accepted plan."""
    library = Library.open(folder, clock)
    library.save_bank(planned or printed_bank())
    accept(library, inputs or usual())
    return library


def answer(
    library: Library,
    questions: Iterable[str],
    purpose: Purpose = Purpose.REVISION,
    verdict: Verdict = Verdict.RIGHT,
    seconds: float = 0.0,
) -> None:
    """Answer these questions now."""
    given = [Given(question=question, verdict=verdict, seconds=seconds) for question in questions]
    library.record(given, purpose)
