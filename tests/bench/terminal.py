"""A real pseudo-terminal for measuring: how long until something is painted."""

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parents[2]
NO_PYC = "PYTHONDONTWRITEBYTECODE"
"""Where this is set our modules would be compiled at every start: no user waits for that."""
_QUIET = 0.025
"""Seconds without a byte after which a frame counts as painted."""
_IDLE = 1.0
"""Seconds without a byte after which a program rests, if it has not worked meanwhile."""
_WAKING = 30.0
"""Milliseconds of such a time that a program's watches and timers may take."""


class Terminal:
    """A program in a terminal of 80x24. Times are in milliseconds."""

    def __init__(self, words: Sequence[str], columns: int = 80, lines: int = 24) -> None:
        self._begin = time.perf_counter()
        self._pid, self._fd = pty.fork()
        if self._pid == 0:
            os.chdir(ROOT)
            os.environ.pop(NO_PYC, None)
            os.environ |= {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
            os.execv(sys.executable, [sys.executable, *words])
        size = struct.pack("HHHH", lines, columns, 0, 0)
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, size)
        self.shown = b""

    def until(self, text: str, patience: float = 60) -> float:
        """How long since the start until the text was written."""
        expected = text.encode()
        while expected not in self.shown:
            if not self._read(patience):
                raise TimeoutError(f"{text!r} never came: {self.shown[-2000:]!r}")
        return (time.perf_counter() - self._begin) * 1000

    def press(self, key: str, patience: float = 10) -> float:
        """How long from the key until the last byte of what it changed (something it must)."""
        self.settle()
        begin = last = time.perf_counter()
        os.write(self._fd, key.encode())
        while self._read(patience if last == begin else _QUIET):
            last = time.perf_counter()
        if last == begin:
            raise TimeoutError(f"{key!r} changed nothing: {self.shown[-2000:]!r}")
        return (last - begin) * 1000

    def settle(self, quiet: float = _QUIET) -> None:
        """Wait until nothing more is painted."""
        while self._read(quiet):
            pass

    def finish(self, key: str) -> float:
        """How long from the key until the last byte painted before the program rests."""
        self.settle()
        begin = time.perf_counter()
        os.write(self._fd, key.encode())
        return (self.rest() - begin) * 1000

    def rest(self) -> float:
        """Wait until the program has nothing more to do; when it last painted, by the clock."""
        last, before, now = time.perf_counter(), -_WAKING, 0.0
        while now - before >= _WAKING:
            while self._read(_IDLE):
                last = time.perf_counter()
            before, now = now, self.worked()
        return last

    def worked(self) -> float:
        """Milliseconds on the processor so far, of all threads. Linux tells them."""
        tasks = Path(f"/proc/{self._pid}/task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks) / 1e6

    def peak(self) -> float:
        """The most memory the program has held, in MB. Linux tells it."""
        status = Path(f"/proc/{self._pid}/status").read_text()
        line = next(line for line in status.split("\n") if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024

    def close(self) -> None:
        """End the program."""
        os.kill(self._pid, signal.SIGKILL)
        os.waitpid(self._pid, 0)
        os.close(self._fd)

    def _read(self, patience: float) -> bool:
        if not select.select([self._fd], [], [], patience)[0]:
            return False
        try:
            part = os.read(self._fd, 1 << 16)
        except OSError:
            return False
        self.shown += part
        return bool(part)
