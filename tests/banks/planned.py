"""A store with a printed bank and a plan, and a clock that can be turned."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from pathlib import Path

from banks.library import Given, Library
from banks.planning.intents import accept
from banks.views.today import today_view
from domain.plan.inputs import ONE_DAY, PlanInputs
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


def do_day(library: Library, share: float = 1.0) -> None:
    """Answer this share of each of the day's lines."""
    for line in today_view(library).planned:
        answer(library, line.questions[: round(line.count * share)], line.purpose)


def live_up_to_sweep(
    library: Library,
    clock: Clock,
    missed: Iterable[str] = (),
    purpose: Purpose = Purpose.PAPER,
    verdict: Verdict = Verdict.WRONG,
) -> str:
    """Do each day as planned up to that of the first sweep; on two of them also `missed`."""
    sweep = today_view(library).next_sweep
    while clock.day < sweep.day:
        do_day(library)
        if sweep.day - clock.day in (ONE_DAY, 5 * ONE_DAY):
            answer(library, missed, purpose, verdict)
        clock.day += ONE_DAY
    return sweep.subject_title


def miss_twice(library: Library, clock: Clock, numbers: Iterable[int]) -> tuple[str, list[str]]:
    """Make these questions of the first sweep repeatedly missed; then it is its day.

    Gives the title of the subject that is swept, and the questions' ids.
    """
    swept = today_view(library).next_sweep.subject_title.lower()
    names = [f"book/{swept}.chapter-1/{number}" for number in numbers]
    return live_up_to_sweep(library, clock, names), names
