"""The command line: starts the app, or runs a command.

Nothing of Textual is imported for --help, --version and the plain commands.
Exit status: 0 done, 1 a problem that is named, 2 wrong use, 130 interrupted.
"""

import os
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from domain.errors import ResieveError, UsageError
from tui.commands.frame import Command, Context, day_option

if TYPE_CHECKING:
    from banks.library import Library

VERSION = "0.1.0"
GROUPS = (
    "evidence",
    "marking",
    "banks",
    "maintenance",
    "importing",
    "papers",
    "planning",
    "exporting",
)
"""The modules of `tui.commands`; each lists its COMMANDS."""


class Parser(ArgumentParser):
    """Wrong use is one line on standard error and exit status 2."""

    def error(self, message: str) -> NoReturn:
        """Say it and leave."""
        self.exit(2, f"{self.prog}: {message} (see {self.prog} --help)\n")


def commands() -> list[Command]:
    """Every command there is."""
    demo = Command(
        "demo", "Open the app with sample data in a temporary folder.", _demo_options, _demo
    )
    groups = (import_module(f"tui.commands.{group}").COMMANDS for group in GROUPS)
    return [demo, *chain.from_iterable(groups)]


def parser(words: Sequence[str]) -> ArgumentParser:
    """As much of the command line as these words call for.

    Without a command that is what opens the app; else every command by name, and the options of
    those named.
    """
    whole = Parser(
        prog="resieve",
        description="Plan and practise your revision of a printed question bank. "
        "Without a command it opens the app.",
    )
    whole.add_argument("--version", action="version", version=f"resieve {VERSION}")
    whole.add_argument("--store", type=Path, metavar="DIR", help="the store's folder")
    whole.add_argument(
        "--today", type=day_option, metavar="YYYY-MM-DD", help="act as if today were this date"
    )
    whole.set_defaults(run=run_app)
    if not _opens_the_app(words):
        _add_commands(whole, words)
    return whole


def _add_commands(whole: ArgumentParser, words: Sequence[str]) -> None:
    names = whole.add_subparsers(title="commands", metavar="COMMAND", parser_class=Parser)
    for command in commands():
        parser = names.add_parser(command.name, help=command.words, description=command.words)
        if command.name in words:
            command.options(parser)
            parser.set_defaults(run=command.run)


def _opens_the_app(words: Sequence[str]) -> bool:
    """Whether there is no command: then none need be known, and the app is there sooner."""
    rest = iter(words)
    for word in rest:
        if word in ("--store", "--today"):
            next(rest, None)
        elif not word.startswith(("--store=", "--today=")):
            return False
    return True


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line; the exit status."""
    words = sys.argv[1:] if words is None else words
    if isinstance(sys.stdout, TextIOWrapper):  # a terminal of any encoding gets what it can show
        sys.stdout.reconfigure(errors="replace")
    arguments = parser(words).parse_args(words)
    context = Context(_folder(arguments), arguments.today)
    try:
        with context.closing:
            status: int = arguments.run(context, arguments)
    except ResieveError as problem:
        context.warn(str(problem))
        status = problem.exit_status
    except KeyboardInterrupt:
        return 130
    except Exception as error:
        from tui.crash_report import crash_message

        context.warn(crash_message(error).removeprefix("resieve: "))
        status = 1
    return context.finish(status)


def _folder(arguments: Namespace) -> Path:
    """`--store`, else `RESIEVE_STORE`, else the platform's folder for user data."""
    named = arguments.store or os.environ.get("RESIEVE_STORE")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("resieve", appauthor=False)


def run_app(context: Context, _: Namespace) -> int:
    """Open the app on the context's store; its parting line goes to standard output."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("the app needs a terminal; `resieve today` prints today's plan instead")
    from banks.views.kept_views import recall_snapshot
    from tui.app import Resieve

    clock = context.clock()

    def open_library(read_only: bool) -> "Library":
        from banks.library import Library

        return Library.open(context.folder, clock, read_only=read_only)

    app = Resieve(open_library, glance=recall_snapshot(context.folder, clock))
    parting = app.run()
    if parting:
        context.say(parting)
    return app.return_code or 0


def _demo_options(parser: ArgumentParser) -> None:
    parser.add_argument("--seed", type=int, default=1, help="use another sample history")


def _demo(context: Context, arguments: Namespace) -> int:
    from tempfile import TemporaryDirectory

    from banks.demo.making import make_demo

    with TemporaryDirectory(prefix="resieve-demo-") as folder:
        context.folder = make_demo(folder, context.clock(), arguments.seed)
        return run_app(context, arguments)


if __name__ == "__main__":
    sys.exit(main())
