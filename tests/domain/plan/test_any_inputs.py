"""Whatever a candidate says about their time, the plan is sound or refused in a sentence."""

from collections import Counter
from datetime import timedelta
from random import Random

import pytest
from msgspec.structs import replace

from domain.errors import InputError
from domain.plan.inputs import DayMinutes, Pin, PlanInputs, Role
from domain.plan.load import Done, Pace, SubjectLoad
from domain.plan.planner import make_plan
from tests.domain.plan.scenes import MONDAY, uneven
from tests.domain.plan.soundness import check


def a_day(rng: Random, first: int, last: int):
    return MONDAY + timedelta(days=rng.randint(first, last))


def any_subjects(rng: Random) -> list[SubjectLoad]:
    found = []
    for subject in uneven(rng.randint(1, 10), rng):
        tried = rng.randint(0, subject.questions)
        opens = a_day(rng, -30, 100) if rng.random() < 0.2 else None
        hard = rng.randint(0, tried)
        found.append(replace(subject, open_from=opens, tried=tried, hard=hard))
    return found


def any_parts(rng: Random) -> tuple[int, ...]:
    return tuple(rng.randint(5, 150) for _ in range(rng.randint(0, 3)))


def any_inputs(rng: Random, names: list[str]) -> PlanInputs:
    rng.shuffle(names)
    return PlanInputs(
        exam=a_day(rng, 1, 250),
        start=a_day(rng, -5, 10),
        minutes=tuple(any_parts(rng) for _ in range(7)),
        roles=tuple(rng.choice(list(Role)) for _ in range(7)),
        off=tuple(a_day(rng, 0, 200) for _ in range(rng.randint(0, 20))),
        changed_days=tuple(DayMinutes(a_day(rng, 0, 60), any_parts(rng)) for _ in range(3)),
        rounds=rng.randint(1, 4),
        seconds=rng.uniform(5, 120),
        order=tuple(names[: rng.randint(0, len(names))]),
        pins=tuple(
            Pin(rng.choice(names), MONDAY + timedelta(days=7 * rng.randint(-2, 30)))
            for _ in range(rng.randint(0, 3))
        ),
        sweep_only=tuple(names[: rng.randint(0, 2)]),
        stretch=rng.choice([0, 0.15, 0.5, 1]),
    )


def any_done(rng: Random, subjects: list[SubjectLoad]) -> Done:
    return Done(
        blocks={subject.id: 1 for subject in subjects if rng.random() < 0.2},
        sweeps={subject.id: 1 for subject in subjects if rng.random() < 0.2},
        covered={
            chapter.id: frozenset(chapter.numbers[: rng.randint(0, len(chapter.numbers))])
            for subject in subjects
            for chapter in subject.chapters
            if rng.random() < 0.1
        },
    )


@pytest.mark.slow
def test_three_hundred_arbitrary_weeks_give_sound_plans_or_a_sentence():
    outcomes, sentences = Counter(), []
    for seed in range(300):
        rng = Random(seed)
        subjects = any_subjects(rng)
        inputs = any_inputs(rng, [subject.id for subject in subjects])
        done, pace = any_done(rng, subjects), Pace(default=inputs.seconds)
        try:
            plan = make_plan(inputs, subjects, done, pace, today=MONDAY)
        except InputError as refused:
            sentences.append(str(refused))
            continue
        check(plan, inputs, subjects, done)
        assert make_plan(inputs, subjects, done, pace, today=MONDAY) == plan
        outcomes["fits" if plan.feasible else "too little time"] += 1
    assert min(len(sentences), outcomes["fits"], outcomes["too little time"]) > 30
    assert all(sentence.endswith(".") for sentence in sentences)
