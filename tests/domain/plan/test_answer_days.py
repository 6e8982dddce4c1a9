"""On which days a plan would have its questions answered."""

from datetime import timedelta
from itertools import pairwise

from msgspec.structs import replace

from domain.plan.answer_days import QuestionAhead, answer_days
from domain.plan.study_plan import EntryKind
from tests.domain.plan.scenes import MONDAY, planned, subject, usual

SUBJECTS = [subject(name, [30, 30], repeated=12, tried_twice=60) for name in ("s1", "s2")]
INPUTS = usual(exam=MONDAY + timedelta(days=70), papers=False)


def questions(last: int | None = MONDAY.toordinal() - 30) -> list[QuestionAhead]:
    return [
        QuestionAhead(subject.id, chapter.id, number, 1.0, last, signs=2 if number <= 6 else 0)
        for subject in SUBJECTS
        for chapter in subject.chapters
        for number in chapter.numbers
    ]


def test_a_block_asks_its_numbers_and_a_sweep_the_most_missed() -> None:
    plan = planned(replace(INPUTS, passes=False), SUBJECTS)
    asked = dict(zip(questions(), answer_days(plan, questions(), 51), strict=True))
    blocks = {
        (part.chapter, number): entry.day.toordinal()
        for entry in plan.entries
        if entry.kind is EntryKind.BLOCK
        for part in entry.parts
        for number in part.numbers
    }
    assert len(blocks) == 120
    for question, days in asked.items():
        assert blocks[question.chapter, question.number] in days
        assert len(days) == (2 if question.signs else 1)


def test_passes_ask_what_no_visit_is_near_for_and_not_twice_in_four_days() -> None:
    plan = planned(INPUTS, SUBJECTS)
    without = answer_days(planned(replace(INPUTS, passes=False), SUBJECTS), questions(), 51)
    asked = answer_days(plan, questions(), 51)
    assert sum(map(len, asked)) > sum(map(len, without))
    first = min(visit.last for visit in plan.visits).toordinal()
    for question, days, visits in zip(questions(), asked, without, strict=True):
        extra = sorted(set(days) - set(visits))
        assert all(day > first for day in extra)
        near = {day - back for day in visits for back in range(8)}
        assert not near.intersection(extra), question
        assert all(later - day > 4 for day, later in pairwise(extra))


def test_a_sample_gets_its_share_of_the_minutes() -> None:
    plan = planned(INPUTS, SUBJECTS)
    every = answer_days(plan, questions(), 51)
    sample = answer_days(plan, questions()[::4], 51, share=0.25)
    assert abs(4 * sum(map(len, sample)) / sum(map(len, every)) - 1) < 0.15


def test_what_was_never_tried_is_first_asked_by_a_visit_of_its_subject() -> None:
    plan = planned(INPUTS, SUBJECTS)
    untried = questions(last=None)
    visits = {(entry.day.toordinal(), entry.subject) for entry in plan.entries if entry.is_visit}
    for question, days in zip(untried, answer_days(plan, untried, 51), strict=True):
        assert (days[0], question.subject) in visits
