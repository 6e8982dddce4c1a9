"""`export` and the sheet of `sweep`: out of a store, into files that come back."""

import csv
import dataclasses
import json
from pathlib import Path

import msgspec
import pytest

from banks.importers.common import Hints
from banks.importers.detect import detect, parse
from banks.importers.marks_reader import parse_marks
from banks.library import Library
from domain.questions import Figure
from domain.verdicts import Confidence
from tests.builders import bank, bare, full, keyed, library, respond
from tui.cli import main
from tui.commands.exporting import FORMATS

QUESTIONS = [
    msgspec.structs.replace(
        full(1, "Which is low? [figure: a layer]", ("Cirrus", "Stratus"), key="b"),
        figures=(Figure("layer.png", "a layer"),),
    ),
    keyed(2, "c"),
    bare(3),
]
BOOK = bank("Book", {"Sky": {"Clouds": QUESTIONS}, "Sea": {"Tides": [bare(1)]}})
PNG = b"\x89PNG\r\n\x1a\n..."
FIRST = "book/sky.clouds/1"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    folder = tmp_path / "store"
    opened = library(folder, BOOK)
    opened.store.save_figure("book", "layer.png", PNG)
    respond(opened, FIRST, "wrong", "wrong")
    respond(opened, FIRST, "right", confidence=Confidence.UNSURE)
    opened.dispute(FIRST, ("a",), "see p. 3")
    opened.close()
    return folder


def run(store: Path, *words: str | Path) -> int:
    return main(["--store", str(store), *map(str, words)])


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_holds_every_question(name: str, store: Path, tmp_path: Path) -> None:
    file = tmp_path / f"out{FORMATS[name]}"

    assert run(store, "export", file, "--format", name) == 0

    parsed = parse(file.read_bytes(), Hints())
    assert detect(file.read_bytes()) == name.partition("-")[0].replace("md", "markdown")
    assert [(d.subject, d.chapter, d.number) for d in parsed.drafts] == [
        ("Sky", "Clouds", 1), ("Sky", "Clouds", 2), ("Sky", "Clouds", 3), ("Sea", "Tides", 1),
    ]  # fmt: skip


def test_the_ending_says_the_format_and_figures_go_along(store: Path, tmp_path: Path) -> None:
    assert run(store, "export", tmp_path / "out.zip", "--subject", "sky") == 0

    parsed = parse((tmp_path / "out.zip").read_bytes(), Hints())
    assert parsed.format == "QTI 2.2"
    assert parsed.drafts[0].figures == (("layer.png", "a layer", PNG),)
    assert {draft.subject for draft in parsed.drafts} == {"Sky"}


def test_marks_go_out_under_the_key_in_force(store: Path, tmp_path: Path) -> None:
    assert run(store, "export", tmp_path / "marks.csv", "--marks") == 0

    marks = parse_marks((tmp_path / "marks.csv").read_bytes(), Hints()).marks
    assert [(str(m.day), m.verdict, m.confidence) for m in marks] == [
        ("2026-03-02", "wrong", "sure"),
        ("2026-03-03", "wrong", "sure"),
        ("2026-03-04", "right", "unsure"),
    ]


def test_history_and_disputes_go_out(store: Path, tmp_path: Path) -> None:
    assert run(store, "export", tmp_path / "all.json", "--history") == 0
    assert run(store, "export", tmp_path / "ask.md", "--disputes") == 0

    questions = json.loads((tmp_path / "all.json").read_bytes())["questions"]
    assert [len(question.get("history", [])) for question in questions] == [3, 0, 0, 0]
    assert "own key: **a**" in (tmp_path / "ask.md").read_text(encoding="utf-8")


def test_notes_and_the_diary_go_out(store: Path, tmp_path: Path, capsys) -> None:
    opened = Library.open(store)
    opened.note(FIRST, "low, not thin")
    opened.close()

    assert run(store, "export", tmp_path / "notes.csv", "--notes") == 0
    capsys.readouterr()
    assert run(store, "export", tmp_path / "diary.csv", "--diary") == 0
    assert "3 study days of all banks written" in capsys.readouterr().out
    assert run(store, "export", tmp_path / "one.csv", "--diary", "--bank", "book") == 2
    assert run(store, "export", tmp_path / "sea.csv", "--notes", "--subject", "Sea") == 1
    assert run(store, "export", tmp_path / "diary.md", "--diary") == 2

    [note] = csv.DictReader((tmp_path / "notes.csv").open(encoding="utf-8-sig"))
    assert (note["chapter"], note["number"], note["note"]) == ("Clouds", "1", "low, not thin")
    days = csv.reader((tmp_path / "diary.csv").open(encoding="utf-8-sig"))
    assert [line[1:5] for line in days] == [
        ["questions", "right_first", "missed", "settled"],
        ["1", "0", "1", "0"],
        ["1", "0", "1", "0"],
        ["1", "1", "0", "0"],
    ]


def test_standard_output_takes_the_file(store: Path, capfdbinary: pytest.CaptureFixture) -> None:
    assert run(store, "export", "-", "--format", "jsonl") == 0

    assert capfdbinary.readouterr().out.count(b"\n") == 4


def test_a_program_can_read_what_was_done(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    file = tmp_path / "out.csv"

    run(store, "export", file, "--json")

    document = json.loads(capsys.readouterr().out)
    assert document == {"file": str(file), "format": "csv", "bank": "book", "questions": 4}


def test_a_file_that_is_there_is_overwritten_only_by_force(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    file = tmp_path / "out.csv"
    file.write_text("mine")

    assert run(store, "export", file) == 1
    assert file.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert run(store, "export", file, "--force") == 0
    assert file.read_text() != "mine"


@pytest.mark.parametrize(
    "words",
    [
        ["out.docx"],
        ["out.zip", "--history"],
        ["out.xlsx", "--marks"],
        ["out.json", "--disputes"],
        ["out.csv", "--marks", "--disputes"],
        ["-", "--format", "csv", "--json"],
    ],
)
def test_words_that_do_not_go_together_are_wrong_use(
    words: list[str], store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    try:
        status = run(store, "export", *words)
    except SystemExit as leaving:
        status = leaving.code

    assert status == 2
    assert [path.name for path in tmp_path.iterdir()] == ["store"]


def test_the_sheet_of_a_sweep_holds_what_was_picked(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    sheet = tmp_path / "sheet.txt"

    assert run(store, "sweep", "--minutes", "30", "--sheet", sheet, "--json") == 0

    picked = json.loads(capsys.readouterr().out)["questions"]
    assert [question["number"] for question in picked] == [1]
    assert "    1 !!  [ ][ ][ ]" in sheet.read_text(encoding="utf-8")


def test_a_handover_gives_a_fresh_store_the_bank_and_nothing_of_the_history(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    opened = Library.open(store)
    subjects = [
        msgspec.structs.replace(subject, weight=weight)
        for subject, weight in zip(BOOK.subjects, (7.0, 3.0), strict=True)
    ]
    opened.save_bank(dataclasses.replace(BOOK, subjects=tuple(subjects)))
    opened.note(FIRST, "a note of mine")
    opened.close()
    file = tmp_path / "next.json"
    assert run(store, "exam", "--came", "Tides; a question on halos") == 0
    assert run(store, "export", file, "--handover") == 0
    fresh = tmp_path / "fresh"
    assert run(fresh, "import", file, "--bank", "Book") == 0
    assert "0 retired" in capsys.readouterr().out

    again = tmp_path / "again.json"
    assert run(fresh, "export", again, "--handover") == 0
    handed, received = (json.loads(path.read_bytes()) for path in (file, again))
    handed["questions"][0].pop("figures")  # pictures go along in QTI packages only
    for part in ("title", "weights", "questions"):
        assert received[part] == handed[part], part
    assert handed["weights"] == {"Sky": 7, "Sea": 3}
    opened = Library.open(fresh, read_only=True)
    assert not list(opened.history.questions())
    opened.close()

    words = file.read_text(encoding="utf-8")
    assert "a question on halos" in words
    assert "Sky, Clouds, 1: a, not b (see p. 3)" in words
    read = "".join(path.read_text() for path in fresh.rglob("*.json*") if path.is_file())
    for private in ("a note of mine", "wrong", "unsure", "2026-03", '"verdict"'):
        assert private not in words
        assert private not in read
