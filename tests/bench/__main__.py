"""`python -m tests.bench [TOPIC …]`: the table of speeds, by topic; without one all of them.

Most figures are ratios against something measured in the same run, so that they mean the same on
another machine. Run it on a machine that has nothing else to do.
"""

import sys
from argparse import ArgumentParser
from importlib import import_module

from tests.bench.table import printed

TOPICS = (
    "starting", "commands", "keys", "recording", "reading", "memory", "importing", "screens",
    "paper", "plan", "evidence",
)  # fmt: skip
"""Modules of this folder; each gives its `rows()`."""


def main() -> int:
    """Print the table; the exit status."""
    parser = ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("topics", nargs="*", metavar="TOPIC", help=", ".join(TOPICS))
    for topic in parser.parse_args().topics or TOPICS:
        if topic not in TOPICS:
            parser.error(f"{topic!r} is no topic; there are {', '.join(TOPICS)}")
        print(f"\n{topic}", flush=True)
        for line in printed(import_module(f"tests.bench.{topic}").rows()):
            print(f"  {line}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
