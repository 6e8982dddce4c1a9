"""Subjects and inputs that the plan's tests share."""

from collections.abc import Sequence
from datetime import date
from random import Random

from domain.plan.inputs import ChapterLoad, PlanInputs, SubjectLoad
from domain.plan.problem import PlanRequest
from domain.plan.study_plan import StudyPlan
from domain.plan.study_plan_writer import make_study_plan

MONDAY = date(2027, 1, 4)
EXAM = date(2027, 7, 5)


def subject(name: str, sizes: Sequence[int], **more) -> SubjectLoad:
    """A subject with chapters of these sizes, numbered from 1."""
    chapters = tuple(
        ChapterLoad(f"{name}/{place}", f"Chapter {place}", tuple(range(1, size + 1)))
        for place, size in enumerate(sizes, 1)
    )
    return SubjectLoad(name, name.title(), chapters, **more)


def alike(count: int, questions: int = 525, chapters: int = 9) -> list[SubjectLoad]:
    """Subjects of the same size, their chapters as even as can be."""
    edges = [questions * edge // chapters for edge in range(chapters + 1)]
    sizes = [edges[n + 1] - edges[n] for n in range(chapters)]
    return [subject(f"s{number:02}", sizes) for number in range(1, count + 1)]


def uneven(count: int, rng: Random) -> list[SubjectLoad]:
    """Subjects of all sizes, drawn by `rng`."""
    return [
        subject(f"s{number:02}", [rng.randint(15, 90) for _ in range(rng.randint(3, 12))])
        for number in range(1, count + 1)
    ]


def usual(**changes) -> PlanInputs:
    """Six months from a Monday: 30 + 60 minutes on weekdays, a sweep on Saturday, Sunday off."""
    return PlanInputs(**({"exam": EXAM, "start": MONDAY} | changes))


def planned(inputs: PlanInputs, subjects: Sequence[SubjectLoad], today: date = MONDAY) -> StudyPlan:
    """The plan before anything is done."""
    return make_study_plan(PlanRequest.of(inputs, subjects=subjects, today=today))
