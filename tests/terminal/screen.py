"""A program in a pseudo-terminal of 80x24, as a person sees it."""

import os
import signal
from collections.abc import Sequence
from pathlib import Path

import pexpect
import pyte

ROOT = Path(__file__).parents[2]
PATIENCE = 60
"""Seconds until something awaited counts as never coming; no speed is measured here."""


class TerminalScreen:
    """What stands on the screen, and the keys to press."""

    def __init__(self, command: Sequence[str], **environment: str) -> None:
        self._screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self._screen)
        self._app = pexpect.spawn(
            command[0],
            list(command[1:]),
            dimensions=(24, 80),
            cwd=ROOT,
            timeout=PATIENCE,
            env=os.environ | {"TERM": "xterm-256color"} | environment,
        )

    def until(self, *texts: str) -> str:
        """Read until all the texts stand on the screen together."""
        while not all(text in self.text for text in texts):
            try:
                self._stream.feed(self._app.read_nonblocking(1 << 16, PATIENCE))
            except (pexpect.TIMEOUT, pexpect.EOF) as ended:
                raise AssertionError(f"{texts} never stood on:\n{self.text}") from ended
        return self.text

    @property
    def text(self) -> str:
        """The whole screen, a line per row."""
        return "\n".join(self._screen.display)

    def type(self, keys: str) -> None:
        """Press keys."""
        self._app.send(keys)

    def kill(self) -> None:
        """End the program with no warning."""
        self._app.kill(signal.SIGKILL)
        self._app.close()

    def exit_status(self) -> int:
        """Read to the end of the program."""
        self._app.expect(pexpect.EOF)
        self._app.close()
        return self._app.exitstatus
