"""Names that are never given twice: of this machine as a writer, and of records."""

import platform
import secrets
import time
import uuid
import zlib


def writer_name() -> str:
    """A name for this machine that is the same at every start."""
    node = "".join(c for c in platform.node().lower() if c.isascii() and c.isalnum())[:12]
    return f"{node or 'here'}-{zlib.crc32(str(uuid.getnode()).encode()):08x}"


class RecordIds:
    """Milliseconds, a counter, and a random part for this run: sortable, never given twice.

    A clock that is set back does not make later ids sort before earlier ones of the same run.
    """

    def __init__(self) -> None:
        self._run = secrets.token_hex(3)
        self._last = 0
        self._count = 0

    def new(self) -> str:
        """The next identity: 21 characters."""
        now = max(self._last, time.time_ns() // 1_000_000)
        self._count = self._count + 1 if now == self._last else 0
        self._last = now
        return f"{now:011x}{self._count:04x}{self._run}"
