"""What is kept for the next start: given back as it was kept, or not at all."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from banks.store import cache as cache_module
from banks.store.cache import Cache, program_mark
from banks.store.filesystem import Stamp, System
from tests.faults.systems import Refusing

VALUE = {"a": [1, 2], "b": []}
Shape = dict[str, list[int]]


@pytest.fixture
def cache(tmp_path: Path) -> Cache:
    """The cache of a store that is there."""
    (tmp_path / "store").mkdir()
    return Cache(tmp_path / "store", System())


def test_a_value_comes_back_and_is_replaced_without_a_trace(cache: Cache, tmp_path: Path) -> None:
    assert cache.load("x", Shape) is cache.load_packed("x", Shape) is None
    for value in ({}, VALUE):
        cache.save("x", value)
        cache.save_packed("x", value)
        assert cache.load("x", Shape) == cache.load_packed("x", Shape) == value
    names = sorted(path.name for path in (tmp_path / "store/cache").iterdir())
    assert names == ["x.json", "x.packed"]


def test_what_is_of_another_shape_or_cannot_be_packed_is_none(cache: Cache) -> None:
    cache.save("x", ["é"])
    cache.save_packed("x", ["é"])
    cache.save_packed("y", [1 << 70])
    assert cache.load("x", Shape) is cache.load_packed("x", Shape) is None
    assert cache.load_packed("y", list[int]) is None


@pytest.mark.parametrize("offset", [0, 7, 8, 11, 12, -1])
def test_no_bit_of_what_is_packed_may_have_changed(
    cache: Cache, tmp_path: Path, offset: int
) -> None:
    cache.save_packed("x", VALUE)
    path = tmp_path / "store/cache/x.packed"
    content = bytearray(path.read_bytes())
    content[offset] ^= 1
    path.write_bytes(content)
    assert cache.load_packed("x", Shape) is None


def test_when_it_was_packed_is_told_and_zero_where_it_was_not(tmp_path: Path) -> None:
    system = Refusing()
    cache = Cache(tmp_path, system)
    assert cache.packed_at("x") == 0
    cache.save_packed("x", VALUE)
    os.utime(tmp_path / "cache/x.packed", ns=(5, 7))
    assert cache.packed_at("x") == 7
    system.names = ["stamp"]
    assert cache.packed_at("x") == 0


def test_a_store_that_goes_away_in_the_moment_of_saving_does_not_come_back(tmp_path: Path) -> None:
    class Vanishing(System):
        def stamp(self, path: Path) -> Stamp | None:
            stamp = super().stamp(path)
            shutil.rmtree(tmp_path / "store", ignore_errors=True)
            return stamp

    (tmp_path / "store/cache").mkdir(parents=True)
    cache = Cache(tmp_path / "store", Vanishing())
    cache.save("x", VALUE)
    assert list(tmp_path.iterdir()) == []
    cache.save("x", VALUE)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "is_another"),
    [
        (lambda root: (root / "domain/a.py").write_text("other"), True),
        (lambda root: os.utime(root / "banks/store/b.py", ns=(9, 9)), True),
        (lambda root: (root / "banks/c.py").touch(), True),
        (lambda root: (root / "tui/d.py").touch(), False),
        (lambda root: None, False),
    ],
)
def test_another_program_has_another_mark(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    change: Callable[[Path], object],
    is_another: bool,
) -> None:
    for name in ("domain/a.py", "banks/store/b.py", "tui/c.py"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    monkeypatch.setattr(cache_module, "__file__", str(tmp_path / "banks/store/cache.py"))
    before = program_mark.__wrapped__()
    change(tmp_path)
    assert len(before) == len(program_mark.__wrapped__()) == 8
    assert (program_mark.__wrapped__() != before) is is_another
