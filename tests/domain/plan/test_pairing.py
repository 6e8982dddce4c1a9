"""Over two rounds every subject has one block and one sweep, as evenly apart as can be."""

from datetime import date, timedelta
from itertools import combinations, pairwise
from random import Random

import pytest
from msgspec.structs import replace

from domain.plan.inputs import Pin
from domain.plan.load import NOTHING, Pace
from domain.plan.pairing import in_order, need, visits
from domain.plan.planner import make_plan
from tests.domain.plan.scenes import MONDAY, alike, subject, uneven, usual

AMPLE = MONDAY + timedelta(days=2 * 366)
COUNTS = range(1, 41)


def gaps(plan):
    """Days from the end of a subject's first visit to the begin of its second."""
    found = {}
    for placed in plan.placed:
        found.setdefault(placed.visit.subject, []).append(placed)
    return {name: (second.first - first.last).days for name, (first, second) in found.items()}


@pytest.mark.parametrize("count", COUNTS)
def test_every_subject_has_one_block_and_one_sweep_in_different_rounds(count):
    plan = make_plan(usual(exam=AMPLE), alike(count), today=MONDAY)
    assert plan.feasible
    for number in range(1, count + 1):
        own = [p.visit for p in plan.placed if p.visit.subject == f"s{number:02}"]
        assert sorted(visit.sweep for visit in own) == [False, True]
        assert [visit.round for visit in own] == [1, 2]
    blocks = [p.visit.round for p in plan.placed if not p.visit.sweep]
    assert (blocks.count(1), blocks.count(2)) == ((count + 1) // 2, count // 2)


def test_the_gap_between_two_visits_is_as_long_as_a_round_give_or_take_a_week():
    for count in COUNTS[3:]:
        found = gaps(make_plan(usual(exam=AMPLE), alike(count), today=MONDAY)).values()
        half = (count + 1) // 2
        assert 7 * (half - 1) <= min(found) <= max(found) <= 7 * half + 8


def test_the_gaps_of_twenty_one_subjects():
    found = list(gaps(make_plan(usual(), alike(21), today=MONDAY)).values())
    assert (min(found), max(found)) == (72, 78)
    assert sum(found) / len(found) == pytest.approx((11 * 78 + 10 * 72) / 21)


@pytest.mark.parametrize("count", [2, 3, 8, 21])
def test_no_swap_of_two_subjects_lengthens_the_shortest_gap(count):
    subjects = alike(count)
    plan = make_plan(usual(exam=AMPLE), subjects, today=MONDAY)
    shortest = min(gaps(plan).values())
    for one, other in combinations(range(count), 2):
        order = list(plan.order)
        order[one], order[other] = order[other], order[one]
        swapped = make_plan(usual(exam=AMPLE, order=tuple(order)), subjects, today=MONDAY)
        assert min(gaps(swapped).values()) <= shortest


def test_no_swap_within_the_second_round_lengthens_the_shortest_gap_of_uneven_subjects():
    for seed in range(10):
        plan = make_plan(usual(exam=AMPLE), uneven(16, Random(seed)), today=MONDAY)
        swept = {p.visit.subject: p.last for p in plan.placed if p.visit.sweep}
        blocks = [p for p in plan.placed if p.visit.round == 2 and not p.visit.sweep]
        lengths = [(after.first - block.first).days for block, after in pairwise(blocks)] + [7]

        def shortest(order, swept=swept, blocks=blocks, lengths=lengths):
            begin, found = blocks[0].first, []
            for place in order:
                found.append((begin - swept[blocks[place].visit.subject]).days)
                begin += timedelta(days=lengths[place])
            return min(found)

        kept = range(len(blocks))
        for one, other in combinations(kept, 2):
            order = list(kept)
            order[one], order[other] = order[other], order[one]
            assert shortest(order) <= shortest(kept)


def test_uneven_subjects_also_have_their_block_and_sweep_in_turn():
    rng = Random(3)
    for count in (1, 2, 7, 20, 33):
        plan = make_plan(usual(exam=AMPLE), uneven(count, rng), today=MONDAY)
        assert plan.feasible
        assert min(gaps(plan).values()) > 0


def test_three_rounds_alternate_block_and_sweep():
    plan = make_plan(usual(exam=AMPLE, rounds=3), alike(5), today=MONDAY)
    for name in plan.order:
        kinds = [p.visit.sweep for p in plan.placed if p.visit.subject == name]
        assert kinds in ([False, True, False], [True, False, True])


def test_weakest_and_heaviest_come_first_and_ties_keep_the_banks_order():
    subjects = [
        subject("even", [100], strength=0.5),
        subject("also even", [100], strength=0.5),
        subject("strong", [100], strength=0.9),
        subject("weak", [100], strength=0.2),
        subject("heavy", [100], strength=0.5, weight=400),
    ]
    assert in_order(usual(), subjects, MONDAY) == ["heavy", "weak", "even", "also even", "strong"]
    assert need(subjects[3]) == pytest.approx(80)


def test_the_candidates_own_order_rules_and_unknown_names_in_it_are_passed_over():
    subjects = alike(3)
    order = in_order(usual(order=("s03", "gone", "s01")), subjects, MONDAY)
    assert order == ["s03", "s01", "s02"]


def test_subjects_not_yet_open_come_later_and_never_before_they_open():
    opens = date(2027, 2, 17)
    subjects = [replace(s, open_from=opens) if n < 2 else s for n, s in enumerate(alike(6))]
    plan = make_plan(usual(), subjects, today=MONDAY)
    assert plan.order[-2:] == ("s01", "s02")
    assert plan.feasible
    assert all(p.first >= opens for p in plan.placed if p.visit.subject in ("s01", "s02"))


def test_a_subject_that_is_first_in_the_candidates_order_waits_until_it_opens():
    opens = date(2027, 1, 13)
    subjects = [replace(s, open_from=opens) if n == 0 else s for n, s in enumerate(alike(4))]
    plan = make_plan(usual(order=("s01", "s02", "s03", "s04")), subjects, today=MONDAY)
    blocks = [p for p in plan.placed if not p.visit.sweep]
    assert [p.visit.subject for p in blocks[:2]] == ["s02", "s03"]
    assert next(p.first for p in blocks if p.visit.subject == "s01") >= opens


def test_a_subject_pinned_to_a_week_before_it_opens_waits_until_it_opens():
    opens = date(2027, 3, 1)
    inputs = usual(pins=(Pin("s01", MONDAY),))
    plan = make_plan(inputs, [replace(alike(1)[0], open_from=opens)], today=MONDAY)
    assert plan.feasible
    assert plan.placed[0].first == opens


def test_subjects_that_are_only_swept_get_no_block():
    inputs = usual(sweep_only=("s02", "s05"))
    wanted = list(visits(inputs, [f"s{n:02}" for n in range(1, 6)]))
    assert {v.subject for v in wanted if not v.sweep} == {"s01", "s03", "s04"}
    assert sorted(v.subject for v in wanted if v.sweep) == [f"s{n:02}" for n in range(1, 6)]
    plan = make_plan(inputs, alike(5), NOTHING, Pace(), today=MONDAY)
    assert plan.feasible
