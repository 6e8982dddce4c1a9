"""What every command is made of: its words, and the context it runs in."""

import sys
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from domain.text import safe_text, safe_value

if TYPE_CHECKING:
    from banks.clock import Clock
    from banks.library import Library


@dataclass
class Context:
    """Where a command runs: the store's folder, a pretended day, and the two streams."""

    folder: Path
    today: date | None = None
    out: TextIO = field(default_factory=lambda: sys.stdout)
    err: TextIO = field(default_factory=lambda: sys.stderr)
    closing: ExitStack = field(default_factory=ExitStack)
    """Closes the libraries that were opened when the command is over."""

    def clock(self, turn_hour: int = 3) -> "Clock":
        """The candidate's clock, or the pretended one."""
        from banks.clock import local_now, pretend_clock

        return local_now if self.today is None else pretend_clock(self.today, turn_hour)

    def library(self, *, read_only: bool = False) -> "Library":
        """Open the library; reading commands pass `read_only` and so never wait for a lock."""
        from banks.library import Library

        library = Library.open(self.folder, self.clock(), read_only=read_only)
        self.closing.callback(library.close)
        for notice in library.store.notices:
            self.warn(notice)
        return library

    def say(self, line: str = "") -> None:
        """A line to standard output."""
        print(safe_text(line), file=self.out)

    def warn(self, line: str) -> None:
        """A line to standard error."""
        print(f"resieve: {safe_text(line)}", file=self.err)

    def json(self, value: Any) -> None:
        """A JSON document to standard output, indented, as UTF-8."""
        import msgspec

        print(
            msgspec.json.format(msgspec.json.encode(safe_value(value)), indent=2).decode(),
            file=self.out,
        )


@dataclass(frozen=True)
class Command:
    """A command: its name, one sentence, its options, and what it does (giving the exit status)."""

    name: str
    words: str
    options: Callable[[ArgumentParser], None]
    run: Callable[[Context, Namespace], int]


def place_options(parser: ArgumentParser, *, needed: bool) -> None:
    """--bank, --subject, --chapter."""
    parser.add_argument("--bank", metavar="B", help="the bank; may be left out if there is one")
    parser.add_argument("--subject", metavar="S", required=needed, help="the subject's title")
    parser.add_argument(
        "--chapter", metavar="C", required=needed, help="the chapter's title or number"
    )


def json_option(parser: ArgumentParser) -> None:
    """--json."""
    parser.add_argument("--json", action="store_true", help="a JSON document for programs")


def iso_date(text: str) -> date:
    """A day as an option's value. Raises ArgumentTypeError."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is not a date like 2026-11-25") from None
