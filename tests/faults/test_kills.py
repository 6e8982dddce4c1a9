"""Real processes killed with no warning: what they had said was saved is there."""

import random
from pathlib import Path

import pytest

from tests.faults.kills import Kills
from tests.faults.victim import WORKS


@pytest.mark.parametrize("work", WORKS)
def test_killed_processes_lose_nothing_they_had_acknowledged(work: str, tmp_path: Path) -> None:
    kills = Kills(work, tmp_path, random.Random(work))
    for _ in range(3):
        kills.once()
    assert kills.survived == 3
