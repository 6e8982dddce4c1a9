"""Stores of former formats, as the resieve of that format wrote them: read, upgraded, added to."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from banks.library import Given, Library
from banks.maintenance.check import check
from banks.maintenance.opening import prepare
from banks.store.folder import Store
from banks.store.formats import FORMAT, UPGRADES
from domain.errors import StoreDamaged, StoreNewer, StoreReadOnly
from domain.responses import Medium, PaperKind, Purpose, Reason
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock

FORMAT_1 = Path(__file__).with_name("format_1")
FORCE = "wind/beaufort/{}"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return Path(shutil.copytree(FORMAT_1, tmp_path / "store"))


def logs(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("log/*")}


def test_all_that_format_1_says_is_read(old: Path) -> None:
    library = Library.open(old, FakeClock())
    history = library.history
    first = history.responses(FORCE.format(1))[0]
    assert (library.settings.turn_hour, library.settings.plan.exam) == (4, date(2026, 11, 26))
    assert (first.chosen, first.confidence, first.seconds) == (("a",), Confidence.SURE, 12.5)
    assert history.reason(first) is Reason.MIXED_UP
    assert history.responses(FORCE.format(3))[0].confidence is Confidence.GUESS
    assert history.note(FORCE.format(2)) == "knots, not km/h"
    assert history.dispute(FORCE.format(3)).key == ("c",)
    assert history.standing(FORCE.format(5)).tier is Tier.HARDER
    assert [
        (response.purpose, response.verdict) for response in history.responses(FORCE.format(6))
    ] == [(Purpose.STUDY, Verdict.BLANK)]
    drilled, printed, mock = (sitting.opened for sitting in history.sittings.values())
    assert (drilled.medium, drilled.title) == (Medium.ON_SCREEN, "Force")
    assert (printed.medium, printed.title) == (Medium.PRINTED, "Force · Beaufort")
    assert (mock.purpose, mock.paper_kind) == (Purpose.PAPER, PaperKind.MOCK)
    assert mock.paper.minutes == 5
    library.close()


def test_the_upgrade_keeps_a_copy_and_leaves_records_as_they_are(old: Path) -> None:
    before = logs(old)
    store = Store.open(old, prepare=prepare)
    store.close()
    assert "brought up to date" in store.notices[0]
    assert f'{{"version":{FORMAT}}}' in (old / "store.json").read_text()
    assert logs(old) == before
    assert list(old.glob(f"backups/before-format-{FORMAT}-*.zip"))
    assert check(old, FakeClock()()).is_well


def test_looking_needs_no_upgrade(old: Path) -> None:
    before = {path: path.read_bytes() for path in old.rglob("*.json*")}
    library = Library.open(old, FakeClock(), read_only=True)
    assert len(library.history.sittings) == 3
    assert before == {path: path.read_bytes() for path in before}


def test_without_the_upgrade_nothing_is_written(old: Path) -> None:
    with pytest.raises(StoreReadOnly, match="older resieve"):
        Store.open(old)


def test_new_records_stand_beside_old_ones(old: Path) -> None:
    library = Library.open(old, FakeClock())
    given = [Given(question=FORCE.format(n), verdict=Verdict.RIGHT) for n in (1, 2)]
    library.record(given, Purpose.PASS)
    library.close()
    again = Library.open(old, FakeClock())
    purposes = [response.purpose for response in again.history.responses(FORCE.format(2))]
    assert sorted(purposes) == [Purpose.PASS, Purpose.REVISION]
    again.close()


def test_a_newer_format_is_refused(old: Path) -> None:
    document = old / "store.json"
    document.write_text(document.read_text().replace('"version":1', f'"version":{FORMAT + 1}'))
    with pytest.raises(StoreNewer, match="newer resieve"):
        Store.open(old, prepare=prepare)


def test_each_step_is_given_the_folder_that_leaves_its_format(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps: list[Path] = []
    monkeypatch.setitem(UPGRADES, 1, lambda folder, system: steps.append(folder))
    Store.open(old, prepare=prepare).close()
    Store.open(old, prepare=prepare).close()
    assert steps == [old]


@pytest.mark.parametrize("version", ["0", "true", "null", '"1"', "1.0"])
def test_a_format_that_there_never_was_is_refused(old: Path, version: str) -> None:
    document = old / "store.json"
    document.write_text(document.read_text().replace('"version":1', f'"version":{version}'))
    with pytest.raises(StoreDamaged, match="names no format that there is"):
        Store.open(old, prepare=prepare)
