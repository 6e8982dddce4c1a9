"""Tallies brought from one morning to another are what plain counting gives."""

from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest

from banks.library import Library
from banks.planning.intents import accept
from banks.planning.tallies import Tallier, tallies_of
from banks.planning.workload import PlanWorkload
from banks.views.listing import by_subject
from banks.views.plan import plan_report, report_of
from banks.views.triage import Filter, rows, subject_counts
from domain.history import History
from domain.plan.inputs import PlanInputs
from domain.responses import Response
from domain.tiers import Tier, is_waiting
from tests.banks.test_kept_history import BOOK, NAMES, Candidate
from tests.builders import FakeClock, library


def is_active(made: Library, name: str) -> bool:
    return not made.banks["book"].questions[name].retired


def standings(made: Library, morning: date) -> list[tuple[str, object]]:
    history = made.history
    return [
        (made.subject_id(name), history.standing_before(name, morning))
        for name in NAMES
        if is_active(made, name)
    ]


def was_waiting(history: History, name: str, morning: date) -> bool:
    standing = history.standing_before(name, morning)
    return is_waiting(standing, morning, history.rules.waiting_days)


def responses(made: Library, morning: date) -> list[tuple[str, Response]]:
    history = made.history
    return [
        (made.subject_id(name), event)
        for name in NAMES
        if is_active(made, name)
        for event in history.events(name)
        if isinstance(event, Response) and history.day(event.at) < morning
    ]


def check(made: Library, morning: date) -> None:
    history, tallies = made.history, tallies_of(made, morning)
    for subject in ("book/clouds", "book/tides"):
        tally = tallies.get(subject)
        stood = [standing for name, standing in standings(made, morning) if name == subject]
        tried = [standing for standing in stood if standing.tier is not Tier.UNTRIED]
        if tally is None:
            assert not tried
            continue
        assert tally.tiers == Counter(standing.tier for standing in tried)
        assert tally.settled == sum(standing.settled for standing in stood)
        assert tally.tried_twice == sum(standing.days >= 2 for standing in tried)
        given = [event for name, event in responses(made, morning) if name == subject]
        assert sum(tally.answered.values()) == sum(tally.seconds.values()) == len(given)
        assert tally.answered == Counter(history.day(event.at).toordinal() for event in given)
        names = [name for name in NAMES if made.subject_id(name) == subject]
        for back in (0, 1, 7, 30, 61, 100):
            then = min(morning, made.today() + timedelta(days=1)) - timedelta(days=back)
            waiting = sum(
                was_waiting(history, name, then) for name in names if is_active(made, name)
            )
            assert tally.waiting_then(then) == waiting


@pytest.mark.parametrize("seed", range(3))
def test_whatever_is_recorded_is_counted_as_one_by_one(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    candidate, clock, anew = Candidate(seed), FakeClock(), list[date]()
    count = Tallier.anew
    monkeypatch.setattr(
        Tallier, "anew", lambda self, morning: anew.append(morning) or count(self, morning)
    )
    made = library(tmp_path, BOOK, clock=clock)
    for _ in range(60):
        clock.go_on(days=candidate._dice.choice((0, 0, 1, 1, 45)))
        candidate.act(made)
        for morning in (made.today(), date.max):
            check(made, morning)
            assert tallies_of(made, morning) == count(Tallier(made, made.banks), morning)
        assert subject_counts(made, ["book"]) == by_subject(rows(made, Filter()))
    assert len(anew) <= 40


@pytest.mark.parametrize("seed", range(2))
def test_the_report_of_a_morning_is_that_of_any_hour_of_its_day(tmp_path: Path, seed: int) -> None:
    candidate, clock = Candidate(seed), FakeClock()
    made = library(tmp_path, BOOK, clock=clock)
    recalled = 0
    for _ in range(25):
        if not made.settings.plan.is_set_up:  # at first, and undone
            accept(made, PlanInputs(exam=date(2027, 9, 1)))
        candidate.act(made)
        if not made.settings.plan.is_set_up:
            continue
        before = made.mornings.get("plan-report")
        assert plan_report(made) == report_of(made, PlanWorkload(made))
        recalled += before is not None and made.mornings["plan-report"] is before
    assert recalled >= 5
