"""The first call fails, then the second, and so on until a run meets no failure."""

import errno
import shutil
from itertools import count
from pathlib import Path

import pytest

from domain.errors import ResieveError
from tests.faults.scenarios import SCENARIOS, Scenario, Stage
from tests.faults.systems import Failing, Recording

CODES = (errno.EIO, errno.ENOSPC, errno.EINTR, errno.EACCES, 0)
"""I/O error, disk full, interrupted, not allowed; 0 is a short write."""
SOME = ((errno.EIO, False), (errno.ENOSPC, True), (0, False))


def fail_every_call(stage: Stage, code: int, *, lasting: bool) -> int:
    """Play the scenario once for every call in it; how many calls there were."""
    for number in count(1):
        folder = stage.fresh()
        system = Failing(number, code, lasting=lasting)
        try:
            stage.scenario.act(folder, system)
        except ResieveError:
            acknowledged = False
        else:
            acknowledged = True
        where = f"{stage.scenario.name}: call {number} fails with {code} (lasting: {lasting})"
        state = stage.read(folder)
        assert stage.fits(state), where
        assert state == stage.after or not acknowledged, f"{where}: was acknowledged"
        assert not [*folder.rglob("*.new"), *folder.rglob("*.old")], where
        shutil.rmtree(folder.parent)
        if not system.has_failed:
            return number - 1
    raise AssertionError


@pytest.mark.slow
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_whatever_call_fails_the_store_is_as_before_or_after(
    scenario: Scenario, tmp_path: Path
) -> None:
    stage = Stage(scenario, tmp_path)
    for code, lasting in SOME:
        assert fail_every_call(stage, code, lasting=lasting) > 3


def test_the_calls_that_make_a_save_durable_come_in_order(tmp_path: Path) -> None:
    stage = Stage(SCENARIOS[7], tmp_path)
    system = Recording()
    stage.scenario.act(stage.fresh(), system)
    steps = ("write", "fsync", "replace", "fsync_folder")
    durable = [call for call in system.calls if call in steps]
    # the holder's note first, then the settings: the generation before is kept by its own rename
    assert durable == [
        "write", "fsync", "replace", "fsync_folder",
        "write", "fsync", "replace", "replace", "fsync_folder",
    ]  # fmt: skip
