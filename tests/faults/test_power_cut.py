"""The power goes at any instant: whatever the drive may then hold reads as before or as after."""

from itertools import count
from pathlib import Path

import pytest

from domain.errors import StoreError
from tests.faults.scenarios import SCENARIOS, Scenario, Stage, State
from tests.faults.systems import Image, PowerCut, materialise


class Lost(Exception):
    """An image that is neither before nor after, or one that lost what was acknowledged."""


class Drive:
    """Looks at every image a run may leave, each once."""

    def __init__(self, stage: Stage, room: Path) -> None:
        self.stage, self._room, self._names = stage, room, count()
        self._states: dict[tuple, State] = {}

    def look(self, system: PowerCut, *, acknowledged: bool = False) -> None:
        """Raises Lost if the power going now could do harm."""
        for image in system.images():
            state = self._state(image)
            if not self.stage.fits(state) or (acknowledged and state != self.stage.after):
                raise Lost(f"{self.stage.scenario.name}: {sorted(map(str, image))}")

    def _state(self, image: Image) -> State:
        key = tuple(sorted((str(path), content) for path, content in image.items()))
        if key not in self._states:
            folder = self._room / f"image-{next(self._names)}"
            materialise(image, folder)
            try:
                self._states[key] = self.stage.read(folder)
            except StoreError as failure:
                raise Lost(str(failure)) from failure
        return self._states[key]

    @property
    def seen(self) -> int:
        """How many different images there were."""
        return len(self._states)


def cut_power(stage: Stage, room: Path, kind: type[PowerCut] = PowerCut) -> int:
    """Play the scenario, the power going after every change; how many images were looked at."""
    drive, folder = Drive(stage, room), stage.fresh()
    system = kind(folder)
    system.after_each = lambda: drive.look(system)
    stage.scenario.act(folder, system)
    drive.look(system, acknowledged=True)
    return drive.seen


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_no_power_cut_leaves_anything_but_before_or_after(
    scenario: Scenario, tmp_path: Path
) -> None:
    assert cut_power(Stage(scenario, tmp_path / "stage"), tmp_path) > 5


class Forgetful(PowerCut):
    """A drive that is never asked to keep data: what leaving out `fsync` would come to."""

    def fsync(self, fd: int) -> None:
        self.after_each()


class Nameless(PowerCut):
    """A drive that is never asked to keep names: what leaving out `fsync_folder` would come to."""

    def fsync_folder(self, path: Path) -> None:
        self.after_each()


@pytest.mark.parametrize("kind", [Forgetful, Nameless])
@pytest.mark.parametrize("name", ["record the first", "change a bank", "change the settings"])
def test_leaving_out_either_flush_would_lose_something(
    kind: type[PowerCut], name: str, tmp_path: Path
) -> None:
    scenario = next(candidate for candidate in SCENARIOS if candidate.name == name)
    stage = Stage(scenario, tmp_path / "stage")
    with pytest.raises(Lost):
        cut_power(stage, tmp_path, kind)
