"""A store with a printed bank and a plan, and a clock that can be turned."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from pathlib import Path

from banks.library import Given, Library
from banks.planning import accept
from domain.plan.inputs import PlanInputs
from domain.questions import Bank, Chapter, Question, Subject, question_id
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.domain.plan.scenes import MONDAY, usual

TITLES = ("Clouds", "Wind", "Tides", "Instruments", "Maps", "Morse code")


class Clock:
    """A clock that stands at noon of a day until it is turned to another."""

    def __init__(self, day: date = MONDAY) -> None:
        self.day = day

    def __call__(self) -> datetime:
        return datetime.combine(self.day, time(12), UTC)


def printed_bank(subjects: int = 4, chapters: int = 4, questions: int = 80) -> Bank:
    """A bank of bare questions."""
    made, all_questions = [], {}
    for title in TITLES[:subjects]:
        name = title.lower().replace(" ", "-")
        own = tuple(Chapter(f"{name}-{n}", f"Chapter {n}") for n in range(1, chapters + 1))
        made.append(Subject(name, title, own))
        for chapter in own:
            for number in range(1, questions + 1):
                one = question_id("book", chapter.id, number)
                all_questions[one] = Question(id=one, chapter=chapter.id, number=number)
    return Bank(id="book", title="Book", subjects=tuple(made), questions=all_questions)


def planned_library(
    folder: Path, clock: Clock, inputs: PlanInputs | None = None, bank: Bank | None = None
) -> Library:
    """An open library with the bank and an accepted plan."""
    library = Library.open(folder, clock)
    library.save_bank(bank or printed_bank())
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
    given = [Given(question=one, verdict=verdict, seconds=seconds) for one in questions]
    library.record(given, purpose)
