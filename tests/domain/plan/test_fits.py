"""Whether "fits" is true: against an integer program of the hard rules, and as minutes grow.

`RESIEVE_EXPLORE=1` tries 500 small cases and 2,000 plans that grow, instead of a few.
"""

import os
from datetime import timedelta
from random import Random

import pytest
from msgspec.structs import replace

from domain.plan.inputs import PlanInputs, Role, SubjectLoad
from domain.plan.problem import PlanRequest
from domain.plan.scheduler import fits_before_exam
from tests.domain.plan.integer_program import can_fit
from tests.domain.plan.lives import random_inputs, random_subjects
from tests.domain.plan.scenes import MONDAY, subject

EXPLORE = bool(os.environ.get("RESIEVE_EXPLORE"))
TENTH = 10
"""Small cases and growing plans come in lots of ten."""


def small_case(rng: Random) -> PlanRequest:
    """Up to four small subjects and up to three weeks, so short that a minute may decide."""
    roles = [Role.REVISION] * rng.randint(1, 4) + [Role.SWEEP] * rng.randint(1, 2)
    roles += [Role.REST] * (7 - len(roles))
    rng.shuffle(roles)
    lengths = {Role.REVISION: (10, 15, 20, 30), Role.SWEEP: (15, 25, 40)}
    minutes = tuple((rng.choice(lengths[role]),) if role in lengths else () for role in roles)
    inputs = PlanInputs(
        exam=MONDAY + timedelta(days=rng.randint(5, 20)),
        start=MONDAY,
        minutes=minutes,
        roles=tuple(roles),
        rounds=rng.choice((1, 2, 2, 2, 3)),
        seconds=60.0,
        last_week=False,
    )
    subjects = [small_subject(f"s{number}", rng) for number in range(rng.randint(1, 4))]
    return PlanRequest.of(inputs, subjects, MONDAY)


def small_subject(name: str, rng: Random) -> SubjectLoad:
    load = subject(name, [rng.randint(4, 26) for _ in range(rng.randint(1, 3))])
    if rng.random() < 0.15:
        load = replace(load, open_from=MONDAY + timedelta(days=rng.randint(0, 10)))
    if rng.random() < 0.5:
        repeated = rng.randint(0, load.questions // 2)
        load = replace(load, tried_twice=load.questions, repeated=repeated)
    return replace(load, weight=float(rng.randint(1, 9)))


@pytest.mark.parametrize("lot", range(50 if EXPLORE else 10))
def test_fits_agrees_with_an_integer_program(lot: int) -> None:
    """What fits has a solution. What is short has none; where 95 % of the minutes are filled, one
    may be missed, for blocks are laid one after the other.
    """
    for seed in range(TENTH * lot, TENTH * (lot + 1)):
        request = small_case(Random(seed))
        if fits_before_exam(request):
            assert can_fit(request), seed
        else:
            assert not can_fit(request, share=0.95), seed


def test_the_integer_program_knows_the_hard_rules() -> None:
    """Worked by hand: revision on Mondays of 20 minutes, sweeps on Thursdays of 10."""
    inputs = PlanInputs(
        exam=MONDAY + timedelta(days=7),
        start=MONDAY,
        minutes=((20,), (), (), (10,), (), (), ()),
        roles=(Role.REVISION, *[Role.REST] * 2, Role.SWEEP, *[Role.REST] * 3),
        rounds=2,
        seconds=60.0,
        last_week=False,
        hard_share=0.5,
    )
    for size, fits in ((20, True), (21, False)):
        request = PlanRequest.of(inputs, [subject("s1", [size])], MONDAY)
        assert can_fit(request) is fits
    both = [subject("s1", [10, 9]), subject("s2", [5])]
    monday_more = replace(inputs, exam=MONDAY + timedelta(days=8))
    assert not can_fit(PlanRequest.of(inputs, both, MONDAY))
    assert can_fit(PlanRequest.of(monday_more, both, MONDAY))
    opens_too_late = [both[0], replace(both[1], open_from=MONDAY + timedelta(days=4))]
    assert not can_fit(PlanRequest.of(monday_more, opens_too_late, MONDAY))


@pytest.mark.parametrize("lot", range(200 if EXPLORE else 6))
def test_more_minutes_never_hurt(lot: int) -> None:
    for seed in range(TENTH * lot, TENTH * (lot + 1)):
        fits = fits_as_minutes_grow(seed)
        assert fits == sorted(fits), seed


def fits_as_minutes_grow(seed: int) -> list[bool]:
    """Whether a random plan fits, with ever more minutes on each day of work."""
    rng = Random(seed)
    inputs, subjects = random_inputs(rng), random_subjects(rng, most=4)
    assert inputs.start is not None
    inputs = replace(inputs, exam=inputs.start + timedelta(days=rng.randint(10, 60)))
    fits = []
    for more in range(0, 120, 10):
        week = zip(inputs.roles, inputs.minutes, strict=True)
        minutes = tuple(
            (*parts[:-1], parts[-1] + more) if parts and role is not Role.REST else parts
            for role, parts in week
        )
        request = PlanRequest.of(replace(inputs, minutes=minutes), subjects, inputs.start)
        fits.append(fits_before_exam(request))
    return fits
