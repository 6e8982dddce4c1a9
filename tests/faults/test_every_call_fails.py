"""The first call fails, then the second, and so on until a run meets no failure."""

import errno
import shutil
from collections.abc import Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path

import pytest

from banks.maintenance.backup import is_restoring
from banks.maintenance.check import check
from banks.maintenance.opening import prepare
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.errors import ResieveError, StoreReadOnly
from tests.faults.scenarios import SCENARIOS, START, Act, Scenario, Stage, knowing_format_0
from tests.faults.systems import Ended, Failing, Killed, Recording

CODES = (errno.EIO, errno.ENOSPC, errno.EINTR, errno.EACCES, 0)
"""I/O error, disk full, interrupted, not allowed; 0 is a short write."""
IN_PARTS = [scenario for scenario in SCENARIOS if scenario.name in ("restore", "upgrade")]
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


def killed_before_each_call(original: Path, work: Act) -> Iterator[Path]:
    """Do the work on copies of the store, killed before its first call, its second, and so on."""
    for number in count(1):
        folder = original.parent.with_name(f"{original.parent.name}-{number}")
        shutil.copytree(original.parent, folder)
        try:
            work(folder / "store", Ended(number))
        except Killed:
            (folder / "store" / "store.lock").unlink(missing_ok=True)  # the system lets go of it
            yield folder / "store"
        else:
            return
        finally:
            shutil.rmtree(folder)


def kill_at_every_call(stage: Stage, *, twice: bool = False) -> int:
    """Kill the scenario before each of its calls, and the next start too; how many kills."""
    kills = 0
    for folder in killed_before_each_call(stage.fresh(), stage.scenario.act):
        for left in killed_before_each_call(folder, _start) if twice else (folder,):
            kills += 1
            _must_be_whole(stage, left)
    return kills


def _start(folder: Path, system: System) -> None:
    with knowing_format_0():
        Store.open(folder, system=system, prepare=prepare).close()


def _must_be_whole(stage: Stage, folder: Path) -> None:
    """Whoever only looks sees no mixture, and the next start finishes or undoes it."""
    if is_restoring(folder):
        assert [finding.file for finding in check(folder, START).findings] == ["restoring"]
    with suppress(StoreReadOnly), knowing_format_0():
        assert len(Store.open(folder, read_only=True).load_banks()) == 1, folder
    assert stage.fits(stage.read(folder)), folder
    report = check(folder, START)
    assert report.is_well, (folder, report.findings)


def test_a_restore_killed_before_any_call_is_finished_or_undone(tmp_path: Path) -> None:
    assert kill_at_every_call(Stage(IN_PARTS[0], tmp_path)) > 50


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
