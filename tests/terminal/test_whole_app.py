"""The app as it is started, in a real pseudo-terminal: what was answered is there afterwards."""

import os
import random
import sys
from datetime import date
from pathlib import Path

import pytest

from banks.library import Library
from banks.planning.intents import accept
from domain.plan.inputs import PlanInputs
from tests.builders import FakeClock, bank, full, library
from tests.terminal.screen import ROOT, TerminalScreen

TODAY = "2026-03-02"
RUNS = 20 if os.environ.get("RESIEVE_EXPLORE") else 5
"""Runs of the app that are killed."""


def started(store: Path) -> TerminalScreen:
    command = [sys.executable, "-m", "tui", "--store", str(store), "--today", TODAY]
    return TerminalScreen(command, PYTHONPATH=str(ROOT))


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A store with a plan whose first day is today."""
    questions = [full(n, f"Question number {n}?", ("yes", "no")) for n in range(1, 31)]
    book = bank("Book", {"Clouds": {"High": questions[:20]}, "Tides": {"Spring": questions[20:]}})
    opened: Library = library(tmp_path / "store", book, clock=FakeClock())
    accept(opened, PlanInputs(exam=date(2026, 4, 30)))
    opened.close()
    return tmp_path / "store"


pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")


def answers_in(store: Path) -> int:
    opened = Library.open(store, FakeClock(), read_only=True)
    assert opened.store.notices == []
    return sum(
        len(opened.history.responses(question)) for question in opened.banks["book"].questions
    )


def test_three_answers_given_and_left_are_there_after_a_restart(store: Path) -> None:
    first = started(store)
    first.until("Today", "Revise")
    first.type("\r")
    for count in (1, 2, 3):
        first.until(f"{count} of ")
        first.type("a")
        first.until("right", f"of {count}")
        first.type("\r")
    first.until("4 of ")
    first.type("\x1b")
    first.until("Today", "3 of ")
    first.type("q")
    assert first.exit_status() == 0

    second = started(store)
    shown = second.until("Today", "3 of ", "Revise")
    second.type("q")
    assert second.exit_status() == 0
    assert "3 of" in shown
    assert answers_in(store) == 3


@pytest.mark.slow
def test_every_answer_whose_feedback_was_shown_outlives_a_kill(tmp_path: Path) -> None:
    store, dice, known = tmp_path / "store", random.Random(7), 0
    questions = [full(n, f"Question number {n}?", ("yes", "no")) for n in range(1, 106)]
    opened = library(store, bank("Book", {"Clouds": {"High": questions}}), clock=FakeClock())
    accept(opened, PlanInputs(exam=date(2026, 4, 30), minutes=((90,),) * 5 + ((300,), ())))
    opened.close()
    for _ in range(RUNS):
        app, shown = started(store), 0
        app.until("Today", "Revise")
        app.type("\r")
        app.until(f"{known + 1} of 105")  # it goes on where it was killed
        for _ in range(dice.randint(1, 4)):
            app.type("a")
            shown += 1
            app.until(f"right of {known + shown}")
            app.type("\r")
            app.until(f"{known + shown + 1} of 105")
        app.type("a")  # its feedback is not waited for
        app.kill()
        assert known + shown <= answers_in(store) <= known + shown + 1
        known = answers_in(store)
