"""The long form of the fault tests: `python -m tests.faults [--kills N]`.

Every call failing in every way, and hundreds of processes killed. Prints a table; the exit status
is 0 when all was survived.
"""

import random
import sys
import tempfile
from argparse import ArgumentParser
from pathlib import Path

from tests.faults.kills import Kills
from tests.faults.scenarios import SCENARIOS, Stage
from tests.faults.test_every_call_fails import CODES, fail_every_call
from tests.faults.test_power_cut import cut_power
from tests.faults.victim import WORKS


def main() -> int:
    """Run everything; the exit status."""
    parser = ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--kills", type=int, default=504, help="how many processes to kill")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="resieve-faults-") as room:
        try:
            _calls_and_cuts(Path(room))
            _kills(Path(room), arguments.kills, random.Random(arguments.seed))
        except AssertionError as harm:
            print(f"NOT SURVIVED: {harm}")
            return 1
    return 0


def _calls_and_cuts(room: Path) -> None:
    for scenario in SCENARIOS:
        stage = Stage(scenario, room / scenario.name.replace(" ", "-"))
        failed = sum(
            fail_every_call(stage, code, lasting=lasting)
            for code in CODES
            for lasting in (False, True)
        )
        images = cut_power(stage, room / f"{stage.scenario.name}-images".replace(" ", "-"))
        print(f"{scenario.name:26} {failed:5} calls failed, {images:5} images after a power cut",
              flush=True)  # fmt: skip


def _kills(room: Path, wanted: int, dice: random.Random) -> None:
    for work in WORKS:
        kills = Kills(work, room, dice)
        while kills.cut_short < -(-wanted // len(WORKS)):
            kills.once()
        print(f"{work:26} {kills.survived:5} times survived, {kills.cut_short:5} of them killed",
              flush=True)  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
