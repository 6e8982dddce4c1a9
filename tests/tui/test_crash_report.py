"""A fault of the app's own: plain words on the terminal, the trace in a file."""

from pathlib import Path

import pytest

from tests.builders import bank, bares, library
from tests.tui.stage import Stage
from tui.crash_report import crash_message
from tui.screens.triage import TriageScreen


def test_the_words_name_a_file_with_the_trace(monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    words = crash_message(ZeroDivisionError("by nought"))

    (kept,) = tmp_path.iterdir()
    assert str(kept) in words
    assert "Traceback" not in words
    assert "ZeroDivisionError: by nought" in kept.read_text()


def test_without_a_place_for_the_file_the_words_name_the_error(monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))

    assert "ZeroDivisionError: by nought" in crash_message(ZeroDivisionError("by nought"))


async def fall(app: Stage) -> None:
    async with app.run_test() as pilot:
        app.call_later(lambda: 1 / 0)
        await pilot.pause()


async def test_an_unforeseen_error_leaves_words_on_the_terminal_and_no_trace(
    monkeypatch, tmp_path: Path
):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    app = Stage(
        library(tmp_path / "store", bank("Book", {"Wind": {"One": bares(2)}})), TriageScreen()
    )
    printed = []
    monkeypatch.setattr(app, "panic", lambda *words: printed.extend(map(str, words)) or app.exit())
    with pytest.raises(ZeroDivisionError):
        await fall(app)

    assert "Everything shown as recorded is saved." in printed[0]
    assert [file.name for file in tmp_path.glob("resieve-fault-*.txt")]
