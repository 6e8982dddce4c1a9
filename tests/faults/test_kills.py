"""Real processes killed with no warning: what they had said was saved is there."""

import random
import sys
from pathlib import Path

import pytest

from tests.faults.kills import Kills
from tests.faults.stores import BadStores
from tests.faults.victim import WORKS


@pytest.mark.parametrize("work", WORKS)
def test_killed_processes_lose_nothing_they_had_acknowledged(work: str, tmp_path: Path) -> None:
    kills = Kills(work, tmp_path, random.Random(work))
    for _ in range(3):
        kills.once()
    assert kills.survived == 3


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_the_app_and_the_commands_killed_lose_nothing_they_had_acknowledged(tmp_path: Path) -> None:
    from tests.faults.programs import AppKills, CommandKills

    app = AppKills(tmp_path, random.Random(1))
    commands = CommandKills(tmp_path, random.Random(1))
    for _ in range(2):
        app.once()
    for _ in CommandKills.COMMANDS:
        commands.once()
    assert app.survived == 2
    assert commands.survived == len(CommandKills.COMMANDS)


def test_damaged_and_hostile_stores_end_no_command_in_a_trace(tmp_path: Path) -> None:
    stores = BadStores(tmp_path, random.Random(1))
    for _ in range(12):
        stores.once()
    assert stores.survived == 12
