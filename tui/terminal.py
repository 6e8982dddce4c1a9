"""The terminal on Linux and macOS: whatever bytes it sends, the app goes on.

Textual's own driver ends the app at bytes that are not UTF-8, and takes an escape inside a paste
for keys.
"""

import os
import re
import selectors
from codecs import getincrementaldecoder
from collections.abc import Iterator

from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.events import Key, Paste
from textual.message import Message

from domain.text import safe_text

_POLL = 0.1
"""Seconds between looks at whether the app is leaving."""

_PATIENCE = 20
"""Polls without a byte after which a paste that did not end has ended."""

_BEGIN, _END = "\x1b[200~", "\x1b[201~"
_BEGUN = re.compile(r"\x1b(?:\[(?:20{0,2})?)?\Z")
"""What may be the beginning of a paste, cut short by the end of a read."""


class Input:
    """What a terminal sends, as messages. `feed` takes bytes as they come, in any pieces."""

    def __init__(self, parser: XTermParser) -> None:
        self._parser = parser
        self._decode = getincrementaldecoder("utf-8")("replace").decode
        self._held = ""
        self._pasted: str | None = None
        self._quiet = 0

    def feed(self, data: bytes) -> Iterator[Message]:
        """The messages that the bytes complete. Bytes that are no UTF-8 become U+FFFD."""
        self._quiet = 0
        text, self._held = self._held + self._decode(data), ""
        while text:
            if self._pasted is None:
                before, begin, text = text.partition(_BEGIN)
                if begin:
                    self._pasted = ""
                elif cut := _BEGUN.search(before):
                    before, self._held = before[: cut.start()], cut[0]
                yield from self._keys(before)
            else:
                self._pasted, end, text = (self._pasted + text).partition(_END)
                if end:
                    yield from self._paste()

    def tick(self) -> Iterator[Message]:
        """What is due because nothing came since the last tick."""
        self._quiet += 1
        if self._quiet > 1:
            held, self._held = self._held, ""
            if held == "\x1b":  # nothing followed within a poll: it is the key
                yield Key("escape", held)
            else:
                yield from self._keys(held)
        if self._pasted is not None and self._quiet > _PATIENCE:
            yield from self._paste()
        yield from self._parser.tick()

    def _keys(self, text: str) -> Iterator[Message]:
        if text:  # nothing would mean the end to the parser
            yield from self._parser.feed(text)

    def _paste(self) -> Iterator[Message]:
        pasted, self._pasted = self._pasted or "", None
        yield Paste(safe_text(pasted.replace("\r\n", "\n").replace("\r", "\n")))


class TerminalDriver(LinuxDriver):
    """Reads the terminal through `Input`."""

    def _run_input_thread(self) -> None:
        try:
            self.run_input_thread()
        except Exception as error:
            self._app.call_later(self._app._handle_exception, error)

    def run_input_thread(self) -> None:
        """Wait for input and hand it on as messages, until the app leaves."""
        parser = XTermParser(self._debug)
        terminal = Input(parser)
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                if selector.select(_POLL):
                    data = self._read()
                    if not data:
                        self._app.call_later(self._app.exit)
                        return
                    for message in terminal.feed(data):
                        self.process_message(message)
                for message in terminal.tick():
                    self.process_message(message)

    def _read(self) -> bytes:
        """What there is to read; nothing once the terminal is gone."""
        try:
            return os.read(self.fileno, 4096)
        except OSError:
            return b""
