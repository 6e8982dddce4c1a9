"""Files that were torn, flipped, cut, emptied, edited or swapped: read right or reported."""

import random
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import msgspec
import pytest

from banks.maintenance.check import check
from banks.store.checked_json import BOM
from banks.store.folder import Store
from domain.errors import ResieveError, StoreDamaged, StoreError, StoreNewer
from tests.faults.scenarios import BOOK, START, State, fill, response
from tests.faults.systems import Failing, Unflushed

RECORDS = tuple(response(number) for number in range(1, 5))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store with one bank and four records."""
    fill(tmp_path / "store", *RECORDS)
    return tmp_path / "store"


def read(folder: Path) -> tuple[State, list[str]]:
    """What a start finds, and what it tells the candidate."""
    store = Store.open(folder, read_only=True)
    state = State(store.settings(), tuple(store.load_banks()), frozenset(store.records()))
    return state, store.notices


def the_log(folder: Path) -> Path:
    return next(folder.glob("log/*.jsonl"))


def the_bank(folder: Path) -> Path:
    return folder / "banks" / "book.json"


def test_a_log_torn_at_any_byte_loses_at_most_the_torn_record(folder: Path) -> None:
    content = the_log(folder).read_bytes()
    ends = [place for place, byte in enumerate(content, 1) if byte == ord("\n")]
    for cut in range(ends[1], len(content) + 1):
        the_log(folder).write_bytes(content[:cut])
        whole = sum(end <= cut + 1 for end in ends)  # a line is sound without its end, too
        state, notices = read(folder)
        assert state.records == frozenset(RECORDS[:whole])
        assert bool(notices) == (cut not in ends and cut + 1 not in ends)


def test_recording_goes_on_after_a_log_was_torn_at_any_byte(folder: Path) -> None:
    content = the_log(folder).read_bytes()
    third = content.index(b"\n", content.index(b"\n") + 1) + 1
    for cut in range(third, content.index(b"\n", third) + 2, 3):
        for torn in folder.glob("log/*torn*"):
            torn.unlink()
        the_log(folder).write_bytes(content[:cut])
        before = read(folder)[0].records
        store = Store.open(folder, system=Unflushed())
        store.append([response(9)])
        store.close()
        state, notices = read(folder)
        assert state.records == before | {response(9)}
        assert not notices
        kept = b"".join(path.read_bytes() for path in folder.glob("log/*torn*"))
        assert content[:cut].endswith(kept)


@pytest.mark.parametrize("call", range(1, 16))
def test_a_torn_line_that_cannot_be_set_aside_waits_until_it_can(folder: Path, call: int) -> None:
    log = the_log(folder)
    log.write_bytes(log.read_bytes() + b"{")
    system = Failing(0, 0)
    store = Store.open(folder, system=system)
    acknowledged, tried = set(RECORDS), {response(8), response(9)}
    for record, failing in ((response(8), call), (response(9), 1)):
        system.arm(failing, 5, lasting=False)
        with suppress(StoreError):
            store.append([record])
            acknowledged.add(record)
    system.heal()

    assert acknowledged <= set(store.records()) <= acknowledged | tried
    store.close()


def test_what_was_found_sound_before_is_not_taken_on_trust(folder: Path) -> None:
    store = Store.open(folder)
    store.records()
    store.close()
    assert (folder / "cache/sound.json").exists()
    content = the_log(folder).read_bytes()
    assert read(folder)[0].records == frozenset(RECORDS)
    for place in random.Random(6).sample(range(len(content) * 8), 200):
        flipped = bytearray(content)
        flipped[place // 8] ^= 1 << place % 8
        the_log(folder).write_bytes(flipped)
        state, notices = read(folder)
        assert notices or state.records == frozenset(RECORDS), f"bit {place} changed silently"


@pytest.mark.parametrize("rubbish", [b"", b"{}", b"[]", b"\xff", b'{"x": [1, 2]}'])
def test_a_damaged_cache_is_no_matter(folder: Path, rubbish: bytes) -> None:
    (folder / "cache").mkdir()
    (folder / "cache/sound.json").write_bytes(rubbish)
    state, notices = read(folder)
    assert state.records == frozenset(RECORDS)
    assert not notices


@pytest.mark.parametrize("which", [the_log, the_bank])
def test_a_flipped_bit_is_harmless_or_reported(folder: Path, which: Callable[[Path], Path]) -> None:
    path, original = which(folder), read(folder)
    content = path.read_bytes()
    dice = random.Random(5)
    for place in dice.sample(range(len(content) * 8), 700):
        flipped = bytearray(content)
        flipped[place // 8] ^= 1 << place % 8
        path.write_bytes(flipped)
        state, notices = read(folder)
        assert notices or (state, notices) == original, f"bit {place} changed silently"


def test_a_flipped_bit_in_the_settings_is_harmless_or_reported(folder: Path) -> None:
    path, original = folder / "store.json", read(folder)
    content = path.read_bytes()
    for place in range(len(content) * 8):
        flipped = bytearray(content)
        flipped[place // 8] ^= 1 << place % 8
        path.write_bytes(flipped)
        try:
            state = read(folder)
        except ResieveError:
            continue
        assert state[1] or state == original, f"bit {place} changed silently"


@pytest.mark.parametrize("change", [
    lambda content: content.replace(b"\n", b"\r\n"),
    lambda content: BOM + content,
    lambda content: content.rstrip(b"\n"),
    lambda content: content + b"\n\n",
])  # fmt: skip
def test_what_editors_do_to_line_ends_loses_no_record(
    folder: Path, change: Callable[[bytes], bytes]
) -> None:
    the_log(folder).write_bytes(change(the_log(folder).read_bytes()))
    assert read(folder)[0].records == frozenset(RECORDS)
    store = Store.open(folder)
    store.append([response(9)])
    store.close()
    assert read(folder)[0].records == {*RECORDS, response(9)}


DAMAGES: dict[str, Callable[[bytes], bytes]] = {
    "emptied": lambda content: b"",
    "all zeros": lambda content: bytes(len(content)),
    "cut in half": lambda content: content[: len(content) // 2],
    "not UTF-8": lambda content: content.replace(b'"', b"\xff\xfe", 3),
    "a list": lambda content: b"[1, 2]\n",
    "a number": lambda content: b"7\n",
    "another file": lambda content: b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
    "deep nesting": lambda content: b"[" * 100_000,
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_bank_is_named_left_alone_and_never_overwritten(
    folder: Path, damage: Callable[[bytes], bytes]
) -> None:
    damaged = damage(the_bank(folder).read_bytes())
    the_bank(folder).write_bytes(damaged)
    store = Store.open(folder)
    assert store.load_banks() == []
    assert "book.json" in store.notices[0]
    assert "\n" not in store.notices[0]
    with pytest.raises(StoreDamaged, match=r"book\.json"):
        store.save_bank(BOOK)
    store.close()
    assert the_bank(folder).read_bytes() == damaged
    assert not check(folder, START).is_well


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_damaged_settings_stop_the_start_and_change_nothing(
    folder: Path, damage: Callable[[bytes], bytes]
) -> None:
    damaged = damage((folder / "store.json").read_bytes())
    (folder / "store.json").write_bytes(damaged)
    with pytest.raises(StoreDamaged, match=r"store\.json"):
        Store.open(folder)
    assert (folder / "store.json").read_bytes() == damaged
    assert any(finding.file == "store.json" for finding in check(folder, START).findings)


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_log_keeps_its_bytes_and_takes_no_other_file_with_it(
    folder: Path, damage: Callable[[bytes], bytes]
) -> None:
    log = the_log(folder)
    shutil.copy(log, folder / "log" / "2026-02.elsewhere.jsonl")
    damaged = damage(log.read_bytes())
    log.write_bytes(damaged)
    store = Store.open(folder)
    assert frozenset(store.records()) == frozenset(RECORDS)
    store.append([response(9)])
    store.close()
    kept = b"".join(path.read_bytes() for path in folder.glob(f"log/{log.name}*"))
    assert all(line in kept for line in damaged.split(b"\n"))
    assert response(9) in read(folder)[0].records


def test_a_bank_edited_by_hand_is_used_and_the_edit_is_told(folder: Path) -> None:
    text = the_bank(folder).read_text("utf-8")
    the_bank(folder).write_text(text.replace("Which?", "Which one?"), "utf-8")
    state, notices = read(folder)
    assert state.banks[0].questions["book/clouds.high/4"].stem == "Which one?"
    assert "edited outside" in notices[0]


def test_a_hand_edit_that_fits_nothing_is_told_in_words(folder: Path) -> None:
    text = the_bank(folder).read_text("utf-8")
    the_bank(folder).write_text(text.replace('"chapter":"clouds.high"', '"chapter":"lost"', 1))
    assert any("which does not exist" in notice for notice in read(folder)[1])


def test_swapped_bank_files_are_not_taken_for_one_another(folder: Path) -> None:
    shutil.copy(the_bank(folder), folder / "banks" / "second.json")
    state, notices = read(folder)
    assert state.banks == (BOOK,)
    assert "second.json" in notices[0]


def test_a_newer_store_is_refused_and_left_alone(folder: Path) -> None:
    path = folder / "store.json"
    tables = msgspec.json.decode(path.read_bytes())
    tables["format"]["1"]["version"] = 99
    path.write_bytes(msgspec.json.encode(tables))
    for read_only in (True, False):
        with pytest.raises(StoreNewer, match="newer resieve"):
            Store.open(folder, read_only=read_only)
    assert msgspec.json.decode(path.read_bytes())["format"]["1"]["version"] == 99


def test_settings_that_vanished_are_told_and_the_former_ones_named(folder: Path) -> None:
    store = Store.open(folder)
    store.save_settings(msgspec.structs.replace(store.settings(), turn_hour=5))
    store.close()
    (folder / "store.json").unlink()
    assert "store.json.previous" in read(folder)[1][0]
