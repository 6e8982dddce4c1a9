"""`resieve bank` and `resieve first-study`: which banks count, what is studied already."""

import json

import pytest

from banks.library import Library
from tests.banks.planned import Clock, printed_bank
from tests.builders import bank, bares
from tui.cli import main


@pytest.fixture
def resieve(tmp_path, capsys):
    library = Library.open(tmp_path, Clock())
    library.save_bank(printed_bank())
    library.save_bank(bank("Extra", {"Radar": {"Echoes": bares(9)}}))
    library.close()

    def run(*words):
        status = main(["--store", str(tmp_path), "--today", "2027-01-04", *words])
        out, err = capsys.readouterr()
        return status, out, err

    assert run("plan", "--exam", "2027-07-05")[0] == 0
    return run


def planned(resieve) -> set[str]:
    days = json.loads(resieve("plan", "--json")[1])["days"]
    return {day["subject"] for day in days if day["subject"]}


def test_another_bank_counts_when_it_is_taken_up_and_no_more_when_it_is_set_aside(resieve):
    assert "Radar" not in planned(resieve)
    assert resieve("bank", "--take-up", "extra")[0] == 0
    assert "Radar" in planned(resieve)

    status, out, _ = resieve("bank", "--set-aside", "extra", "--json")
    counts = {
        listed["id"]: (listed["questions"], listed["counts"]) for listed in json.loads(out)["banks"]
    }
    assert (status, counts) == (0, {"book": (1280, True), "extra": (9, False)})
    assert "Radar" not in planned(resieve)


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (["bank", "--set-aside", "book"], "the only bank that counts; take up another one first"),
        (["bank", "--set-aside", "extra"], "Extra is set aside already; nothing was changed"),
        (["bank", "--take-up", "rain"], "bank 'rain': not found"),
        (["first-study", "--bank", "book", "--done"], "--done needs --subject"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_changed(resieve, words, problem):
    before = resieve("bank", "--json")[1]
    status, out, err = resieve(*words)

    assert status in (1, 2)
    assert problem in err
    assert out == ""
    assert resieve("bank", "--json")[1] == before


def test_a_subject_said_to_be_studied_is_revised_from_today_and_a_chapter_alone_is_not(resieve):
    study = ["first-study", "--bank", "book", "--subject"]
    resieve("plan", "--open-from", "Clouds=2027-03-01", "--open-from", "Wind=2027-03-01")
    assert resieve(*study, "Wind", "--chapter", "2", "--done")[0] == 0
    assert resieve(*study, "Clouds", "--done")[0] == 0

    rows = json.loads(resieve("first-study", "--bank", "book", "--json")[1])["chapters"]
    printed = {
        (row["subject"], row["chapter"][-1]) for row in rows if row["said_done"] == "2027-01-04"
    }
    assert printed == {("Wind", "2"), *(("Clouds", number) for number in "1234")}
    waiting = {row["subject"] for row in rows if row["revised_from"]}
    assert waiting == {"Wind"}
    assert (
        "Wind · Chapter 2: 0 of 80 questions tried; studied by 2027-01-04; revised from"
        in (resieve(*study, "Wind")[1])
    )
