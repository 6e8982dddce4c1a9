"""A history that goes on from what was kept reads like one made of the whole log."""

import random
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from threading import Event

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from domain.grading import Duplicates
from domain.history import History
from domain.history_table import NOWHERE, HistoryTable, LinePlace, Mark, Tallied, id_mark
from domain.questions import Option, Question
from domain.responses import (
    AnyRecord,
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
    VisitKind,
)
from domain.tiers import Tier, TierRules
from domain.verdicts import Confidence, Verdict

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
STAYS, RETIRED, OTHER, UNKEYED = "b/c/1", "b/c/2", "b/c/3", "b/c/4"
OPTIONS = (Option(id="a", text="gale"), Option(id="b", text="calm"))
TURNED = (Option(id="a", text="calm"), Option(id="b", text="gale"))
BANK = {
    STAYS: Question(id=STAYS, chapter="c", number=1, options=OPTIONS, answer_key=("a",)),
    RETIRED: Question(
        id=RETIRED, chapter="c", number=2, options=TURNED, answer_key=("b",), same_as=STAYS
    ),
    OTHER: Question(id=OTHER, chapter="c", number=3, options=OPTIONS, answer_key=("a",)),
    UNKEYED: Question(id=UNKEYED, chapter="c", number=4, options=OPTIONS),
}
DUPLICATES = {STAYS: [RETIRED]}
OTHERS = TierRules(proof=(1, 1, 1), gaps=(1, 1, 1), unsure_signs=False, waiting_days=30)
DAYS = [date(2026, 3, 1) + timedelta(days=n) for n in (0, 1, 5, 30, 31, 60, 61, 62, 90)]


class Log:
    """The records of a log and what was kept of them; `is_another` once the log was changed."""

    def __init__(self, records: list[AnyRecord], bank: dict[str, Question]) -> None:
        self.records = records
        self.table: HistoryTable = made(records, bank).table
        self.before = list(records)
        self.is_another = False

    def read(self, row: int) -> list[AnyRecord] | None:
        if self.is_another:
            return None
        mine = [r for r in self.before if in_row(r) and name_of(r) == self.table.names[row]]
        ids = {record.id for record in mine}
        about = [r for r in self.before if getattr(r, "response", None) in ids]
        return sorted(mine, key=lambda record: (record.at, record.id)) + about

    def read_all(self) -> list[AnyRecord]:
        return list(self.records)

    def place(self, record_id: str) -> LinePlace:
        return NOWHERE


def in_row(record: AnyRecord) -> bool:
    return isinstance(record, Response | HandTier)


def name_of(record: AnyRecord) -> str:
    return str(getattr(record, "question", ""))


def made(
    records: list[AnyRecord],
    bank: dict[str, Question],
    rules: TierRules | None = None,
    kept: Log | None = None,
) -> History:
    if kept is not None:
        in_rows = Response | HandTier | ResponseReason | ReadingTime
        records = [record for record in records if not isinstance(record, in_rows)]
    retired = {name: stays for stays, names in DUPLICATES.items() for name in names}
    duplicates = Duplicates(
        bank.get, lambda name: DUPLICATES.get(name, []), lambda name: retired.get(name, name)
    )
    return History(records, bank.get, rules or TierRules(), 3, duplicates, kept)


def read_of(history: History) -> list[object]:
    """All that can be asked of a history."""
    table = history.table
    responses = [response for name in BANK for response in history.responses(name)]
    return [
        sorted(history.questions()),
        [(name, history.standing(name), history.trail(name)) for name in BANK],
        [history.events(name) for name in BANK],
        [[history.standing_before(name, day) for day in DAYS] for name in BANK],
        [[list(history.waiting_mornings(name, day)) for day in DAYS] for name in BANK],
        [list(history.tallied(name)) for name in BANK],
        [history.answered_on(day) for day in DAYS],
        [[history.responses_on(name, day) for day in DAYS] for name in BANK],
        [
            history.change_on(name, day)
            for name in BANK
            for day in DAYS
            if history.responses_on(name, day)
        ],
        [(history.verdict(r), history.awaits_key(r), history.chosen(r)) for r in responses],
        [(history.reason(r), history.reading(r)) for r in responses],
        [(history.dispute(name), history.is_flagged(name), history.note(name)) for name in BANK],
        [sorted(history.noted()), sorted(history.disputed())],
        {
            name: (sitting.closed, sitting.discarded, sitting.left)
            for name, sitting in history.sittings.items()
        },
        {name: columns(table, row) for name, row in table.rows.items() if table.span(row)},
    ]


def assert_columns_say_what_events_say(history: History) -> None:
    for name in BANK.keys() - {RETIRED}:  # that is read as a part of the question that stays
        expected = []
        for event in history.effective_events(name):
            day = history.day(event.at)
            if isinstance(event, Response):
                seconds = event.seconds + history.reading(event) if event.seconds else 0.0
                mark = Mark(
                    history.verdict(event),
                    event.confidence,
                    event.purpose,
                    is_chosen=event.chosen is not None,
                    counts=True,
                )
                expected.append(Tallied(day, mark, seconds))
            else:
                expected.append(Tallied(day, event.tier, 0.0))
        assert list(history.tallied(name)) == expected
    table = history.table
    places = [p for row in table.rows.values() for p in table.span(row) if table.codes[p] >> 12 < 2]
    in_order = sorted(places, key=lambda place: (table.ats[place], table.ties[place]))
    events = sorted((e.at, e.id) for name in table.names for e in history.own_events(name))
    assert [table.ids[place] for place in in_order] == [id_mark(name) for _, name in events]
    for name in BANK:
        for day in DAYS:
            of_day = [r for r in history.responses(name) if history.day(r.at) == day]
            assert history.responses_on(name, day) == of_day
            own = [r for r in history.responses(name) if r.question == name and not r.sitting]
            if of_day and own == history.responses(name):
                changes = history.change_by(of_day[0])[0], history.change_by(of_day[-1])[1]
                assert history.change_on(name, day) == changes
    for day in DAYS:
        responses = (r for name in BANK for r in history.responses(name))
        on_day = {history.stays(r.question) for r in responses if history.day(r.at) == day}
        assert history.answered_on(day) == on_day


def columns(table: HistoryTable, row: int) -> tuple[object, ...]:
    span = table.span(row)
    order = sorted(span, key=lambda place: (table.codes[place] >> 12 == 2, table.ids[place]))
    names = ("days", "codes", "seconds", "ats", "ids")
    values = tuple([getattr(table, name)[place] for place in order] for name in names)
    return (*values, table.standings[row])


def record_of(number: int, kind: str, question: str, day: int, about: str) -> AnyRecord:
    base = {"id": f"r{number:04}", "at": NOON + timedelta(days=day, seconds=number % 2)}
    letter = "ab"[number % 2]
    match kind:
        case "verdict":
            return Response(**base, question=question, verdict=Verdict.WRONG, seconds=20.0)
        case "hand":
            return HandTier(**base, question=question, tier=Tier(number % 4), reason="so")
        case "dispute":
            return Dispute(**base, question=question, key=(letter,) if number % 5 else ())
        case "note":
            return Note(**base, question=question, text=f"note {number}" if number % 3 else "")
        case "flag":
            return Flag(**base, question=question, on=number % 3 > 0)
        case "reason":
            return ResponseReason(**base, response=about, reason=Reason.SLIP)
        case "reading":
            return ReadingTime(**base, response=about, seconds=float(number))
        case "paper":
            return Response(
                **base, question=question, chosen=(letter,), purpose=Purpose.PAPER, sitting="s"
            )
        case "opened":
            return SittingOpened(**base, title="", purpose=Purpose.FREE, questions=tuple(BANK))
        case "closed":
            return SittingClosed(**base, sitting=about, discarded=number % 2 > 0)
        case "visit":
            return VisitEnded(**base, visit="v", how=VisitEnd.DONE)
    sure = list(Confidence)[number % len(Confidence)]
    return Response(**base, question=question, chosen=(letter,), seconds=30.0, confidence=sure)


def said_of(records: list[AnyRecord], about: int) -> str:
    return records[about % len(records)].id if records else "r0000"


KINDS = (
    "chosen", "chosen", "verdict", "hand", "dispute", "reason", "reading", "paper", "opened",
    "closed", "visit", "note", "flag",
)  # fmt: skip
RECORDS = st.tuples(
    st.sampled_from(KINDS),
    st.sampled_from(list(BANK)),
    st.sampled_from((0, 1, 30, 62)),
    st.integers(0, 30),
)
SAID = ("reason", "reading", "note", "flag", "dispute")
ACTS = ("add", "add", "remove", "rules", "regrade", "table", "standing", "another log", "find")
STEPS = st.lists(st.tuples(st.sampled_from(ACTS), RECORDS), min_size=2, max_size=7)


@settings(max_examples=60, deadline=None)
@given(st.lists(RECORDS, min_size=4, max_size=16), STEPS)
def test_whatever_happens_it_reads_the_same_on_as_anew(given_before, steps) -> None:
    assert_the_same_on_as_anew(given_before, steps)


@pytest.mark.parametrize("seed", range(30))
def test_a_longer_course_reads_the_same_on_as_anew(seed: int) -> None:
    dice = random.Random(seed)

    def record() -> tuple[str, str, int, int]:
        question = dice.choice(list(BANK))
        return dice.choice(KINDS), question, dice.choice((0, 1, 30, 62)), dice.randrange(30)

    before = [record() for _ in range(40)]
    steps = [(dice.choice(ACTS), record()) for _ in range(12)]
    assert_the_same_on_as_anew(before, steps)


def assert_the_same_on_as_anew(
    given_before: list[tuple[str, str, int, int]],
    steps: list[tuple[str, tuple[str, str, int, int]]],
) -> None:
    records: list[AnyRecord] = []
    for kind, question, day, about in given_before:
        records.append(record_of(len(records), kind, question, day, said_of(records, about)))
    bank, rules = dict(BANK), TierRules()
    log = Log(records, bank)
    history = made(records, bank, kept=log)
    for number, (step, (kind, question, day, about)) in enumerate(steps, 100):
        record = record_of(number, kind, question, day, said_of(records, about))
        match step:
            case "add":
                records.append(record)
                history.add(record)
            case "remove" if records:
                gone = records.pop(about % len(records))
                history.remove([gone])
            case "rules":
                rules = OTHERS
                history.reread(rules, 3)
            case "regrade":
                bank[question] = replace(bank[question], answer_key=("ab"[about % 2],))
                history.regrade([question])
            case "table":
                assert history.table.problem() == ""
            case "standing":
                history.standing(question)
            case "find":
                kept = {r.id: r for r in records if in_row(r) and r in log.before}
                assert history.kept_records(kept.keys() | {"none"}) == kept
            case "another log":
                is_unread = number == 100 and question in log.table.rows
                before, log.is_another = history.version, True
                history.events(question)
                assert not is_unread or history.version > before
    assert read_of(history) == read_of(made(records, bank, rules))
    assert_columns_say_what_events_say(history)


def record_for(number: int, question: str, day: int = 0) -> Response:
    record = record_of(number, "chosen", question, day, "")
    assert isinstance(record, Response)
    return record


def test_what_was_said_of_a_response_is_read_in_with_its_question() -> None:
    response = record_for(1, OTHER)
    remarks = [
        record_of(2, "reason", OTHER, 0, response.id),
        record_of(3, "reading", OTHER, 0, response.id),
    ]
    records = [response, *remarks]
    for ask, expected in (
        (lambda history: history.reason(response), Reason.SLIP),
        (lambda history: history.reading(response), 3.0),
        (lambda history: history.own_remarks(OTHER), remarks),
        (lambda history: history.responses_on(OTHER, DAYS[0]), [response]),
        (lambda history: history.kept_records([remarks[0].id]), {remarks[0].id: remarks[0]}),
        (lambda history: history.kept_records([remarks[1].id]), {remarks[1].id: remarks[1]}),
        (lambda history: history.kept_records(["none"]), {}),
    ):
        assert ask(made(records, BANK, kept=Log(records, BANK))) == expected
    assert made(records, BANK).kept_records([response.id]) == {}


@pytest.mark.parametrize("is_kept", [True, False])
def test_a_question_whose_history_was_withdrawn_is_in_no_column(is_kept: bool) -> None:
    response, other = record_for(1, OTHER), record_for(2, UNKEYED)
    records = [response, other]
    history = made(records, BANK, kept=Log(records, BANK) if is_kept else None)
    assert history.answered_on(DAYS[0]) == {OTHER, UNKEYED}
    history.remove([response])
    assert history.answered_on(DAYS[0]) == {UNKEYED}
    assert list(history.questions()) == [UNKEYED]
    assert list(history.tallied(OTHER)) == []
    log = Log([other], BANK)
    log.table = history.table
    again = made([other], BANK, kept=log)
    assert list(again.questions()) == [UNKEYED]
    assert again.events(OTHER) == []


def test_a_note_on_a_question_without_events_gives_it_no_row() -> None:
    history = made([record_for(1, UNKEYED)], BANK)
    assert OTHER not in history.table.rows
    history.add(record_of(2, "note", OTHER, 0, ""))
    assert OTHER not in history.table.rows
    assert history.table.problem() == ""


def test_a_response_counts_before_the_columns_are_made_again() -> None:
    records = [record_for(1, OTHER)]
    history = made(records, BANK)
    assert list(history.table.rows_with("days", DAYS[0].toordinal()))
    history.add(record_for(2, OTHER, 1))
    assert [tallied.day for tallied in history.tallied(OTHER)] == DAYS[:2]


def test_a_response_that_comes_to_a_question_is_taken_in_without_its_lines() -> None:
    remark = record_of(3, "reason", OTHER, 0, "r0001")
    records = [record_for(1, OTHER), record_for(2, UNKEYED), remark]
    log = Log(records, BANK)
    read, log.read = log.read, lambda row: pytest.fail("the lines were read")
    history, later = (
        made(records, BANK, kept=log),
        [record_for(4, OTHER, 1), record_for(6, OTHER, 5)],
    )
    for count, response in enumerate(later, 1):
        history.add(response)
        anew = made([*records, *later[:count]], BANK)
        assert history.standing(OTHER) == anew.standing(OTHER)
        assert columns(history.table, history.table.rows[OTHER]) == columns(
            anew.table, anew.table.rows[OTHER]
        )
    assert [history.responses_on(OTHER, day) for day in DAYS[1:3]] == [later[:1], later[1:]]
    at_once = made(records, BANK, kept=log)
    for response in later:
        at_once.add(response)
    assert at_once.standing(OTHER) == anew.standing(OTHER)
    log.read = read
    assert history.events(OTHER) == anew.events(OTHER)
    assert history.own_remarks(OTHER) == [remark]


@pytest.mark.parametrize("is_response_first", [True, False])
@pytest.mark.parametrize("kind", ["dispute", "hand", "paper", "reading", "reason"])
def test_where_more_than_that_came_the_lines_are_read(kind: str, is_response_first: bool) -> None:
    records = [record_for(1, OTHER)]
    history = made(records, BANK, kept=Log(records, BANK))
    later = [record_for(2, OTHER, 1), record_of(7, kind, OTHER, 1, "r0002")]
    for record in later if is_response_first else reversed(later):
        history.add(record)
    anew = made([*records, *later], BANK)
    assert history.standing(OTHER) == anew.standing(OTHER)
    assert columns(history.table, history.table.rows[OTHER]) == columns(
        anew.table, anew.table.rows[OTHER]
    )


def test_of_one_moment_the_response_of_a_lower_id_counts_before_the_tier_set_by_hand() -> None:
    records, response = [record_of(3, "hand", OTHER, 0, "")], record_of(1, "verdict", OTHER, 0, "")
    history = made(records, BANK, kept=Log(records, BANK))
    history.add(response)
    assert history.standing(OTHER).signs == made([*records, response], BANK).standing(OTHER).signs
    assert history.standing(OTHER).signs == 3


def test_visits_are_told_by_age_however_they_ended() -> None:
    ended = record_of(1, "visit", OTHER, 0, "")
    begun = VisitBegun(
        id="r0002", at=NOON + timedelta(days=1), kind=VisitKind.BLOCK, bank="b", subject="c",
        round=1, planned=DAYS[1],
    )  # fmt: skip
    history = made([begun, ended], BANK)
    assert history.visit_records() == [ended, begun]


def test_what_was_said_of_a_response_not_read_in_yet_can_be_withdrawn() -> None:
    response = record_for(1, OTHER)
    for kind in ("reason", "reading"):
        remark = record_of(2, kind, OTHER, 0, response.id)
        history = made([response, remark], BANK, kept=Log([response, remark], BANK))
        history.remove([remark])
        assert (history.reason(response), history.reading(response)) == (None, 0.0)
        assert history.own_remarks(OTHER) == []


def test_reading_times_added_and_withdrawn_are_in_the_columns() -> None:
    response = record_for(1, OTHER)
    for history in (
        made([response], BANK),
        made([response], BANK, kept=Log([response], BANK)),
    ):
        remark = record_of(7, "reading", OTHER, 0, response.id)
        assert [tallied.seconds for tallied in history.tallied(OTHER)] == [30.0]
        for change, changed, seconds in (
            (history.add, remark, 37.0),
            (history.remove, [remark], 30.0),
        ):
            assert history.table.problem() == ""
            before = history.version
            change(changed)
            assert history.version > before
            assert [tallied.seconds for tallied in history.tallied(OTHER)] == [seconds]
            [place] = history.table.span(history.table.rows[OTHER])[:1]
            assert history.table.seconds[place] == seconds


@pytest.mark.parametrize(("about", "day"), [("r0001", DAYS[0]), ("r0003", DAYS[2])])
def test_a_remark_counts_from_the_day_of_its_response(about: str, day: date) -> None:
    history = made([record_for(1, OTHER), record_for(3, OTHER, 5)], BANK)
    assert history.table.problem() == ""
    before = history.version
    history.add(record_of(4, "reading", OTHER, 5, about))
    assert history.earliest_change(before) == day


@pytest.mark.parametrize("days", [(0, 60), (0, 62), (0, 60, 62)])
def test_the_columns_tell_when_a_question_was_waiting(days: tuple[int, ...]) -> None:
    """Also of a question with a remark, which has no day."""
    missed = [record_for(2 * n + 1, OTHER, day) for n, day in enumerate(days)]
    history = made([*missed, record_of(8, "reason", OTHER, 0, "r0001")], BANK)
    assert history.table.problem() == ""
    first, again, last = (DAYS[0] + timedelta(days=n) for n in (60, days[1], days[-1] + 60))
    assert list(history.waiting_mornings(OTHER, DAYS[8])) == [(first, again), (last, None)]


def test_a_questions_state_is_that_of_its_own_events_alone() -> None:
    first, last, other = record_for(1, OTHER), record_for(3, OTHER, 1), record_for(5, UNKEYED)

    def state(*records: Response) -> bytes:
        return dict(made(list(records), BANK).table.states())[OTHER]

    assert state(other, first, last) == state(first, last)
    for changed in (
        replace(last, at=last.at + timedelta(days=1)),
        replace(last, confidence=Confidence.GUESS),
        replace(last, id="r0007"),
    ):
        assert state(other, first, changed) != state(other, first, last)


@pytest.mark.parametrize("is_table_made", [False, True])
@pytest.mark.parametrize("about", ["r0001", "of a response to come"])
def test_a_remark_on_a_response_makes_another_version(about: str, is_table_made: bool) -> None:
    history = made([record_for(1, OTHER)], BANK)
    assert not is_table_made or history.table.problem() == ""
    before = history.version
    history.add(record_of(2, "reason", OTHER, 0, about))
    assert history.version > before


def test_where_the_log_is_another_nothing_that_was_kept_holds() -> None:
    records = [record_for(1, OTHER), record_for(3, UNKEYED, 1)]
    others = [
        record_for(2, OTHER, 1),
        record_of(4, "verdict", UNKEYED, 30, ""),
        *(record_of(n, kind, OTHER, 0, "r0002") for n, kind in enumerate(SAID, 10)),
        record_of(20, "opened", OTHER, 0, ""),
        record_of(21, "closed", OTHER, 0, "r0020"),
        record_of(22, "visit", OTHER, 0, ""),
    ]
    log = Log(records, BANK)
    history = made(records, BANK, kept=log)
    history.add(record_for(5, UNKEYED, 1))
    history.standing(UNKEYED)
    log.records, log.is_another = others, True
    history.events(OTHER)
    assert read_of(history) == read_of(made(others, BANK))
    assert history.visit_records() == [others[-1]]


def test_a_question_that_two_threads_ask_for_is_read_in_once() -> None:
    class Slow(Log):
        """The first to read waits until another has come to ask for the same."""

        rows: list[int]

        def read(self, row: int) -> list[AnyRecord] | None:
            self.rows.append(row)
            asked.set()
            assert gone_on.wait(10)
            return super().read(row)

    asked, gone_on = Event(), Event()
    records = [record_for(1, OTHER)]
    log = Slow(records, BANK)
    log.rows = []
    history = made(records, BANK, kept=log)
    with ThreadPoolExecutor(2) as threads:
        first = threads.submit(history.events, OTHER)
        assert asked.wait(10)
        second = threads.submit(history.events, OTHER)
        Event().wait(0.05)  # it has come to wait for the first by then, mostly
        gone_on.set()
        assert first.result() == second.result() == records
    assert len(log.rows) == 1


@pytest.mark.parametrize("is_kept", [True, False])
def test_a_tier_set_by_hand_later_is_not_in_where_a_question_stood_before(is_kept: bool) -> None:
    records = [record_of(1, "verdict", OTHER, 0, ""), record_of(3, "hand", OTHER, 5, "")]
    history = made(records, BANK, kept=Log(records, BANK) if is_kept else None)
    assert history.table.problem() == ""
    assert history.standing(OTHER).tier is Tier.HARDEST
    assert [history.standing_before(OTHER, day).tier for day in (DAYS[0], DAYS[1], DAYS[3])] == [
        Tier.UNTRIED, Tier.HARD, Tier.HARDEST,
    ]  # fmt: skip
