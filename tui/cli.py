"""The command line: starts the app, or runs one of its scriptable twins.

Nothing of Textual is imported for --help, --version and the plain commands.
Exit status: 0 done, 1 a problem that is named, 2 wrong use, 130 interrupted.
"""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path
from typing import NoReturn

from domain.errors import ResieveError
from tui.commands.frame import Command, Context, iso_date

VERSION = "0.1.0"
GROUPS = (
    "start_app",
    "looking",
    "marking",
    "banks",
    "maintenance",
    "importing",
    "evidence",
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
    return [
        command for group in GROUPS for command in import_module(f"tui.commands.{group}").COMMANDS
    ]


def parser(*, with_commands: bool = True) -> ArgumentParser:
    """The whole command line, or as much of it as opens the app."""
    whole = Parser(
        prog="resieve",
        description="Plan and practise your revision of a printed question bank. "
        "Without a command it opens the app.",
    )
    whole.add_argument("--version", action="version", version=f"resieve {VERSION}")
    whole.add_argument("--store", type=Path, metavar="DIR", help="the store's folder")
    whole.add_argument(
        "--today", type=iso_date, metavar="YYYY-MM-DD", help="act as if today were this date"
    )
    whole.set_defaults(run=_open_app)
    if with_commands:
        _add_commands(whole)
    return whole


def _add_commands(whole: ArgumentParser) -> None:
    names = whole.add_subparsers(title="commands", metavar="COMMAND", parser_class=Parser)
    for command in commands():
        one = names.add_parser(command.name, help=command.words, description=command.words)
        command.options(one)
        one.set_defaults(run=command.run)


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
    arguments = parser(with_commands=not _opens_the_app(words)).parse_args(words)
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
    chosen: Path | None = arguments.store
    if chosen:
        return chosen
    from banks.store.location import default_folder

    return default_folder()


def _open_app(context: Context, _: Namespace) -> int:
    from tui.commands.start_app import run_app

    return run_app(context)


if __name__ == "__main__":
    sys.exit(main())
