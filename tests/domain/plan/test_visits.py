"""What the records say is finished, under way and left of the visits."""

from datetime import timedelta

from domain.plan.inputs import ONE_DAY
from domain.plan.visits import (
    BegunVisit,
    EndedVisit,
    PlanResponse,
    SweepCandidate,
    Visit,
    VisitFold,
    sweep_list,
)
from domain.responses import Purpose
from domain.tiers import Tier
from tests.domain.plan.scenes import MONDAY, subject

TUESDAY = MONDAY + timedelta(days=1)
SUBJECT = subject("s", [3, 2])
SWEEP = Visit(1, "s", True)
LIST = (("s/1", 1), ("s/1", 2))


def answered(number: int, purpose: Purpose, chapter: str = "s/1") -> PlanResponse:
    return PlanResponse(MONDAY, "s", chapter, number, purpose)


def test_a_block_is_done_when_each_question_was_answered_since_it_began() -> None:
    fold = VisitFold([SUBJECT])
    fold.read(answered(n, Purpose.REVISION) for n in (1, 1, 2))
    under_way = fold.progress(TUESDAY)
    assert under_way.covered == {"s/1": frozenset({1, 2})}
    assert under_way.since == {"s": MONDAY}
    assert under_way.done_on == {"s": {MONDAY: 2}}
    fold.read([answered(3, Purpose.FREE)])
    fold.read(answered(n, Purpose.REVISION, "s/2") for n in (1, 2))
    done = fold.progress(TUESDAY)
    assert [(span.first, span.last) for span in done.blocks["s"]] == [(MONDAY, MONDAY)]
    assert not done.covered


def test_free_drill_begins_no_block_and_sweeping_before_the_visit_is_practice() -> None:
    fold = VisitFold([SUBJECT])
    fold.read([answered(1, Purpose.FREE), answered(1, Purpose.SWEEP)])
    fold.read([BegunVisit("v", MONDAY, SWEEP, LIST)])
    progress = fold.progress(TUESDAY)
    assert not progress.since
    assert progress.open_sweeps["s"].left == LIST


def test_a_sweep_puts_up_what_is_left_and_is_done_with_its_list() -> None:
    fold = VisitFold([SUBJECT])
    fold.read([BegunVisit("v", MONDAY, SWEEP, LIST), answered(1, Purpose.SWEEP)])
    assert fold.progress(TUESDAY).open_sweeps["s"].left == (("s/1", 2),)
    fold.read([answered(2, Purpose.REVISION)])
    progress = fold.progress(TUESDAY)
    assert len(progress.sweeps["s"]) == 1
    assert not progress.open_sweeps


def test_enough_and_empty_end_a_sweep() -> None:
    for questions, how in ((LIST, "enough"), ((), "empty")):
        fold = VisitFold([SUBJECT])
        fold.read([BegunVisit("v", MONDAY, SWEEP, questions), EndedVisit(MONDAY, "v", how)])
        assert len(fold.progress(MONDAY).sweeps["s"]) == 1


def test_an_open_book_sweep_is_done_with_the_end_of_its_day() -> None:
    fold = VisitFold([SUBJECT])
    fold.read([BegunVisit("v", MONDAY, SWEEP, (), untried=LIST), answered(1, Purpose.SWEEP)])
    assert fold.progress(MONDAY).open_sweeps["s"].untried_left == (("s/1", 2),)
    assert len(fold.progress(TUESDAY).sweeps["s"]) == 1


def test_the_list_is_all_repeatedly_missed_then_others_while_there_is_room() -> None:
    tiers = (Tier.HARDEST, Tier.HARD, Tier.CLEAR, Tier.HARDER, Tier.HARD)
    known = [SweepCandidate("c", n, tier) for n, tier in enumerate(tiers, 1)]
    new = SweepCandidate("d", 1, Tier.UNTRIED, unrecorded=True)
    assert sweep_list([*known, new], 1).questions == (("c", 1), ("c", 4))
    assert sweep_list([*known, new], 3).also_open == (("c", 2),)
    assert sweep_list([*known, new], 9).untried == (("d", 1),)
    assert sweep_list([SweepCandidate("c", 1, Tier.CLEAR)], 9).is_empty


def test_of_the_other_open_ones_a_sweep_takes_the_longest_unseen() -> None:
    days = (MONDAY, MONDAY - 9 * ONE_DAY, MONDAY - ONE_DAY, MONDAY - 5 * ONE_DAY)
    known = [SweepCandidate("c", n, Tier.HARD, day) for n, day in enumerate(days, 1)]
    assert sweep_list(known, 2).also_open == (("c", 2), ("c", 4))
