"""Six months by the commands: first study, two rounds, lost days, sweeps, mock papers.

Common practice, no source: of 525 questions a subject 250 to 300 are marked at first, 150 to 200
missed again in revision; the hard set shrinks towards the exam.
"""

from datetime import date, timedelta
from math import sqrt
from random import Random

import pytest

from tests.tui.commands.six_months import EXAM, ROUNDS_BEGIN, SUBJECTS, Life

ILL = {date(2027, 4, 5) + timedelta(days=n) for n in range(8)}
HARD = ("hard", "harder", "hardest")
TIERS = ("untried", "clear", *HARD)
WEDNESDAY, REST = 2, 6


def _is_odd_week(day: date) -> bool:
    return bool(day.isocalendar().week % 2)


def _check_day(life: Life, after: dict) -> None:
    """What today and, every second week, triage and report say agrees with the candidate's book."""
    assert all(line["done"] == line["questions"] for line in after["lines"] if not line["offer"])
    if life.day.weekday() != WEDNESDAY or _is_odd_week(life.day):
        return
    counts, report = life.ask("triage")["counts"], life.ask("report")
    ought = {tier: life.candidate.tiers()[tier] for tier in TIERS}

    assert {tier: counts[tier] for tier in TIERS} == ought
    for state in ("settled", "waiting"):
        assert sum(entry["ready"][state] for entry in report["subjects"]) == counts[state]
    assert report["responses"] == life.candidate.responses
    ready = [entry["ready"] for entry in report["subjects"]]
    assert sum(entry["hard"] for entry in ready) == sum(ought[tier] for tier in HARD)
    for forecast in (report["forecast"], report["if_today"]):
        assert forecast["low"] < forecast["mark"] < forecast["high"] <= forecast["best"]
    if all(entry["expected"] is not None for entry in ready):
        assert sum(entry["expected"] for entry in ready) == pytest.approx(
            report["forecast"]["mark"]
        )


def _check_plan(life: Life) -> None:
    """The plan keeps to the days there are, and says by how much it doesn't fit if it doesn't."""
    plan, today = life.ask("plan"), life.ask("today")

    assert plan["feasible"] == (plan["shortfall_minutes"] == 0) == today["feasible"]
    assert all(date.fromisoformat(day["date"]) < EXAM for day in plan["days"])
    for day in plan["days"]:
        assert not day["parts"] or date.fromisoformat(day["date"]).weekday() != REST
    visits = [
        day for day in plan["days"] if day["date"] == str(life.day) and day["kind"] == "block"
    ]
    planned = sum(part["questions"] for day in visits for part in day["parts"])
    lines = [line for line in today["lines"] if line["kind"] == "block"]
    assert sum(line["questions"] for line in lines) == planned


def _chance(whole: int) -> float:
    """Two standard errors of a share of a third: so far a made bank this small may be off."""
    return 2 * sqrt(1 / 3 * 2 / 3 / whole)


def _hard(life: Life) -> int:
    tiers = life.candidate.tiers()
    return sum(tiers[tier] for tier in HARD)


@pytest.mark.slow
def test_six_months_from_the_first_chapter_to_the_exam(tmp_path, capsys):
    life = Life(tmp_path / "store", capsys, seed=7)
    life.set_up(tmp_path)
    life.first_study()
    whole = len(life.candidate.questions)
    marked_at_first = _hard(life)
    assert 250 / 525 <= marked_at_first / whole <= 300 / 525

    lost, papers = Random(3), []
    life.day = ROUNDS_BEGIN
    while life.day < EXAM:
        if life.day.weekday() == 0 and _is_odd_week(life.day):
            _check_plan(life)
        if life.day not in ILL and lost.random() > 0.07 and life.day.weekday() != REST:
            _check_day(life, life.work())
        if life.day.day == 28:
            papers.append(life.paper())
        life.day += timedelta(days=1)

    life.day = EXAM - timedelta(days=1)
    _settle(life, papers, marked_at_first)


def _settle(life: Life, papers: list[dict], marked_at_first: int) -> None:
    """How it stands on the eve of the exam."""
    whole, book = len(life.candidate.questions), life.candidate.book
    tiers = life.candidate.tiers()
    again = sum(sum(not right for _, right in tries) > 1 for tries in book.values())
    report = life.ask("report")

    assert 150 / 525 - _chance(whole) <= again / whole <= 200 / 525 + _chance(whole)
    assert _hard(life) < 0.8 * marked_at_first
    assert tiers["harder"] + tiers["hardest"] < again < marked_at_first
    assert all(len(tries) > 1 for tries in book.values())
    assert all(entry["done"] == entry["planned"] == entry["due"] for entry in report["rounds"])
    assert [entry["marks"] for entry in report["papers"]] == [paper["marks"] for paper in papers]
    assert papers[-1]["marks"] > papers[0]["marks"]
    assert report["forecast"]["mark"] > report["weeks"][6]["mark"]
    assert len(report["subjects"]) == len(SUBJECTS)
