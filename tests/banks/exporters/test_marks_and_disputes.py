"""Marks and disputes, out as files: marks come back, disputes can be taken to a teacher."""

import csv
import io
from datetime import date

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from banks.exporters.bank_writers import to_marks
from banks.exporters.disputes import disputed, to_csv, to_markdown
from banks.exporters.question_rows import Marked, MarkedHistory, book_order, marked
from banks.importers.common import Hints
from banks.importers.marks_reader import PastMark, are_marks, parse_marks
from domain.errors import InputError
from domain.history import History
from domain.questions import Bank, Chapter, Option, Question, Subject
from domain.responses import AnyRecord, Dispute, Purpose, Reason, Response
from domain.tiers import TierRules
from domain.verdicts import Confidence, Verdict
from tests.banks.exporters.made_banks import banks
from tests.builders import MORNING

HARD = Question(
    id="b/c/7",
    chapter="c",
    number=7,
    stem="Which is *low*?",
    options=(Option("p", "Cirrus"), Option("q", "Stratus")),
    answer_key=("p",),
    reference="p. 12",
)
BANK = Bank(
    id="b",
    title="Book",
    subjects=(Subject("s", "=Sky", (Chapter("c", "Clouds"),)),),
    questions={HARD.id: HARD},
)
marks = st.builds(
    Marked,
    st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    st.sampled_from(list(Verdict)),
    st.sampled_from(list(Confidence)),
    st.sampled_from(list(Purpose)),
    st.sampled_from([None, *Reason]),
    st.integers(0, 3000).map(lambda tenths: tenths / 10),
)


def history(*records: AnyRecord) -> History:
    return History(records, BANK.questions.get, TierRules())


DISPUTE = Dispute(id="2", at=MORNING, question=HARD.id, key=("q",), note="See p. 14 | table")


@settings(max_examples=60, deadline=None)
@given(data=st.data(), bank=banks())
def test_marks_come_back_as_they_were(data: st.DataObject, bank: Bank) -> None:
    kept = {q: data.draw(st.lists(marks, max_size=3)) for q in bank.questions}
    assume(any(kept.values()))

    exported = to_marks(bank, {q: MarkedHistory(tuple(own)) for q, own in kept.items()})
    file = parse_marks(exported, Hints())

    assert are_marks(exported)
    assert file.skipped == []
    came = [(m.subject, m.chapter, m.number, *_values(m)) for m in file.marks]
    went = [
        (p.subject.title, p.chapter.title, p.question.number, *_values(m))
        for p in book_order(bank)
        for m in kept[p.question.id]
    ]
    assert came == went


def _values(mark: Marked | PastMark) -> tuple[object, ...]:
    judgement = (mark.verdict, mark.confidence, mark.purpose, mark.reason)
    return mark.day, *judgement, mark.seconds


def test_what_a_history_came_to_is_read_under_the_key_in_force() -> None:
    given = Response(
        id="1", at=MORNING, question=HARD.id, chosen=("q",), confidence=Confidence.GUESS
    )

    today = date(2026, 6, 1)
    before = marked(history(given), HARD.id, today)
    after = marked(history(given, DISPUTE), HARD.id, today)

    assert before.marks == (Marked(date(2026, 3, 2), Verdict.WRONG, Confidence.GUESS),)
    assert after.marks == (Marked(date(2026, 3, 2), Verdict.RIGHT, Confidence.GUESS),)
    assert before.is_waiting
    assert before.standing.signs == 1


def test_the_columns_of_marks_are_those_promised() -> None:
    kept = {HARD.id: MarkedHistory((Marked(date(2027, 1, 4), Verdict.BLANK),))}

    assert to_marks(BANK, kept).decode("utf-8-sig") == (
        "subject,chapter,number,date,verdict,confidence,purpose,reason,seconds\r\n"
        "'=Sky,Clouds,7,2027-01-04,blank,sure,revision,,\r\n"
    )


def test_without_marks_or_disputes_there_is_nothing_to_export() -> None:
    with pytest.raises(InputError, match="nothing in Book was marked"):
        to_marks(BANK, {})
    with pytest.raises(InputError, match="no key in Book is disputed"):
        disputed(BANK, history())


def test_a_dispute_is_a_row_with_both_keys_by_letter() -> None:
    [row] = csv.DictReader(
        io.StringIO(to_csv(disputed(BANK, history(DISPUTE))).decode("utf-8-sig"))
    )

    assert (row["key of the bank"], row["own key"]) == ("a", "b")
    assert row["options"] == "a) Cirrus\nb) Stratus"
    assert row["note"] == "See p. 14 | table"


def test_disputes_to_print_leave_room_for_the_teacher() -> None:
    assert to_markdown(disputed(BANK, history(DISPUTE)), "Book").decode() == (
        "# Disputed keys – Book\n\n"
        "## =Sky · Clouds · 7 (p. 12)\n\n"
        "Which is \\*low\\*?\n\n- a) Cirrus\n- b) Stratus\n\n"
        "Key of the bank: **a** – own key: **b**\n\n"
        "See p. 14 \\| table\n\n"
        "Teacher: ______________________\n"
    )
