"""Delimited text, JSON and JSON Lines: what goes out comes back."""

import csv
import io
from collections.abc import Callable
from datetime import date

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from banks.exporters.bank_writers import csv_bytes, to_csv, to_json, to_json_lines
from banks.exporters.question_rows import STANDING_COLUMNS, Marked, MarkedHistory
from banks.importers.cells import guarded, unguarded
from banks.importers.common import Hints
from banks.importers.detect import detect, parse
from domain.errors import InputError
from domain.questions import Bank, Chapter, Option, Question, Subject
from domain.tiers import Standing, Tier
from domain.verdicts import Confidence, Verdict
from tests.banks.exporters.made_banks import banks, expected, found

WRITERS = {"csv": to_csv, "json": to_json, "jsonl": to_json_lines}
QUESTION = Question(
    id="w/c/1",
    chapter="c",
    number=1,
    stem="=1+1 is?",
    options=(Option("x", "-2"), Option("y", "@two", explanation="+no"), Option("z", "2-Jan")),
    answer_key=("y",),
)
BANK = Bank(
    id="w",
    title="Book",
    subjects=(Subject("s", "Sky", (Chapter("c", "Clouds"),)),),
    questions={QUESTION.id: QUESTION},
)
HISTORY = {
    QUESTION.id: MarkedHistory(
        (
            Marked(date(2027, 1, 4), Verdict.WRONG),
            Marked(date(2027, 1, 11), Verdict.RIGHT, Confidence.UNSURE),
        ),
        Standing(Tier.HARD, signs=1),
        is_waiting=True,
    )
}


@pytest.mark.parametrize("name", WRITERS)
@settings(max_examples=80, deadline=None)
@given(bank=banks())
def test_what_is_exported_comes_back_as_it_was(name: str, bank: Bank) -> None:
    data = WRITERS[name](bank)

    parsed = parse(data, Hints())

    assert parsed.skipped == []
    assert found(parsed.drafts) == expected(bank)
    one_line = data.count(b"\n") == 1  # then JSON Lines is plain JSON too
    assert detect(data) in (name, "json" if one_line else name)


@pytest.mark.parametrize("writer", WRITERS.values())
def test_a_history_beside_the_questions_changes_nothing_about_them(
    writer: Callable[..., bytes],
) -> None:
    assert found(parse(writer(BANK, HISTORY), Hints()).drafts) == expected(BANK)


def test_a_history_is_written_day_by_day_with_where_it_leaves_the_question() -> None:
    [object_] = msgspec.json.decode(to_json(BANK, HISTORY))["questions"]
    [row] = csv.DictReader(io.StringIO(to_csv(BANK, HISTORY).decode("utf-8-sig")))

    assert row["history"] == "2027-01-04 wrong; 2027-01-11 right unsure"
    unsure = {"day": "2027-01-11", "verdict": "right", "confidence": "unsure"}
    assert object_["history"][1] == unsure
    assert [row[name] for name in STANDING_COLUMNS] == ["hard", "1", "no", "yes"]
    assert [object_[name] for name in STANDING_COLUMNS] == ["hard", 1, False, True]


def test_without_a_history_nothing_is_said_of_the_standing() -> None:
    assert not set(STANDING_COLUMNS) & set(to_csv(BANK).decode().splitlines()[0].split(","))
    assert not set(STANDING_COLUMNS) & msgspec.json.decode(to_json(BANK))["questions"][0].keys()


def test_no_cell_can_be_taken_for_a_formula() -> None:
    rows = list(csv.reader(io.StringIO(to_csv(BANK).decode("utf-8-sig"))))

    cells = [cell for row in rows for cell in row]
    risky = [cell for cell in cells if cell[:1] in "=+-@\t\r" and cell and cell != "-2"]
    assert risky == []
    assert "'=1+1 is?" in cells


@given(text=st.text("'=+-@1.\tab", max_size=8))
def test_guarding_a_cell_is_undone_exactly(text: str) -> None:
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("number", ["-5", "+3.5", "-1,25"])
def test_signed_numbers_need_no_guard(number: str) -> None:
    assert guarded(number) == number


def test_an_apostrophe_that_guards_nothing_stays() -> None:
    assert unguarded("'tis") == guarded("'tis") == "'tis"


def test_rows_end_and_quote_as_rfc_4180_says() -> None:
    # RFC 4180, section 2, rules 1, 5, 6 and 7.
    assert csv_bytes([["a", 'b "c"'], ["d,e", "f\ng"]]) == (
        b'\xef\xbb\xbfa,"b ""c"""\r\n"d,e","f\ng"\r\n'
    )


@pytest.mark.parametrize("writer", WRITERS.values())
def test_nothing_to_export_is_said(writer: Callable[..., bytes]) -> None:
    with pytest.raises(InputError, match="nothing to export"):
        writer(BANK, subjects=["sea"])


def test_retired_questions_stay_at_home() -> None:
    retired = msgspec.structs.replace(QUESTION, id="w/c/1~old", stem="Old", retired=True)

    assert len(parse(to_csv(BANK.with_questions([retired])), Hints()).drafts) == 1


@pytest.mark.parametrize("name", WRITERS)
def test_that_a_history_is_not_taken_from_a_file_of_questions_is_told(name: str) -> None:
    with_history = parse(WRITERS[name](BANK, HISTORY), Hints()).warnings

    (warned,) = [finding for finding in with_history if "history" in finding.reason]
    assert warned.line == 0
    assert warned.reason.startswith("a history stands beside 1 of the questions")
    assert not any(
        "history" in warning.reason for warning in parse(WRITERS[name](BANK), Hints()).warnings
    )


@pytest.mark.parametrize("name", WRITERS)
def test_codes_and_doubts_go_out_and_come_back(name: str) -> None:
    coded = replace(QUESTION, code="W1A01", to_check="its number was read as 1 from 'l'")
    drafts = parse(WRITERS[name](BANK.with_questions([coded])), Hints()).drafts

    assert [(draft.code, draft.to_check) for draft in drafts] == [(coded.code, coded.to_check)]
