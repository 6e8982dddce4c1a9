"""Records, study days, and the history that follows from them."""

import random
from datetime import UTC, date, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from domain.grading import Duplicates
from domain.history import History
from domain.questions import Question
from domain.responses import (
    Dispute,
    Flag,
    HandTier,
    Note,
    Purpose,
    ReadingTime,
    Reason,
    Response,
    ResponseReason,
    SittingClosed,
    SittingOpened,
    VisitBegun,
    VisitEnd,
    VisitEnded,
    Withdrawal,
    study_day,
)
from domain.tiers import Tier, TierRules
from domain.verdicts import Confidence, Verdict
from tests.builders import effective

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
BANK = {
    f"b/c/{n}": Question(id=f"b/c/{n}", chapter="c", number=n, answer_key=("a",))
    for n in range(1, 5)
}


def response(n: int, day: int = 0, question: str = "b/c/1", chosen: str = "a", **more) -> Response:
    return Response(
        id=f"r{n:04}", at=NOON + timedelta(days=day), question=question, chosen=(chosen,), **more
    )


def history(*records) -> History:
    return History(records, BANK.get, TierRules())


def test_work_after_midnight_belongs_to_the_evening_before() -> None:
    zone = timezone(timedelta(hours=1))

    assert study_day(datetime(2026, 3, 2, 2, 59, tzinfo=zone)) == date(2026, 3, 1)
    assert study_day(datetime(2026, 3, 2, 3, 0, tzinfo=zone)) == date(2026, 3, 2)
    assert study_day(datetime(2026, 3, 2, 0, 0, tzinfo=zone), turn_hour=0) == date(2026, 3, 2)


def test_the_candidates_own_clock_decides_the_day() -> None:
    east = timezone(timedelta(hours=10))
    moment = datetime(2026, 3, 1, 20, tzinfo=UTC)

    assert study_day(moment) == date(2026, 3, 1)
    assert study_day(moment.astimezone(east)) == date(2026, 3, 2)


def test_a_corrected_key_regrades_the_history() -> None:
    questions = dict(BANK)
    read = History([response(1, chosen="b")], questions.get, TierRules())
    assert read.standing("b/c/1").tier is Tier.HARD

    questions["b/c/1"] = Question(id="b/c/1", chapter="c", number=1, answer_key=("b",))
    read.regrade(["b/c/1"])

    assert read.standing("b/c/1").tier is Tier.CLEAR


def test_a_dispute_regrades_and_an_empty_one_gives_the_key_back() -> None:
    read = history(response(1, chosen="b"))
    read.add(Dispute(id="d1", at=NOON, question="b/c/1", key=("b",)))
    assert read.standing("b/c/1").tier is Tier.CLEAR
    assert list(read.disputed()) == ["b/c/1"]

    read.add(Dispute(id="d2", at=NOON + timedelta(1), question="b/c/1", key=()))

    assert read.standing("b/c/1").tier is Tier.HARD
    assert read.dispute("b/c/1") is None


def test_notes_and_reasons_are_the_newest() -> None:
    read = history(
        Note(id="n2", at=NOON + timedelta(1), question="b/c/1", text="new"),
        Note(id="n1", at=NOON, question="b/c/1", text="old"),
        ResponseReason(id="m1", at=NOON, response="r0001", reason=Reason.SLIP),
    )
    first, second = response(1), response(2)

    assert read.note("b/c/1") == "new"
    assert read.reason(first) is Reason.SLIP
    assert (read.note("b/c/2"), read.reason(second)) == ("", None)


def test_a_sitting_knows_what_is_left_and_forgets_what_was_taken_back() -> None:
    opened = SittingOpened(
        id="s1", at=NOON, title="Two", purpose=Purpose.FREE, questions=("b/c/1", "b/c/2")
    )
    given = response(1, sitting="s1")
    elsewhere = response(2, question="b/c/2", sitting="s0")
    read = history(opened, given, elsewhere)
    assert read.sittings["s1"].left == ["b/c/2"]
    assert read.sittings["s1"].given == {"b/c/1": given}

    read.remove([given])
    assert read.sittings["s1"].left == ["b/c/1", "b/c/2"]

    read.add(SittingClosed(id="s2", at=NOON, sitting="s1"))
    assert read.sittings["s1"].closed


def test_a_sitting_is_discarded_unless_it_was_ended_with_a_result_somewhere() -> None:
    opened = SittingOpened(id="s1", at=NOON, title="", purpose=Purpose.PAPER, questions=())
    without, result = (
        SittingClosed(id=f"s{n}", at=NOON, sitting="s1", discarded=n == 2) for n in (2, 3)
    )
    assert [
        history(opened, *closings).sittings["s1"].discarded
        for closings in ((), (without,), (result,), (without, result))
    ] == [False, True, False, False]


@st.composite
def logs(draw) -> list:
    made = []
    for n in range(draw(st.integers(0, 40))):
        question = draw(st.sampled_from(sorted(BANK)))
        at = NOON + timedelta(hours=draw(st.integers(0, 400)))
        kind = draw(st.integers(0, 9))
        if kind == 0 and made:
            target = draw(st.sampled_from(made)).id
            made.append(Withdrawal(id=f"w{n:04}", at=at, targets=(target,)))
        elif kind == 1:
            tier = draw(st.sampled_from([Tier.CLEAR, Tier.HARD, Tier.HARDEST]))
            made.append(HandTier(id=f"h{n:04}", at=at, question=question, tier=tier, reason="x"))
        elif kind == 2:
            made.append(Dispute(id=f"d{n:04}", at=at, question=question, key=("b",)))
        else:
            made.append(
                Response(
                    id=f"r{n:04}", at=at, question=question,
                    chosen=(draw(st.sampled_from("ab")),),
                    confidence=draw(st.sampled_from(list(Confidence))),
                )
            )  # fmt: skip
    return made


def standings(records) -> dict:
    read = history(*records)
    return {question: (read.standing(question), read.trail(question)) for question in BANK}


@given(logs(), st.randoms(use_true_random=False))
def test_the_order_in_which_logs_are_merged_makes_no_difference(
    log, shuffler: random.Random
) -> None:
    shuffled = [*log, *log[: len(log) // 2]]
    shuffler.shuffle(shuffled)

    assert standings(shuffled) == standings(log)


@given(logs())
def test_what_was_withdrawn_never_happened(log) -> None:
    gone = {target for record in log if isinstance(record, Withdrawal) for target in record.targets}
    never = [r for r in log if r.id not in gone and not isinstance(r, Withdrawal)]

    assert standings(log) == standings(never)
    assert [record.id for record in effective(log)] == [record.id for record in effective(never)]


@given(logs())
def test_adding_one_by_one_equals_reading_all_at_once(log) -> None:
    kept = effective(log)
    read = history()
    for record in reversed(kept):
        read.add(record)
        read.standing("b/c/1")

    at_once = standings(kept)
    assert {q: (read.standing(q), read.trail(q)) for q in BANK} == at_once


@given(logs(), st.data())
def test_removing_equals_never_having_added(log, data) -> None:
    kept = effective(log)
    gone = data.draw(st.lists(st.sampled_from(kept), unique=True) if kept else st.just([]))
    read = history(*kept)
    read.remove(gone)

    without = [record for record in kept if record not in gone]
    assert {q: (read.standing(q), read.trail(q)) for q in BANK} == standings(without)


def test_a_verdict_of_their_own_counts_for_a_bare_question() -> None:
    bare = Question(id="b/c/9", chapter="c", number=9)
    own = Response(id="r1", at=NOON, question="b/c/9", verdict=Verdict.WRONG)
    read = History([own], {"b/c/9": bare}.get, TierRules())

    assert read.standing("b/c/9").tier is Tier.HARD


def test_flags_and_reading_times_are_the_newest_and_come_and_go() -> None:
    first, second = response(1), response(2, 1)
    timed = Response(id="r3", at=NOON, question="b/c/1", chosen=("a",), reading=4.0)
    flag = Flag(id="f1", at=NOON, question="b/c/1", on=True)
    read = history(
        first,
        second,
        timed,
        flag,
        ReadingTime(
            id="t1",
            at=NOON,
            response="r0001",
            seconds=9.5,
        ),
    )

    assert [read.reading(question_id) for question_id in (first, second, timed)] == [9.5, 0.0, 4.0]
    assert read.is_flagged("b/c/1")
    assert not read.is_flagged("b/c/2")

    read.add(Flag(id="f2", at=NOON + timedelta(1), question="b/c/1", on=False))
    assert not read.is_flagged("b/c/1")
    read.remove([Flag(id="f2", at=NOON + timedelta(1), question="b/c/1", on=False)])
    assert read.is_flagged("b/c/1")


def test_every_record_that_comes_or_goes_makes_a_new_version() -> None:
    """What a view keeps of a history holds only for the version that it was made of."""
    given, opened = response(1), SittingOpened(
        id="s1", at=NOON, title="", purpose=Purpose.FREE, questions=("b/c/1",)
    )  # fmt: skip
    ended = VisitEnded(id="v1", at=NOON, visit="v0", how=VisitEnd.DONE)
    read = history()
    for record in (given, opened, SittingClosed(id="s2", at=NOON, sitting="s1"), ended):
        before = read.version
        read.add(record)
        read.remove([record])
        assert read.version == before + 2
        read.add(record)
    assert read.sittings["s1"].closed

    read.remove([ended, SittingClosed(id="s2", at=NOON, sitting="s1")])
    assert not read.sittings["s1"].closed
    read.remove([opened])
    assert not read.sittings
    assert not read.records_of(VisitEnded)
    for change in (lambda: read.regrade(["b/c/1"]), lambda: read.reread(TierRules(), 3)):
        before = read.version
        change()
        assert read.version == before + 1


def test_a_sure_miss_is_a_wrong_choice_or_said_to_be_one() -> None:
    wrong, right = response(1, chosen="b"), response(2)
    unsure = response(3, chosen="b", confidence=Confidence.UNSURE)
    own = {"at": NOON, "question": "b/c/1", "verdict": Verdict.WRONG}
    plain, declared = Response(id="r4", **own), Response(id="r5", was_sure=True, **own)
    read = history()

    sure = [read.is_sure_miss(each) for each in (wrong, right, unsure, plain, declared)]
    assert sure == [True, False, False, False, True]


def test_a_change_and_a_day_s_reasons_are_read_response_by_response() -> None:
    first = response(1, chosen="b", reason=Reason.SLIP)
    second = response(2, day=1, chosen="b")
    read = history(first, second)

    before, after = read.change_by(first)
    assert (before.signs, after.signs) == (0, 1)
    before, after = read.change_by(second)
    assert (before.signs, after.signs) == (1, 2)
    assert read.standing_before("b/c/1", date(2026, 3, 2)).signs == 1
    assert read.reasons_by_day("b/c/1") == {date(2026, 3, 1): Reason.SLIP}
    assert read.answered_on(date(2026, 3, 1)) == {"b/c/1"}
    assert read.answered_on(date(2026, 3, 3)) == set()


def test_in_a_paper_the_last_answer_takes_the_place_of_those_before() -> None:
    first = response(1, purpose=Purpose.PAPER, sitting="s1")
    last = response(2, chosen="b", purpose=Purpose.PAPER, sitting="s1")
    outside = response(3, day=1)
    read = history(first, last, outside)

    assert read.effective_events("b/c/1") == [last, outside]
    assert read.events("b/c/1") == [first, last, outside]
    assert read.table.problem() == ""
    verdicts = [tallied.event.verdict for tallied in read.tallied("b/c/1")]
    assert verdicts == [Verdict.WRONG, Verdict.RIGHT]


def test_an_answer_changed_in_a_paper_counts_from_the_day_of_the_one_it_replaces() -> None:
    in_paper = [
        response(n, day=n, purpose=Purpose.PAPER, sitting=sitting)
        for n, sitting in enumerate("stst")
    ]
    read = history(*in_paper[:2])
    for replaced, changed in ((0, 2), (1, 3)):
        before = read.version
        read.add(in_paper[changed])
        assert read.earliest_change(before) == read.day(in_paper[replaced].at)
    assert read.earliest_change(read.version) == date.max


def test_rare_records_are_found_by_kind_until_withdrawn() -> None:
    later = VisitEnded(id="v2", at=NOON, visit="v1", how=VisitEnd.DONE)
    earlier = VisitEnded(id="v1", at=NOON + timedelta(1), visit="v0", how=VisitEnd.ENOUGH)
    read = history(later, earlier)

    assert read.records_of(VisitEnded) == [earlier, later]
    assert read.records_of(VisitBegun) == []
    read.remove([later])
    assert read.records_of(VisitEnded) == [earlier]


def test_of_a_question_that_left_the_bank_the_recorded_verdict_holds() -> None:
    gone = response(1, question="b/c/9", verdict=Verdict.WRONG)
    unjudged = response(2, question="b/c/9")
    read = history(gone, unjudged)

    assert [read.verdict(gone), read.verdict(unjudged)] == [Verdict.WRONG, Verdict.BLANK]
    assert not read.awaits_key(unjudged)
    assert read.kept_records({"r0001"}) == {}


def test_a_choice_awaits_its_key_until_bank_dispute_or_candidate_gives_one() -> None:
    unkeyed = Question(id="b/c/9", chapter="c", number=9)
    choice, blank = response(1, question="b/c/9"), response(2, question="b/c/9", chosen=" ")
    judged = response(3, question="b/c/9", verdict=Verdict.RIGHT)
    read = History([choice, blank, judged], {**BANK, "b/c/9": unkeyed}.get, TierRules())

    assert [read.awaits_key(each) for each in (choice, blank, judged)] == [True, False, False]
    assert read.awaits_key(response(4)) is False
    read.add(Dispute(id="d1", at=NOON, question="b/c/9", key=("a",)))
    assert not read.awaits_key(choice)


def test_of_a_duplicate_s_disputes_the_newest_counts() -> None:
    retired = Question(id="b/c/8", chapter="c", number=8, answer_key=("a",), same_as="b/c/1")
    earlier = Dispute(id="d1", at=NOON, question="b/c/8", key=("b",))
    later = Dispute(id="d2", at=NOON + timedelta(1), question="b/c/8", key=("c",))
    bank = {**BANK, "b/c/8": retired}
    read = History(
        [later, earlier],
        bank.get,
        TierRules(),
        duplicates=Duplicates(
            bank.get,
            lambda name: ["b/c/8"] if name == "b/c/1" else [],
            lambda name: "b/c/1" if name == "b/c/8" else name,
        ),
    )

    dispute = read.dispute("b/c/1")
    assert dispute is not None
    assert (dispute.key, dispute.question) == (("c",), "b/c/1")


def test_a_question_waits_from_the_day_its_time_is_up_and_until_it_is_tried() -> None:
    """The rules' 60 days; what is tried on a day was still waiting on its morning."""
    first, again = response(1), response(2, day=70)
    read = history(first)
    assert list(read.waiting_mornings("b/c/1", date.max)) == [(date(2026, 4, 30), None)]

    read.add(again)
    mornings = [(date(2026, 4, 30), date(2026, 5, 10))]  # settled since
    assert list(read.waiting_mornings("b/c/1", date.max)) == mornings
    assert list(read.waiting_mornings("b/c/1", date(2026, 5, 10))) == [(date(2026, 4, 30), None)]


def test_thinking_and_reading_count_together_where_either_was_timed() -> None:
    timed = response(1, seconds=20.0, reading=4.0)
    untimed = response(2, day=1, reading=4.0)
    read = history(timed, untimed)

    assert [tallied.seconds for tallied in read.tallied("b/c/1")] == [24.0, 0.0]
    assert read.table.problem() == ""
    assert [tallied.seconds for tallied in read.tallied("b/c/1")] == [24.0, 0.0]


def test_in_a_drill_every_answer_counts() -> None:
    twice = [response(n, sitting="s") for n in (1, 2)]
    assert history(*twice).effective_events("b/c/1") == twice
    in_paper = [replace(record, purpose=Purpose.PAPER) for record in twice]
    assert history(*in_paper).effective_events("b/c/1") == in_paper[1:]


def test_records_of_one_moment_are_in_order_of_their_ids_and_each_there_once() -> None:
    first, second = response(1), response(2)
    read = history(second, first, second)
    assert read.events("b/c/1") == [first, second]
    one_by_one = history()
    for record in (second, first, second):
        one_by_one.add(record)
    assert one_by_one.events("b/c/1") == [first, second]


def test_unless_told_a_study_day_turns_at_three() -> None:
    read = history()
    assert [read.day(datetime(2026, 3, 2, hour, tzinfo=UTC)).day for hour in (2, 3)] == [1, 2]
