"""A history that one thread changes and others read meanwhile."""

import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Event

import pytest

from domain.history import History
from domain.questions import Question
from domain.responses import (
    AnyRecord,
    Dispute,
    Purpose,
    Response,
    SittingClosed,
    SittingOpened,
)
from domain.tiers import TierRules
from domain.verdicts import Verdict

COUNT = 400
QUESTIONS = {f"q{n}": Question(id=f"q{n}", chapter="c", number=n) for n in range(COUNT)}


@pytest.fixture(autouse=True)
def hurried() -> Iterator[None]:
    """Threads take turns as often as they can."""
    usual = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    yield
    sys.setswitchinterval(usual)


def records() -> Iterator[AnyRecord]:
    for n in range(COUNT):
        at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=n)
        verdict = list(Verdict)[n % 3]
        yield Response(id=f"r{n}", at=at, question=f"q{n}", verdict=verdict)
        yield Response(id=f"s{n}", at=at, question=f"q{n // 2}", verdict=verdict)
        yield Dispute(id=f"d{n}", at=at, question=f"q{n}", key=("a",))
        yield SittingOpened(id=f"o{n}", at=at, title="", purpose=Purpose.FREE, questions=(f"q{n}",))
        yield SittingClosed(id=f"c{n}", at=at, sitting=f"o{n}")


def go_through(history: History) -> None:
    for question in history.questions():
        history.standing(question)
        history.note(question)
        assert all(response.question == question for response in history.responses(question))
    for question in history.disputed():
        history.dispute(question)
    assert all(sitting.left for sitting in history.sittings.values() if not sitting.given)


def test_readers_in_other_threads_see_no_change_midway_and_leave_no_stale_standing() -> None:
    history = History([], QUESTIONS.get, TierRules())
    done = Event()

    def read() -> int:
        times = 0
        while not done.is_set():
            go_through(history)
            times += 1
        return times

    with ThreadPoolExecutor(3) as pool:
        readers = [pool.submit(read) for _ in range(3)]
        try:
            for n, record in enumerate(records()):
                history.add(record)
                if n % 7 == 3:
                    history.remove([record])
                    history.add(record)
        finally:
            done.set()
        assert sum(reader.result() for reader in readers) > 0

    fresh = History(records(), QUESTIONS.get, TierRules())
    assert set(history.questions()) == set(fresh.questions())
    for question in QUESTIONS:
        assert history.standing(question) == fresh.standing(question)
        assert history.events(question) == fresh.events(question)


def test_a_standing_folded_from_what_has_changed_meanwhile_is_not_kept() -> None:
    history = History([], QUESTIONS.get, TierRules())
    first, second = (record for record in records() if record.id in ("r1", "s3"))
    history.add(first)
    usual = history.tier_events

    def slowly(question_id: str):
        events = list(usual(question_id))
        history.add(second)
        return iter(events)

    history.tier_events = slowly  # the other thread's turn comes while this one folds
    history.standing("q1")
    history.tier_events = usual

    fresh = History([first, second], QUESTIONS.get, TierRules())
    assert history.standing("q1") == fresh.standing("q1") != fresh.standing("q2")
