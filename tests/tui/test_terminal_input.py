"""What a terminal sends, in whatever pieces, becomes keys and pastes and never an error."""

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.events import Key, Paste

if sys.platform == "win32":
    pytest.skip("another driver reads the terminal there", allow_module_level=True)

from textual._xterm_parser import XTermParser

from tui.terminal import Input


def messages(*reads: bytes, ticks: int = 0) -> list:
    terminal = Input(XTermParser())
    received = [message for read in reads for message in terminal.feed(read)]
    return received + [message for _ in range(ticks) for message in terminal.tick()]


def keys(received: list) -> list[str]:
    return [message.key for message in received if isinstance(message, Key)]


def pastes(received: list) -> list[str]:
    return [message.text for message in received if isinstance(message, Paste)]


def test_an_escape_inside_a_paste_presses_no_key() -> None:
    received = messages(b"a\x1b[200~x\x1b[Ay\x1b\x1bOPz\x1bq\x1b[201~b")

    assert keys(received) == ["a", "b"]
    assert pastes(received) == ["x[AyOPzq"]


@given(st.integers(0, 30), st.integers(0, 30))
def test_it_does_not_matter_where_a_read_ends(first: int, second: int) -> None:
    sent = b"a\x1b[200~\xc3\xa9\r\nx\x1b[201~b\x1b[A"
    cuts = sorted((first, second))
    received = messages(sent[: cuts[0]], sent[cuts[0] : cuts[1]], sent[cuts[1] :])

    assert keys(received) == ["a", "b", "up"]
    assert pastes(received) == ["é\nx"]


def test_bytes_that_are_no_text_end_nothing() -> None:
    received = messages(b"\xe9a\xff\x1b[M\xff\xf0\x80b")

    assert {"a", "b"} <= set(keys(received))


@given(st.lists(st.binary(max_size=12), max_size=8))
def test_no_bytes_raise(reads: list[bytes]) -> None:
    messages(*reads, ticks=30)


def test_a_paste_without_an_end_does_not_swallow_the_keyboard() -> None:
    terminal = Input(XTermParser())
    received = list(terminal.feed(b"\x1b[200~lost"))
    for _ in range(30):
        received += terminal.tick()
    received += terminal.feed(b"q")

    assert pastes(received) == ["lost"]
    assert keys(received) == ["q"]


def test_the_beginning_of_a_sequence_that_nothing_follows_is_let_go() -> None:
    terminal = Input(XTermParser())
    received = list(terminal.feed(b"\x1b[20"))
    for _ in range(3):
        received += terminal.tick()
    received += terminal.feed(b"~q")

    assert keys(received)[-1] == "q"


def test_an_escape_alone_is_the_key_after_one_poll() -> None:
    terminal = Input(XTermParser())
    received = [*terminal.feed(b"\x1b"), *terminal.tick()]
    assert keys(received) == []
    assert keys(list(terminal.tick())) == ["escape"]


def test_an_arrow_cut_by_the_end_of_a_read_is_an_arrow() -> None:
    assert keys(messages(b"\x1b", b"[A\x1b[", b"B")) == ["up", "down"]
