"""Months of pencil marks kept in a spreadsheet become history, once."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from banks.importers.common import Cancelled, Hints
from banks.importers.marks_reader import parse_marks
from banks.intake.past_marks import PastMarks, past_marks, record_past
from banks.library import Library
from domain.responses import Purpose, Reason
from domain.tiers import Tier
from tests.builders import bank, bares, keyed, library

HEAD = "subject,chapter,number,date,verdict,sureness\n"


@pytest.fixture
def shelf(tmp_path: Path) -> Library:
    chapters = {"One": bares(20), "Two": [keyed(1, "b")]}
    return library(tmp_path, bank("Book", {"Air": chapters}))


def look(shelf: Library, rows: str) -> PastMarks:
    return past_marks(shelf, shelf.banks["book"], parse_marks((HEAD + rows).encode(), Hints()))


def test_marks_become_responses_of_their_days(shelf: Library) -> None:
    past = look(
        shelf,
        "air,ONE,3,2026-01-05,wrong,\nAir,One,3,2026-01-09,wrong,\nAir,One,4,2026-01-09,right,unsure\n",
    )
    record_past(shelf, past)
    third, fourth = (shelf.history.standing(f"book/air.one/{number}") for number in (3, 4))
    assert (third.tier, third.missed_days) == (Tier.HARDER, 2)
    assert third.last == date(2026, 1, 9)
    assert fourth.tier is Tier.HARD


def test_a_verdict_stands_also_where_there_is_a_key(shelf: Library) -> None:
    record_past(shelf, look(shelf, "Air,Two,1,2026-01-05,wrong,\n"))
    assert shelf.history.standing("book/air.two/1").missed_days == 1


def test_the_same_file_again_adds_nothing(shelf: Library) -> None:
    rows = "Air,One,3,2026-01-05,wrong,\nAir,One,3,2026-01-05,wrong,\nAir,One,5,2026-01-06,blank,\n"
    record_past(shelf, look(shelf, rows))
    again = look(shelf, rows + "Air,One,6,2026-01-06,right,\n")
    assert (again.known, again.added) == (3, 1)


def test_marks_of_no_question_or_of_the_future_are_named_by_line(shelf: Library) -> None:
    past = look(
        shelf,
        "Air,One,21,2026-01-05,wrong,\nAir,One,3,2036-01-05,wrong,\nAir,One,3,2026-01-05,right,\n",
    )
    assert [finding.line for finding in past.skipped] == [2, 3]
    assert past.added == 1


def test_chapters_go_by_number_subjects_by_their_beginning_and_questions_by_code(
    tmp_path: Path,
) -> None:
    coded = replace(bares(1)[0], code="A1B02")
    book = {"Air masses": {"3 Fronts": bares(2), "7 Fog": [coded]}, "Sea": {"Tides": bares(5)}}
    opened = library(tmp_path, bank("Book", book))

    def met(row: str) -> str:
        past = look(opened, f"{row},2026-01-05,right,\n")
        return " ".join(
            [given.question for day in past.by_day.values() for given in day]
            or [past.skipped[0].reason]
        )

    assert met("air,7,1") == "book/air-masses.7-fog/1"
    assert met("AIR MASSES,chapter 3,2") == "book/air-masses.3-fronts/2"
    assert met("Sea,1,5") == "book/sea.tides/5"
    assert met(",,5") == "book/sea.tides/5"
    assert met(",,A1B02") == "book/air-masses.7-fog/1"
    assert met("Air,,1") == "Air · 1 fits 2 questions; name subject and chapter"
    assert met("Air,9,1") == "there is no question Air · 9 · 1 in the bank"


def test_purpose_reason_and_seconds_go_on_record_and_words_stay_with_the_bank(
    shelf: Library,
) -> None:
    text = (
        "subject,chapter,number,date,verdict,purpose,reason,seconds\n"
        "Air,One,3,2026-01-05,wrong,first study,slip,40\nAir,One,4,2026-01-05,right,sweep,,\n"
    )
    words = {"verdict: hm": "wrong"}
    marks = past_marks(shelf, shelf.banks["book"], parse_marks(text.encode(), Hints()), words)
    record_past(shelf, marks)
    third, fourth = (shelf.history.responses(f"book/air.one/{number}")[0] for number in (3, 4))

    assert (third.purpose, third.seconds) == (Purpose.STUDY, 40)
    assert shelf.history.reason(third) is Reason.SLIP
    assert fourth.purpose is Purpose.SWEEP
    assert shelf.settings.import_words == {"book": words}


def test_stopped_half_way_the_same_file_brings_in_the_rest(shelf: Library) -> None:
    rows = "".join(f"Air,One,{n},2026-01-{n:02},wrong,\n" for n in range(1, 11))

    def stop_at(share: float) -> Callable[[float], None]:
        def progress(done: float) -> None:
            if done >= share:
                raise Cancelled

        return progress

    with pytest.raises(Cancelled):
        record_past(shelf, look(shelf, rows), stop_at(0.5))
    rest = look(shelf, rows)
    assert (rest.known, rest.added) == (5, 5)
    record_past(shelf, rest)
    assert sum(1 for _ in shelf.history.questions()) == 10
