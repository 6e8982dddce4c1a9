"""The long form of the fault tests: `python -m tests.faults [PART …] [--kills N]`.

Every call failing in every way; hundreds of processes killed, the app in a pseudo-terminal and
the commands among them; a thousand damaged and hostile stores. Prints a table; the exit status is
0 when all was survived. Each part can be run on its own, and in shares with another `--seed`.
"""

import random
import sys
import tempfile
from argparse import ArgumentParser
from pathlib import Path

from tests.faults.kills import Kills
from tests.faults.programs import AppKills, CommandKills
from tests.faults.scenarios import SCENARIOS, Stage
from tests.faults.stores import BadStores
from tests.faults.test_every_call_fails import CODES, IN_PARTS, fail_every_call, kill_at_every_call
from tests.faults.test_power_cut import cut_power
from tests.faults.victim import WORKS

PARTS = ("calls", "kills", "programs", "stores")


def main() -> int:
    """Run everything; the exit status."""
    parser = ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--kills", type=int, default=504, help="how many processes to kill")
    parser.add_argument("--programs", type=int, default=500, help="of the app and the commands")
    parser.add_argument("--stores", type=int, default=1000, help="how many bad stores to try")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    parts = arguments.parts or PARTS
    if unknown := set(parts) - set(PARTS):
        parser.error(f"no such part: {', '.join(sorted(unknown))}")
    dice = random.Random(arguments.seed)
    with tempfile.TemporaryDirectory(prefix="resieve-faults-") as room:
        try:
            if "calls" in parts:
                _calls_and_cuts(Path(room))
            if "kills" in parts:
                _kills(Path(room), arguments.kills, dice)
            if "programs" in parts:
                _programs(Path(room), arguments.programs, dice)
            if "stores" in parts:
                _stores(Path(room), arguments.stores, dice)
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
        if stage.scenario in IN_PARTS:
            failed += kill_at_every_call(stage, twice=True)
        images = cut_power(stage, room / f"{stage.scenario.name}-images".replace(" ", "-"))
        print(f"{scenario.name:26} {failed:5} calls failed, {images:5} images after a power cut",
              flush=True)  # fmt: skip


def _kills(room: Path, runs: int, dice: random.Random) -> None:
    for work in WORKS:
        kills = Kills(work, room, dice)
        while kills.cut_short < -(-runs // len(WORKS)):
            kills.once()
        print(f"{work:26} {kills.survived:5} times survived, {kills.cut_short:5} of them killed",
              flush=True)  # fmt: skip


def _programs(room: Path, runs: int, dice: random.Random) -> None:
    """A fifth of them the app, which takes longer to start."""
    app = AppKills(room, dice)
    while app.survived < runs // 5:
        app.once()
    print(f"{'the app':26} {app.survived:5} times killed, {app.acknowledged:5} responses shown",
          flush=True)  # fmt: skip
    commands = CommandKills(room, dice)
    while commands.cut_short < runs - runs // 5:
        commands.once()
    print(f"{'the commands':26} {commands.survived:5} times survived, "
          f"{commands.cut_short:5} of them killed", flush=True)  # fmt: skip


def _stores(room: Path, runs: int, dice: random.Random) -> None:
    stores = BadStores(room, dice)
    for _ in range(runs):
        stores.once()
    print(f"{'damaged, hostile stores':26} {stores.survived:5} survived", flush=True)


if __name__ == "__main__":
    sys.exit(main())
