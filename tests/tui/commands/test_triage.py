"""`triage`: what is listed, by waiting and by reason, and the sheet to print."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from banks.library import Given, Library
from domain.responses import Purpose, Reason
from domain.verdicts import Verdict
from tests.builders import FakeClock, bank, bares, library, respond
from tui.cli import main

BOOK = {"Wind": {"Force": bares(4)}}
FORCE = "book/wind.force/{}"


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str]]:
    made = library(tmp_path / "store", bank("Book", BOOK))
    respond(made, FORCE.format(1), "wrong", "wrong")
    wrong = Given(question=FORCE.format(2), verdict=Verdict.WRONG)
    [outcome] = made.record([wrong], Purpose.REVISION)
    made.reason(outcome.response.id, Reason.MIXED_UP)
    made.now.go_on(days=61)
    respond(made, FORCE.format(3), "right")
    day = str(made.today())
    made.close()

    def call(*words: str) -> tuple[int, str]:
        status = main(["--store", str(tmp_path / "store"), "--today", day, "triage", *words])
        return status, capsys.readouterr().out

    return call


def numbers(out: str) -> list[int]:
    return [question["number"] for question in json.loads(out)["questions"]]


def test_what_waits_and_what_was_mixed_up_are_listed(run) -> None:
    assert numbers(run("--waiting", "--json")[1]) == [1, 2]
    assert "2 signs, waiting" in run("--waiting")[1].splitlines()[0]
    assert numbers(run("--reason", "mixed up", "--json")[1]) == [2]
    assert numbers(run("--reason", "slip", "--json")[1]) == []


def test_a_reason_that_is_none_is_wrong_use(run) -> None:
    with pytest.raises(SystemExit) as leaving:
        run("--reason", "tired")
    assert leaving.value.code == 2


def test_the_list_goes_on_a_sheet_with_its_signs(run, tmp_path: Path) -> None:
    sheet = tmp_path / "list.txt"

    status, out = run("--waiting", "--sheet", str(sheet))

    assert (status, out) == (0, f"{sheet}: 2 questions to look up\n")
    text = sheet.read_text(encoding="utf-8")
    assert text.startswith("Waiting\n")
    assert "2 questions on" in text
    assert "· 2 waiting" in text
    assert "    1 !!  [ ][ ][ ]" in text
    assert "    2 !   [ ][ ][ ]" in text


def test_an_empty_list_and_an_empty_store_are_told(run, tmp_path: Path, capsys) -> None:
    assert run("--reason", "slip") == (0, "No such questions.\n")
    for command in ("triage", "report"):
        assert main(["--store", str(tmp_path / "empty"), command]) == 0
        assert capsys.readouterr().out == "No questions yet: `resieve import FILE` adds some.\n"


def test_an_empty_list_makes_no_sheet(run, tmp_path: Path) -> None:
    assert run("--reason", "slip", "--sheet", str(tmp_path / "list.txt"))[0] != 0
    assert not (tmp_path / "list.txt").exists()


def test_the_same_list_is_said_again_without_reading_the_store(run, tmp_path, monkeypatch) -> None:
    everything, waiting = run(), run("--waiting")
    assert everything != waiting == run("--waiting")
    with monkeypatch.context() as patch:
        patch.setattr(Library, "open", lambda *_, **__: pytest.fail("the store was read"))
        assert run("--waiting") == waiting
    made = Library.open(tmp_path / "store", FakeClock())
    respond(made, FORCE.format(4), "wrong")
    made.close()
    assert run()[1].count("1 sign") > everything[1].count("1 sign")
