"""The long form: generated pages of each kind, read and scored, with a table by dimension."""

import argparse
import json
import sys
from collections import defaultdict
from dataclasses import asdict
from pathlib import Path

from tests.printed.scoring import Score
from tests.printed.trial import KINDS, set_trial, trial

FIRST = 10_000
Table = dict[tuple[str, str], Score]
ALL = ("all", "")


def main(arguments: argparse.Namespace) -> int:
    """Read so many pages of each kind and print what came of them; 1 where one is wrong."""
    tables = _kept(arguments.add)
    if arguments.sets:
        return _sets(arguments)
    for kind in arguments.kinds:
        table = tables.setdefault(kind, defaultdict(Score))
        pages = arguments.pdf if kind.startswith("pdf") else arguments.text
        for seed in range(arguments.first, arguments.first + pages):
            choices, score = trial(kind, seed)
            for choice in [ALL, *choices.items()]:
                table[choice].add(score)
            for each in score.wrong:
                print(f"  {kind}, seed {seed}: {each}"[:160], flush=True)
            if arguments.incomplete and score.complete < score.questions:
                print(f"  {kind}, seed {seed}: {score.complete} of {score.questions}")
    if arguments.add:
        rows = {
            kind: [[*choice, asdict(score)] for choice, score in table.items()]
            for kind, table in tables.items()
        }
        arguments.add.write_text(json.dumps(rows))
    for kind, table in tables.items():
        _tell(kind, table)
    return 1 if any(table[ALL].wrong for table in tables.values()) else 0


def _sets(arguments: argparse.Namespace) -> int:
    """Each published set printed in so many layouts and read back; 1 where one is wrong."""
    is_wrong = False
    for path in arguments.sets:
        total = Score()
        for seed in range(arguments.first, arguments.first + arguments.text):
            score = set_trial(path, seed)[1]
            total.add(score)
            for each in score.wrong:
                print(f"  {path.name}, seed {seed}: {each}"[:160], flush=True)
        share = total.complete / max(total.questions, 1)
        print(f"{path.name:45}{total.questions:8,}{share:8.1%} complete{total.flagged:7,} told")
        is_wrong = is_wrong or bool(total.wrong)
    return 1 if is_wrong else 0


def _kept(path: Path | None) -> dict[str, Table]:
    """The scores of earlier parts of the same run."""
    if path is None or not path.exists():
        return {}
    tables: dict[str, Table] = {}
    for kind, rows in json.loads(path.read_text()).items():
        scores = {(name, way): Score(**held) for name, way, held in rows}
        tables[kind] = defaultdict(Score, scores)
    return tables


def _tell(kind: str, table: Table) -> None:
    print(kind)
    for (dimension, choice), score in sorted(table.items()):
        share = score.complete / max(score.questions, 1)
        print(
            f"  {dimension:13}{choice:25}{score.questions:8,}{share:8.1%} complete"
            f"{score.flagged:7,} told{score.plausible:5} plausible{len(score.wrong):5} wrong"
        )


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.printed", description=__doc__)
    parser.add_argument("--text", type=int, default=5_000, help="pages of each kind of text")
    parser.add_argument("--pdf", type=int, default=250, help="pages of each kind of PDF")
    parser.add_argument("--first", type=int, default=FIRST, help="first seed")
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=KINDS, metavar="KIND")
    parser.add_argument("--incomplete", action="store_true", help="name incomplete pages, too")
    parser.add_argument(
        "--sets", type=Path, nargs="+", metavar="FILE", help="published sets to print instead"
    )
    parser.add_argument("--add", type=Path, help="file that adds up the parts of a long run")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main(_arguments()))
