"""`check`, `backup`, `restore` and `merge`, as typed."""

import json
import zipfile
from pathlib import Path

import pytest

from tests.faults.scenarios import SECOND, fill, response, state_of
from tui.cli import main


def run(store: Path, *words: str | Path) -> int:
    return main(["--store", str(store), *map(str, words)])


def test_a_copy_goes_out_and_comes_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store, copy = tmp_path / "store", tmp_path / "copy.zip"
    fill(store, response(1))
    before = state_of(store)
    assert run(store, "backup", copy) == 0
    assert run(store, "backup", copy) == 1
    assert "nothing was overwritten" in capsys.readouterr().err
    (store / "store.json").write_bytes(b"")
    assert run(store, "check") == 1
    out = capsys.readouterr().out
    assert "wrong  store.json: can't be understood" in out
    assert "`resieve restore`" in out
    assert run(store, "restore", copy) == 0
    assert run(store, "check") == 0
    out = capsys.readouterr().out
    assert f"{store}: 1 bank, 4 questions, 1 record; " in out
    assert "no problems found" in out
    assert state_of(store) == before


def test_the_report_is_there_for_programs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fill(tmp_path, response(1))
    assert run(tmp_path, "check", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    assert document["well"] is True
    assert document["report"]["records"] == 1
    assert document["report"]["findings"][0].keys() == {"file", "problem", "remedy", "wrong"}


def test_a_merge_says_what_came_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fill(tmp_path / "a", response(1))
    fill(tmp_path / "b", response(1), response(2), banks=(SECOND,))
    assert run(tmp_path / "a", "merge", tmp_path / "b") == 0
    assert (
        "1 record and 1 question came in; on 0 questions the stores differ"
        in capsys.readouterr().out
    )
    assert run(tmp_path / "a", "merge", tmp_path / "b", "--json") == 0
    assert json.loads(capsys.readouterr().out)["records"] == 0


@pytest.mark.parametrize("words", [
    ("check",), ("backup", "x.zip"), ("restore", "none.zip"), ("merge", "none"),
])  # fmt: skip
def test_what_can_not_be_done_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    assert run(tmp_path / "none", *words) == 1
    assert capsys.readouterr().err.count("\n") == 1


def test_commands_keep_a_daily_copy_and_bring_back_what_the_log_lost(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "store"
    fill(store, response(1))
    shape = tmp_path / "shape.csv"
    shape.write_text("subject,chapter,questions\nWind,Force,5\n")
    assert run(store, "outline", shape, "--bank", "Printed") == 0
    marking = ("mark", "--bank", "Printed", "--subject", "Wind", "--chapter", "Force")
    assert run(store, *marking, "--wrong", "3") == 0
    assert run(store, *marking, "--right", "4") == 0
    assert len(list(store.glob("backups/daily-*.zip"))) == 1

    before = state_of(store)
    with zipfile.ZipFile(next(store.glob("backups/daily-*.zip"))) as copy:
        kept = {name for name in copy.namelist() if name.startswith("log/")}
    assert kept
    for name in kept:
        (store / name).write_bytes(b"")
    assert run(store, "check") == 1
    assert "`resieve check --restore-missing` brings them back" in capsys.readouterr().out
    assert run(store, "check", "--restore-missing") == 0
    assert " restored" in capsys.readouterr().out
    assert state_of(store).records <= before.records
    assert response(1) in state_of(store).records
