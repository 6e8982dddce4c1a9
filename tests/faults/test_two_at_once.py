"""Two starts at once: one writes, the other says who does and may look."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from banks.store.filesystem import System
from banks.store.folder import Store
from banks.store.lock import WriterLock
from domain.errors import StoreBusy, StoreReadOnly
from tests.faults.scenarios import fill, response


def test_the_second_is_told_who_holds_the_store(tmp_path: Path) -> None:
    first = Store.open(tmp_path)
    with pytest.raises(StoreBusy, match=f"process {os.getpid()}"):
        Store.open(tmp_path)
    first.close()
    Store.open(tmp_path).close()


def test_the_second_may_look_and_sees_what_was_saved(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    first = Store.open(tmp_path)
    second = Store.open(tmp_path, read_only=True)
    first.append([response(2)])
    assert set(second.records()) == {response(1), response(2)}
    assert not second.notices
    with pytest.raises(StoreReadOnly, match="looking only"):
        second.append([response(3)])
    with pytest.raises(StoreReadOnly):
        second.save_settings(second.settings())
    first.close()


def test_looking_makes_no_store_and_leaves_no_trace(tmp_path: Path) -> None:
    store = Store.open(tmp_path / "none", read_only=True)
    assert store.load_banks() == store.records() == []
    store.close()
    assert not (tmp_path / "none").exists()


def test_of_many_starts_in_the_same_moment_one_gets_the_store(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom pathlib import Path\nfrom banks.store.folder import Store\n"
        "from domain.errors import StoreBusy\n"
        "try:\n    store = Store.open(Path(sys.argv[1]))\n"
        "except StoreBusy:\n    print('busy', flush=True)\n"
        "else:\n    print('mine', flush=True)\nsys.stdin.read()\n"
    )
    started = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path / "store")],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for _ in range(4)
    ]  # fmt: skip
    lines = [process.stdout.readline().strip() for process in started]
    for process in started:
        process.communicate()
    assert sorted(lines) == ["busy", "busy", "busy", "mine"]


def test_a_failed_start_lets_the_store_go(tmp_path: Path) -> None:
    fill(tmp_path)
    (tmp_path / "store.json").write_bytes(b"")
    with pytest.raises(Exception, match=r"store\.json"):
        Store.open(tmp_path)
    WriterLock(tmp_path, System()).release()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder_is_told_and_may_be_looked_at(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(StoreReadOnly, match="can't be written"):
            Store.open(tmp_path)
        assert len(Store.open(tmp_path, read_only=True).records()) == 1
    finally:
        tmp_path.chmod(0o700)


@pytest.mark.skipif(sys.platform != "linux", reason="needs a limit on the size of files")
def test_a_full_disk_is_a_message_and_harms_nothing(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    code = (
        "import resource, signal, sys\nfrom pathlib import Path\n"
        "from banks.store.folder import Store\n"
        "from domain.errors import StoreError\nfrom tests.faults.scenarios import response\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "store = Store.open(Path(sys.argv[1]))\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (600, 600))\n"
        "saved = 1\n"
        "try:\n    for number in range(2, 99):\n"
        "        store.append([response(number)])\n        saved += 1\n"
        "except StoreError as problem:\n    print(saved, problem)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True
    )
    saved, _, problem = done.stdout.partition(" ")
    assert "not saved yet (file too large)" in problem
    store = Store.open(tmp_path)
    assert len(store.records()) == int(saved)
    assert not store.notices
    store.close()
