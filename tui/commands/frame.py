"""What every command is made of: its words, and the context it runs in."""

import gc
import os
import sys
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

from domain.errors import InputError
from domain.text import safe_text, safe_value

if TYPE_CHECKING:
    from banks.clock import Clock
    from banks.library import Library
    from banks.store.folder import Store

View = TypeVar("View")


@dataclass
class Context:
    """Where a command runs: the store's folder, a pretended day, and the two streams."""

    folder: Path
    today: date | None = None
    out: TextIO = field(default_factory=lambda: sys.stdout)
    err: TextIO = field(default_factory=lambda: sys.stderr)
    closing: ExitStack = field(default_factory=ExitStack)
    """Closes the libraries that were opened when the command is over."""
    may_write: bool = False
    """Whether something may have been recorded, so that doing it again would do it twice."""
    lost: Exception | None = None
    """Why nothing more can be said on standard output."""

    def clock(self, turn_hour: int = 3) -> "Clock":
        """The candidate's clock, or the pretended one."""
        from banks.clock import local_now, pretend_clock

        return local_now if self.today is None else pretend_clock(self.today, turn_hour)

    def library(self, *, read_only: bool = False) -> "Library":
        """Open the library; reading commands pass `read_only` and so never wait for a lock."""
        from banks.library import Library

        library = Library.open(self.folder, self.clock(), read_only=read_only)
        gc.freeze()  # nothing of the history is garbage: it need not be looked through
        self.closing.callback(library.close)
        self.closing.callback(library.keep_history)
        if not read_only:
            self.closing.callback(self._back_up, library)
        self.may_write = self.may_write or not read_only
        for notice in library.notices:
            self.warn(notice)
        return library

    def view(
        self,
        name: str,
        shape: type[View],
        make: "Callable[[Library], View]",
        request: str = "",
    ) -> View:
        """What a reading command shows: as it was made last, while nothing has changed since.

        `request` says in words what was asked for beyond the name.
        """
        from banks.views.kept_views import files_of, keep_view, recall_view

        files = files_of(self.folder)
        if (kept := recall_view(self.folder, self.clock(), name, shape, request)) is not None:
            return kept
        from banks.library import paused_collector

        library = self.library(read_only=True)
        with paused_collector():
            made = make(library)
            gc.freeze()  # nor is what was made of it
        keep_view(library, files, name, made, request)
        return made

    def store(self) -> "Store":
        """Open the store alone, for writing."""
        from banks.maintenance.opening import prepare
        from banks.store.folder import Store

        store = Store.open(self.folder, prepare=prepare)
        self.closing.callback(store.close)
        self.may_write = True
        return store

    def _back_up(self, library: "Library") -> None:
        """Keep today's copy, as the app does; what the command did is not undone by a failure."""
        from domain.errors import StoreError

        try:
            library.keep_daily_copy()
        except StoreError as problem:
            self.warn(f"no daily backup was made: {problem}")

    def say(self, line: str = "") -> None:
        """A line to standard output."""
        self._write(safe_text(line) + "\n")

    def warn(self, line: str) -> None:
        """A line to standard error."""
        with suppress(OSError, ValueError):
            print(f"resieve: {safe_text(line)}", file=self.err)

    def json(self, value: Any) -> None:
        """A JSON document to standard output, indented, as UTF-8 whatever the terminal's is."""
        import msgspec

        self.binary(msgspec.json.format(msgspec.json.encode(safe_value(value)), indent=2) + b"\n")

    def binary(self, content: bytes) -> None:
        """A whole file to standard output."""
        raw = getattr(self.out, "buffer", None)
        if raw is None:
            self._write(content.decode())
            return
        try:
            self.out.flush()
            raw.write(content)
            raw.flush()
        except (OSError, ValueError) as problem:
            self.lost = problem

    def finish(self, status: int) -> int:
        """The exit status. What was recorded stays recorded: a script must not do it again
        because it could not be told.
        """
        try:
            if self.out is not None:
                self.out.flush()
        except (OSError, ValueError) as problem:
            self.lost = problem
        if self.lost is None:
            return status
        with suppress(OSError, ValueError, AttributeError):  # nor must the interpreter try again
            os.dup2(os.open(os.devnull, os.O_WRONLY), self.out.fileno())
        if not isinstance(self.lost, BrokenPipeError):
            self.warn(f"the output could not be written ({self.lost})")
        return status if self.may_write else max(status, 1)

    def _write(self, text: str) -> None:
        if self.out is None or self.lost is not None:
            return
        try:
            self.out.write(text)
        except (OSError, ValueError) as problem:
            self.lost = problem


@dataclass(frozen=True)
class Command:
    """A command: its name, one sentence, its options, and what it does (giving the exit status)."""

    name: str
    words: str
    options: Callable[[ArgumentParser], None]
    run: Callable[[Context, Namespace], int]


def place_options(parser: ArgumentParser, *, needed: bool) -> None:
    """--bank, --subject, --chapter."""
    parser.add_argument("--bank", metavar="B", help="bank; may be omitted if there is only one")
    parser.add_argument("--subject", metavar="S", required=needed, help="the subject's title")
    parser.add_argument(
        "--chapter", metavar="C", required=needed, help="the chapter's title or number"
    )


def json_option(parser: ArgumentParser) -> None:
    """--json."""
    parser.add_argument("--json", action="store_true", help="a JSON document for programs")


def day_option(text: str) -> date:
    """A day as an option's value, as people write it. Raises ArgumentTypeError."""
    with suppress(ValueError):
        return date.fromisoformat(text)  # most are, and the parser takes a while to import
    from domain.plan.parsing import parse_day

    try:
        return parse_day(text)
    except InputError as problem:
        raise ArgumentTypeError(str(problem).rstrip(".")) from None
