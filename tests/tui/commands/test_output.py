"""Whatever standard output is, a command neither ends in a trace nor fails after it recorded."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from banks.library import Library
from tests.builders import FakeClock, bank, bares, library

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
    return sum(len(opened.history.responses(one)) for one in opened.history.questions())


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-16"])
@pytest.mark.parametrize("words", [MARK, ["triage"], ["triage", "--json"], ["check"]])
def test_a_terminal_of_any_encoding_gets_what_it_can_show(store, words, encoding):
    done = run(store, *words, encoding=encoding)

    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert recorded(store) == 2 * (words is MARK)


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
