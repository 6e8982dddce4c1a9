"""Random candidates who live a plan: what their bank is like, their time, and how they answer."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from domain.plan.inputs import PlanInputs, Role
from domain.questions import Bank
from domain.verdicts import Verdict
from tests.builders import bank, bares

MONDAY = date(2027, 1, 4)

WEEKS: tuple[tuple[tuple[tuple[int, ...], ...], tuple[Role, ...]], ...] = (
    (((30, 60),) * 5 + ((300,), ()), (Role.REVISION,) * 5 + (Role.SWEEP, Role.REST)),
    (((30, 75),) * 5 + ((150, 150), ()), (Role.REVISION,) * 5 + (Role.SWEEP, Role.REST)),
    (((90,),) * 6 + ((),), (Role.REVISION,) * 5 + (Role.SWEEP, Role.REST)),
    (((20, 30, 40),) * 7, (Role.REVISION,) * 4 + (Role.SWEEP, Role.REVISION, Role.SWEEP)),
    (((45, 45), (60,)) * 3 + ((120,),), (Role.REVISION,) * 6 + (Role.SWEEP,)),
    (((60,), (), (90,), (30, 30), (45,), (200,), ()), (Role.REVISION,) * 5 + (Role.SWEEP,) * 2),
)
"""Weeks that candidates have: minutes and roles from Monday to Sunday."""


@dataclass(frozen=True)
class LivedCase:
    """A candidate: everything follows from it and its seed."""

    seed: int
    bank: Bank
    inputs: PlanInputs
    pace: float
    miss_share: float
    again_share: float
    first_study: bool
    attendance: float
    finishes_days: float
    takes_passes: float = 1.0
    """The share of days on which a pass is taken up; choosing one costs more than all the rest."""
    takes_papers: bool = False
    takes_final: bool = False

    def rng(self) -> Random:
        """Chance of this life, the same at every call."""
        return Random(self.seed * 7919 + 1)


def candidate(seed: int, *, diligent: bool, takes_offers: bool = False) -> LivedCase:
    """The candidate with this seed; a diligent one does each visit on its day. One who takes
    offers has passes and papers in the plan, takes each, and final revision where it is asked:
    who misses days has fewer of them then, so that more plans turn short.
    """
    rng = Random(seed)
    minutes, roles = rng.choice(WEEKS)
    subjects = rng.randint(2, 6) if rng.random() < 0.8 else rng.randint(7, 30)
    largest = 90 if subjects <= 6 else 24
    shape = {
        f"S{number:02}": {
            f"Chapter {place}": bares(rng.randint(3, largest))
            for place in range(1, rng.randint(1, 5) + 1)
        }
        for number in range(1, subjects + 1)
    }
    made = bank("Book", shape)
    seconds = round(rng.choice((20.0, 36.0, 51.0, 51.0, 80.0, 110.0, 150.0)), 1)
    rounds = rng.choice((1, 2, 2, 2, 3))
    work_days = len(made.questions) * seconds * rounds / 60 / 80
    least, spare = (1.5, 30) if diligent or not takes_offers else (0.6, 10)
    length = int(work_days * rng.uniform(least, 2.6)) + spare + 10 * subjects // 3
    off = tuple(
        sorted({MONDAY + timedelta(days=rng.randrange(length)) for _ in range(rng.randint(0, 6))})
    )
    return LivedCase(
        seed=seed,
        bank=made,
        inputs=PlanInputs(
            exam=MONDAY + timedelta(days=min(length, 420)),
            start=MONDAY,
            minutes=minutes,
            roles=roles,
            off=off,
            rounds=rounds,
            seconds=seconds,
            passes=rng.random() < 0.3 or takes_offers,
            papers=rng.random() < 0.5 or takes_offers,
        ),
        pace=seconds * rng.uniform(0.97, 1.03),
        miss_share=rng.choice((0.0, 0.1, 0.35, 0.55, 0.8)),
        again_share=rng.choice((0.2, 0.6, 0.9)),
        first_study=rng.random() < 0.5,
        attendance=1.0 if diligent else rng.uniform(0.5, 0.95),
        finishes_days=1.0 if diligent else rng.uniform(0.6, 1.0),
        takes_passes=1.0 if takes_offers else 0.2,
        takes_papers=takes_offers,
        takes_final=takes_offers or seed % 2 == 1,
    )


class Memory:
    """How the candidate answers: some questions are missed, and some of those missed again."""

    def __init__(self, case: LivedCase, rng: Random) -> None:
        self._case, self._rng = case, rng
        self._missed: set[str] = set()

    def verdict(self, question: str) -> Verdict:
        """What comes of answering the question now."""
        share = self._case.again_share if question in self._missed else self._case.miss_share
        if self._rng.random() < share:
            self._missed.add(question)
            return Verdict.WRONG
        return Verdict.RIGHT

    def seconds(self) -> float:
        """How long it took."""
        return round(self._case.pace * self._rng.uniform(0.8, 1.2), 1)


def days(case: LivedCase) -> Iterator[date]:
    """Every day from the first to the exam, the exam's own left out."""
    exam = case.inputs.exam
    assert exam is not None
    return (MONDAY + timedelta(days=n) for n in range((exam - MONDAY).days))
