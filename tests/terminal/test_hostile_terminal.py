"""The app in a pseudo-terminal that misbehaves: it goes on, or gives the terminal back clean."""

import os
import re
import signal
import sys
import time
from datetime import date
from pathlib import Path

import pexpect
import pytest

from banks.library import Library
from banks.planning.intents import accept
from domain.plan.inputs import PlanInputs
from tests.builders import FakeClock, bank, full, library

if sys.platform == "win32":
    pytest.skip("needs a pseudo-terminal", allow_module_level=True)

ROOT = Path(__file__).parents[2]
LEFT_ON = {"1049": "l", "1000": "l", "1003": "l", "1006": "l", "2004": "l", "25": "h", "7": "h"}
"""The private modes that a shell expects after a full-screen program: h is set, l is reset."""


@pytest.fixture
def store(tmp_path: Path) -> Path:
    questions = [full(n, f"Question number {n}?", ("yes", "no")) for n in range(1, 31)]
    opened = library(tmp_path / "store", bank("Book", {"Clouds": {"High": questions}}),
                     clock=FakeClock())  # fmt: skip
    accept(opened, PlanInputs(exam=date(2026, 4, 30)))
    opened.close()
    return tmp_path / "store"


def start(store: Path, rows: int = 24, columns: int = 80) -> pexpect.spawn:
    app = pexpect.spawn(
        sys.executable, ["-m", "tui", "--store", str(store), "--today", "2026-03-02"],
        dimensions=(rows, columns), cwd=ROOT, timeout=60,
        env=os.environ | {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    app.delaybeforesend = None
    return app


def modes(output: bytes) -> dict[str, str]:
    """The last state of each private mode."""
    return {number.decode(): state.decode()
            for number, state in re.findall(rb"\x1b\[\?(\d+)([hl])", output)}  # fmt: skip


def rest(app: pexpect.spawn) -> bytes:
    app.expect(pexpect.EOF)
    app.close()
    return app.before


@pytest.mark.parametrize("name", ["SIGTERM", "SIGQUIT", "SIGHUP"])
def test_a_signal_to_end_gives_the_terminal_back_as_it_was(store: Path, name: str) -> None:
    app = start(store)
    app.expect(b"Revise")
    before = app.before
    app.kill(getattr(signal, name))
    output = before + rest(app)

    assert app.exitstatus == 128 + getattr(signal, name)
    assert {number: modes(output).get(number) for number in LEFT_ON} == LEFT_ON
    assert b"Traceback" not in output
    assert Library.open(store, FakeClock(), read_only=True).store.notices == []


def test_suspended_it_gives_the_terminal_to_the_shell_and_comes_back(store: Path) -> None:
    app = f"{sys.executable} -m tui --store {store} --today 2026-03-02"
    shell = pexpect.spawn(
        "/bin/sh", ["-i"], dimensions=(24, 80), cwd=ROOT, timeout=60,
        env=os.environ | {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT), "PS1": "shell> "},
    )  # fmt: skip
    shell.expect(b"shell> ")
    shell.sendline(app)
    shell.expect(b"Revise")
    before = shell.before
    time.sleep(0.5)
    shell.send(b"\x1a")
    shell.expect(b"shell> ")
    suspended = modes(before + shell.before)
    shell.sendline(b"fg")
    shell.expect(b"Revise")
    time.sleep(0.5)
    shell.send(b"q")
    shell.expect(b"shell> ")
    left = modes(shell.before)
    shell.sendline(b"exit")
    rest(shell)

    assert {number: suspended.get(number) for number in LEFT_ON} == LEFT_ON
    assert {number: left.get(number) for number in LEFT_ON} == LEFT_ON


def test_bytes_that_are_no_text_and_pastes_with_escapes_end_nothing(store: Path) -> None:
    app = start(store)
    app.expect(b"Revise")
    app.send(b"\xe9\xff\x1b[M \xff\xf0\r")
    app.expect(b"1 of ")
    app.send(b"\x1b[200~a\x1bb\x1b[Aa\x1b[201~")
    time.sleep(0.5)
    app.send(b"\x1b")
    app.expect(b"Revise")
    time.sleep(0.5)  # an escape that a letter follows at once would be one key with it
    app.send(b"q")
    output = rest(app)

    assert app.exitstatus == 0, output
    opened = Library.open(store, FakeClock(), read_only=True)
    assert list(opened.history.questions()) == []


@pytest.mark.parametrize("size", [(1, 1), (2, 3)])
def test_a_terminal_of_hardly_any_cells_is_no_fault(store: Path, size: tuple[int, int]) -> None:
    app = start(store, *size)
    app.expect(rb"\x1b\[\?1049h")
    for key in (b"\r", b"a", b"\x1b", *(f"\x1b[1{n}~".encode() for n in (2, 3, 4, 5, 7, 8, 9))):
        time.sleep(0.4)
        app.send(key)
    output = b""
    for _ in range(30):  # a busy machine may not have come to these keys yet
        time.sleep(0.5)
        app.send(b"\x03\x03")
        if app.expect([pexpect.EOF, pexpect.TIMEOUT], timeout=2) == 0:
            output = app.before
            break
    app.close()

    assert app.exitstatus == 0, output[-2000:]
    assert b"internal error" not in output
