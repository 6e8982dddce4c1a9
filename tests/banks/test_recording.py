"""Responses are judged before they are written, and nothing typed makes the log unreadable."""

from math import inf, nan

import pytest

from banks.library import Given, Library
from banks.views.today import today_view
from domain.questions import Kind
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.builders import FakeClock, bank, bares, full, library

NAME = "book/clouds.high/1"


@pytest.fixture
def folder(tmp_path):
    asked = [full(1, "How high?", kind=Kind.NUMERIC, key=("5",)), full(2, "Which?", ("x", "y"))]
    library(tmp_path, bank("Book", {"Clouds": {"High": asked}})).close()
    return tmp_path


@pytest.mark.parametrize("typed", ["1e1000000", "1e999999999999999999", "\ud800", "9" * 9_000])
def test_whatever_is_typed_the_store_opens_again_and_judges_it(folder, typed):
    opened = Library.open(folder, FakeClock())
    (outcome,) = opened.record([Given(question=NAME, chosen=(typed,))], Purpose.REVISION)
    opened.close()

    again = Library.open(folder, FakeClock(), read_only=True)

    assert outcome.verdict is Verdict.WRONG
    assert not again.store.notices
    assert [again.history.verdict(response) for response in again.history.responses(NAME)] == [
        Verdict.WRONG
    ]
    assert today_view(again)


@pytest.mark.parametrize("seconds", [nan, inf, -1.0])
def test_what_is_no_duration_is_recorded_as_not_measured(folder, seconds):
    opened = Library.open(folder, FakeClock())
    given = Given(question=NAME, chosen=("5",), seconds=seconds)
    opened.record([given], Purpose.REVISION)
    opened.close()

    again = Library.open(folder, FakeClock(), read_only=True)

    assert [response.seconds for response in again.history.responses(NAME)] == [0.0]


def test_a_response_that_no_verdict_can_be_given_on_is_not_written(folder, monkeypatch):
    opened = Library.open(folder, FakeClock())
    monkeypatch.setattr(opened.history, "verdict", lambda _: 1 / 0)

    with pytest.raises(ZeroDivisionError):
        opened.record([Given(question=NAME, chosen=("5",))], Purpose.REVISION)

    assert opened.store.records() == []
    assert opened.newest is None


def test_a_question_may_take_six_times_the_usual_where_that_is_more_than_the_cap(tmp_path):
    library(tmp_path, bank("Book", {"Clouds": {"High": bares(30)}})).close()
    opened = Library.open(tmp_path, FakeClock())
    names = list(opened.banks["book"].questions)
    sitting = opened.open_sitting("High", Purpose.REVISION, names)
    for name in names:
        assert opened.time_cap() == opened.settings.idle_cap == 300
        given = Given(question=name, verdict=Verdict.RIGHT, seconds=90)
        opened.record([given], Purpose.REVISION, sitting=sitting)

    assert opened.time_cap() == 540
    opened.close()
