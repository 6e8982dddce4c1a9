"""Whatever standard output is, a command neither ends in a trace nor fails after it recorded."""

import errno
import io
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from banks.library import Library
from tests.builders import FakeClock, bank, bares, library
from tui.cli import commands, main

ROOT = Path(__file__).parents[3]
MARK = ["mark", "--bank", "Bök ☃", "--subject", "Wind ☃", "--chapter", "One", "--wrong", "1,2"]


@pytest.fixture
def store(tmp_path) -> Path:
    library(tmp_path / "store", bank("Bök ☃", {"Wind ☃": {"One": bares(3)}})).close()
    return tmp_path / "store"


def run(store: Path, *words: str, encoding: str = "utf-8", **more) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "tui", "--store", str(store), *words], cwd=ROOT, timeout=60,
        env=os.environ | {"PYTHONIOENCODING": encoding, "PYTHONPATH": str(ROOT)}, check=False,
        **({"stdout": subprocess.PIPE} | more), stderr=subprocess.PIPE,
    )  # fmt: skip


def recorded(store: Path) -> int:
    opened = Library.open(store, FakeClock(), read_only=True)
    return sum(len(opened.history.responses(question)) for question in opened.history.questions())


@pytest.mark.parametrize(("words", "encoding"), [(MARK, "ascii"), (["triage"], "utf-16")])
def test_a_terminal_of_any_encoding_gets_what_it_can_show(store, words, encoding):
    done = run(store, *words, encoding=encoding)

    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert recorded(store) == 2 * (words is MARK)


EVERY = (
    MARK,
    ["key", "--bank", "Bök ☃", "--subject", "Wind ☃", "--chapter", "One", "1 a 2 b"],
    ["triage"],
    ["plan", "--exam", "2027-06-01"],
    ["today"],
    ["sweep", "--minutes", "10"],
    ["report"],
    ["exam", "--questions", "2"],
    ["mock", "begin", "--questions", "2"],
    ["paper", "list"],
    ["bank"],
    ["first-study", "--subject", "Wind ☃", "--done"],
    ["outline", "FOLDER/shape.csv", "--bank", "Ätlas ☃"],
    ["import", "FOLDER/new.csv", "--bank", "Ätlas ☃"],
    ["export", "FOLDER/☃.csv", "--bank", "Bök ☃"],
    ["merge", "FOLDER/other"],
    ["backup", "FOLDER/☃.zip"],
    ["restore", "FOLDER/☃.zip"],
    ["check"],
)
"""Each command at least once, those that write what cannot be told twice among them."""
STARTS_THE_APP = {"demo"}


class Full(io.TextIOWrapper):
    """A standard output on a full disk."""

    def write(self, text: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")


def changed_at(folder: Path) -> dict[Path, int]:
    """When each file was changed that holds more than what can be worked out again."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.parent.name != "cache")
    return {path: path.stat().st_mtime_ns for path in files}


@pytest.mark.parametrize("kind", [io.TextIOWrapper, Full])
def test_every_command_does_its_work_whatever_standard_output_can_show(
    store, kind, monkeypatch, capsys
):
    """Output in any encoding; a command never fails after it has recorded."""
    assert {words[0] for words in EVERY} == {
        command.name for command in commands()
    } - STARTS_THE_APP
    folder = store.parent
    library(folder / "other", bank("Bök ☃", {"Wind ☃": {"One": bares(3)}})).close()
    (folder / "shape.csv").write_text("subject,chapter,questions\nWölken ☃,Höhe,3\n", "utf-8")
    (folder / "new.csv").write_text(
        "subject,chapter,number,stem,a,b,key\nWölken ☃,Höhe,4,Ist ☃?,ja,nein,a\n", "utf-8"
    )
    writing = set()
    for words in EVERY:
        monkeypatch.setattr(sys, "stdout", kind(io.BytesIO(), encoding="ascii"))
        placed = [word.replace("FOLDER", str(folder)) for word in words]
        before = changed_at(folder)
        status = main(["--store", str(store), *placed])
        after = changed_at(folder)
        err = capsys.readouterr().err
        assert "internal error" not in err, words
        assert "Traceback" not in err, words
        has_written = {path for path in after if before.get(path) != after[path]} != set()
        assert status == 0 or (kind is Full and not has_written), (words, err)
        writing |= {words[0]} if has_written else set()
    assert writing >= {"mark", "plan", "exam", "mock", "key", "outline", "import", "merge"}


def test_every_command_s_help_is_shown_in_any_encoding(monkeypatch):
    for command in commands():
        raw = io.BytesIO()
        monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
        with pytest.raises(SystemExit) as left:
            main([command.name, "--help"])
        sys.stdout.flush()
        assert left.value.code == 0
        assert b"usage: resieve" in raw.getvalue()


def test_a_command_writes_to_its_context_alone():
    """`Context` knows what can't be shown; nothing goes past it."""
    past = re.compile(r"\bprint\(|sys\.std(out|err)\.write")
    for path in (ROOT / "tui" / "commands").glob("*.py"):
        assert path.name == "frame.py" or not past.search(path.read_text("utf-8")), path


def test_json_is_utf8_in_a_terminal_that_is_not(store):
    assert "Wind ☃".encode() in run(store, "triage", "--json", encoding="ascii").stdout


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is always full")
@pytest.mark.parametrize(("words", "status"), [(MARK, 0), (["triage"], 1)])
def test_what_was_recorded_is_no_failure_though_the_output_is_full(store, words, status):
    with open("/dev/full", "wb") as full:
        done = run(store, *words, stdout=full)

    assert done.returncode == status, done.stderr
    assert b"could not be written" in done.stderr
    assert b"Traceback" not in done.stderr
    assert recorded(store) == 2 * (words is MARK)


def test_a_reader_that_has_gone_is_no_failure_of_what_was_recorded(store):
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = run(store, *MARK, stdout=writer)
    finally:
        os.close(writer)

    assert done.returncode == 0, done.stderr
    assert done.stderr == b""
    assert recorded(store) == 2
