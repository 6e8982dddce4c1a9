"""The `mark` command: paper work into the log, and what it refuses."""

import json
from datetime import date
from pathlib import Path

import pytest

from banks.library import Library
from domain.responses import Purpose, Reason, Response
from domain.verdicts import Confidence, Verdict
from tests.builders import bank, bares, keyed, library
from tui.cli import main

PLACE = ["--subject", "Air", "--chapter", "One"]
KEY = "bcadbbcadb"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    letters = [keyed(number, letter) for number, letter in enumerate(KEY, 1)]
    chapters = {"One": bares(20), "Two": letters}
    library(tmp_path, bank("Book", {"Air": chapters})).close()
    return tmp_path


def mark(store: Path, *words: str, chapter: str = "One", day: str = "2026-03-02") -> int:
    place = ["--subject", "Air", "--chapter", chapter]
    return main(["--store", str(store), "--today", day, "mark", *place, *words])


def logged(store: Path, chapter: str = "one") -> dict[int, Response]:
    """The newest response by number."""
    read = Library.open(store, read_only=True)
    return {
        question.number: read.history.responses(question.id)[-1]
        for location, question in read.active_questions()
        if location.chapter.id.endswith(chapter) and read.history.responses(question.id)
    }


def words(response: Response) -> str:
    return f"{response.verdict or ''.join(response.chosen or ()) or 'blank'} {response.confidence}"


def test_exceptions_and_the_rest_right_are_each_what_was_said(store):
    assert mark(store, "--wrong", "3, 7 12-15", "--unsure", "5", "--blank", "9", "--rest", "right")\
        == 0  # fmt: skip
    responses = logged(store)

    assert {n for n, response in responses.items() if response.verdict is Verdict.WRONG} == {
        3,
        7,
        12,
        13,
        14,
        15,
    }
    assert words(responses[5]) == "right unsure"
    assert words(responses[9]) == "blank sure"
    assert len(responses) == 20


def test_only_what_is_named_is_marked_without_the_rest(store):
    mark(store, "--right", "1-3", "--wrong", "4")

    assert sorted(logged(store)) == [1, 2, 3, 4]


def test_letters_count_from_a_number_and_a_capital_is_unsure(store):
    mark(store, "--responses", "aDb ", "--from", "3", chapter="Two")
    responses = logged(store, "two")

    assert {number: words(response) for number, response in responses.items()} == {
        3: "a sure", 4: "d unsure", 5: "b sure", 6: "blank sure",
    }  # fmt: skip


def test_the_seconds_of_all_of_it_are_shared_equally(store, capsys):
    mark(store, "--wrong", "1-3", "--right", "4", "--seconds", "120")

    assert [response.seconds for response in logged(store).values()] == [30] * 4
    for seconds in ("-1", "nan", "inf"):
        assert mark(store, "--wrong", "5", "--seconds", seconds) == 2
    assert "expected the seconds it took" in capsys.readouterr().err
    assert 5 not in logged(store)


def test_a_text_all_in_capitals_is_just_printed_that_way(store):
    mark(store, "--responses", "BCA", "--unsure", "2", chapter="Two")

    assert [response.confidence for response in logged(store, "two").values()] == [
        Confidence.SURE, Confidence.UNSURE, Confidence.SURE,
    ]  # fmt: skip


def test_the_tally_is_json_for_programs(store, capsys):
    mark(store, "--responses", "bcbd", "--json", chapter="Two")

    assert json.loads(capsys.readouterr().out) == {
        "recorded": 4, "verdicts": {"right": 3, "wrong": 1}, "promoted": 1,
    }  # fmt: skip


def test_another_day_may_be_named_but_not_one_to_come(store, capsys):
    assert mark(store, "--wrong", "1", "--date", "2026-02-27") == 0
    assert mark(store, "--wrong", "2", "--date", "2026-03-03") == 1
    assert logged(store)[1].at.date() == date(2026, 2, 27)
    assert 2 not in logged(store)
    assert "is in the future" in capsys.readouterr().err


def test_a_second_go_on_one_day_counts_beside_the_first_and_says_so(store, capsys):
    mark(store, "--wrong", "1-3")
    mark(store, "--right", "2-5")
    read = Library.open(store, read_only=True)

    assert "2 of these were already marked that day" in capsys.readouterr().err
    assert len(read.history.responses("book/air.one/2")) == 2


def test_a_correction_takes_the_place_of_that_days_marks(store, capsys):
    mark(store, "--wrong", "1-3")
    mark(store, "--right", "2", "--correct")
    responses = logged(store)

    assert capsys.readouterr().err == ""
    assert [response.verdict for response in responses.values()] == [
        Verdict.WRONG,
        Verdict.RIGHT,
        Verdict.WRONG,
    ]
    assert Library.open(store, read_only=True).history.standing("book/air.one/2").missed_days == 0


@pytest.mark.parametrize(
    ("chapter", "words", "status", "message"),
    [
        ("One", ["--wrong", "21"], 1, "--wrong: there is no question 21"),
        ("One", ["--wrong", "7-3"], 1, "7-3 runs backwards"),
        ("One", ["--wrong", "seven"], 1, "'seven' is not a number or a range like 12-15"),
        ("One", ["--wrong", "3", "--blank", "1-4"], 1, "3 is in --wrong and in --blank"),
        ("One", ["--responses", "abc"], 1, "1: has no key yet"),
        ("Two", ["--responses", "bce"], 1, "3: 'e' is not one of its options (a to d)"),
        ("Two", ["--responses", "bcadbbcadbb"], 1, "11 letters for 10 questions"),
        ("Two", ["--responses", "b", "--from", "11"], 1, "--from 11: there is no such question"),
        ("Two", ["--responses", "b", "--wrong", "2"], 2, "--responses cannot be combined with"),
        ("One", ["--wrong", "3", "--from", "2"], 2, "--from needs --responses"),
        ("One", [], 2, "nothing to mark"),
        ("Three", ["--wrong", "3"], 1, "chapter 'Three': not found"),
        ("One", ["--wrong", "3", "--purpose", "fun"], 2, "--purpose 'fun'"),
    ],
)
def test_what_does_not_fit_is_said_in_a_line_and_nothing_is_recorded(
    store, capsys, chapter, words, status, message
):
    assert mark(store, *words, chapter=chapter) == status
    error = capsys.readouterr().err

    assert message in error
    assert error.count("\n") == 1
    assert not logged(store) | logged(store, "two")


def test_a_damaged_date_is_wrong_use(store, capsys):
    with pytest.raises(SystemExit) as leaving:
        mark(store, "--wrong", "1", "--date", "yesterday")

    assert leaving.value.code == 2
    assert '"yesterday" is no day: expected a date such as' in capsys.readouterr().err


def test_every_sign_can_be_listed_and_a_reason_stands_alone_or_beside_wrong(store):
    mark(store, "--mixed-up", "1,2", "--unknown", "3,4", "--wrong", "2,4", "--sure-wrong", "5")
    responses = logged(store)

    assert {
        n: (words(response), response.reason, response.was_sure)
        for n, response in responses.items()
    } == {
        1: ("right unsure", Reason.MIXED_UP, False),
        2: ("wrong sure", Reason.MIXED_UP, False),
        3: ("blank sure", Reason.UNKNOWN, False),
        4: ("wrong sure", Reason.UNKNOWN, False),
        5: ("wrong sure", None, True),
    }


def test_without_a_purpose_it_is_that_of_the_days_line(tmp_path):
    library(tmp_path, bank("Book", {"Air": {"One": bares(40)}, "Sea": {"Two": bares(20)}})).close()
    plan = ["--exam", "2026-09-01", "--roles", "mon revision, tue-sat sweep, sun rest"]
    store = ["--store", str(tmp_path), "--today"]
    assert main([*store, "2026-03-02", "plan", *plan]) == 0
    mark(tmp_path, "--rest", "right")
    sea = [*store, "2026-03-07", "mark", "--subject", "Sea", "--chapter", "Two", "--wrong"]
    assert main([*sea, "1-3"]) == main([*sea, "4", "--purpose", "study"]) == 0

    purposes = {number: response.purpose for number, response in logged(tmp_path, "two").items()}
    assert purposes == {**dict.fromkeys((1, 2, 3), Purpose.SWEEP), 4: Purpose.STUDY}
    assert {response.purpose for response in logged(tmp_path).values()} == {Purpose.REVISION}
