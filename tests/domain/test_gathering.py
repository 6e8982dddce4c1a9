"""A log gathered at once gives the history that the plain definition of what counts gives."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from domain.history import History
from domain.questions import Question
from domain.responses import (
    AnyRecord,
    Dispute,
    HandTier,
    Note,
    Purpose,
    Response,
    ResponseReason,
    SittingClosed,
    SittingOpened,
    Withdrawal,
)
from domain.responses import Reason as Why
from domain.tiers import Tier, TierRules
from domain.verdicts import Verdict
from tests.builders import effective

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
QUESTIONS = {
    name: Question(id=name, chapter="c", number=1, answer_key=("a",)) for name in ("q1", "q2")
}


def record_of(number: int, kind: str, question: str, hours: int, target: int) -> AnyRecord:
    base = {"id": f"r{number}", "at": START + timedelta(hours=hours)}
    match kind:
        case "response":
            verdict = Verdict.RIGHT if number % 3 else Verdict.WRONG
            return Response(**base, question=question, verdict=verdict, sitting=f"r{target}")
        case "tier":
            return HandTier(**base, question=question, tier=Tier(number % 4), reason="so")
        case "dispute":
            return Dispute(**base, question=question, key=("b",) if number % 2 else ())
        case "note":
            return Note(**base, question=question, text=f"note {number}")
        case "reason":
            return ResponseReason(**base, response=f"r{target}", reason=Why.SLIP)
        case "opened":
            return SittingOpened(**base, title="", purpose=Purpose.FREE, questions=tuple(QUESTIONS))
        case "closed":
            return SittingClosed(**base, sitting=f"r{target}", discarded=number % 2 > 0)
    return Withdrawal(**base, targets=(f"r{target}",))


KINDS = ("response", "response", "tier", "dispute", "note", "reason", "opened", "closed", "undo")
LOGS = st.lists(
    st.tuples(
        st.sampled_from(KINDS), st.sampled_from(list(QUESTIONS)), st.integers(0, 200),
        st.integers(0, 15),
    ),
    max_size=16,
).map(lambda drawn: [record_of(number, *each) for number, each in enumerate(drawn)])  # fmt: skip


def told(history: History) -> list[object]:
    """Everything a history can be asked."""
    return [
        [history.trail(name) for name in QUESTIONS],
        [history.events(name) for name in QUESTIONS],
        [history.note(name) for name in QUESTIONS],
        [history.dispute(name) for name in QUESTIONS],
        [history.reason(response) for q in QUESTIONS for response in history.responses(q)],
        {
            name: (sitting.closed, sitting.discarded, sitting.left)
            for name, sitting in history.sittings.items()
        },
    ]


@given(LOGS, st.randoms(use_true_random=False))
def test_a_log_in_any_order_and_in_part_twice_reads_as_what_counts_of_it(log, dice) -> None:
    merged = [*log, *dice.sample(log, len(log) // 2)]
    dice.shuffle(merged)
    plain = History(effective(log), QUESTIONS.get, TierRules())
    assert told(History(merged, QUESTIONS.get, TierRules())) == told(plain)
