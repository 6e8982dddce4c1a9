"""The commands that open the app."""

import sys
from argparse import ArgumentParser, Namespace
from typing import TYPE_CHECKING

from domain.errors import UsageError
from tui.commands.frame import Command, Context

if TYPE_CHECKING:
    from banks.library import Library


def run_app(context: Context) -> int:
    """Open the app on the context's store; its parting line goes to standard output."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("the app needs a terminal; `resieve today` prints today's plan instead")
    from banks.views.startup_snapshot import recall_snapshot
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
        return run_app(context)


COMMANDS = [
    Command(
        "demo", "Open the app with sample data in a temporary folder.",
        _demo_options, _demo,
    )
]  # fmt: skip
