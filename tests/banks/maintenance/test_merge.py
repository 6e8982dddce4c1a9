"""Merging: a union, whatever the order and however often; disagreements are told, both kept."""

import os
import shutil
import tempfile
from pathlib import Path

import hypothesis.strategies as st
import msgspec
import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from banks.maintenance.merge import merge, unite
from banks.store import bankfile
from banks.store.folder import Store
from banks.store.log import line_of
from domain.errors import InputError, StoreNewer
from domain.history import History
from domain.questions import Bank
from domain.tiers import TierRules
from tests.builders import bank, bares
from tests.faults.scenarios import BOOK, REVISED, SECOND, SETTINGS, State, fill, response, state_of
from tests.faults.systems import Unflushed

ONE = "book/clouds.high/1"


def merged(folder: Path, *others: Path) -> State:
    """A copy of the store with the others merged into it, one after the other."""
    copy = Path(tempfile.mkdtemp(dir=folder.parent)) / "store"
    shutil.copytree(folder, copy)
    store = Store.open(copy, system=Unflushed())
    for other in others:
        merge(store, other)
    store.close()
    return state_of(copy)


histories = st.frozensets(st.integers(1, 12), max_size=6)
editions = st.lists(st.tuples(st.integers(1, 4), st.sampled_from("abc")), max_size=3)


def edition(edits: list[tuple[int, str]]) -> Bank:
    changed = {}
    for number, letter in edits:
        name = f"book/clouds.high/{number}"
        changed[name] = replace(BOOK.questions[name], answer_key=(letter,), retired=letter == "c")
    return BOOK.with_questions(changed.values())


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(histories, editions), min_size=3, max_size=3))
def test_merging_is_commutative_associative_and_idempotent(parts: list) -> None:
    with tempfile.TemporaryDirectory() as room:
        stores = [Path(room) / name for name in "abc"]
        for folder, (numbers, edits) in zip(stores, parts, strict=True):
            fill(folder, *map(response, sorted(numbers)), banks=(edition(edits),))
        a, b, c = stores
        whole = merged(a, b, c)
        assert whole.records == {response(n) for numbers, _ in parts for n in numbers}
        for order in ((a, c, b), (b, a, c), (b, c, a), (c, a, b), (c, b, a), (a, b, c, b, a)):
            assert merged(order[0], *order[1:]) == whole


@given(editions, editions, editions)
def test_uniting_banks_obeys_the_laws(first: list, second: list, third: list) -> None:
    a, b, c = edition(first), edition(second), edition(third)
    assert unite(a, b)[0] == unite(b, a)[0]
    assert unite(unite(a, b)[0], c)[0] == unite(a, unite(b, c)[0])[0]
    assert unite(a, a) == (a, [])
    assert unite(unite(a, b)[0], b)[0] == unite(a, b)[0]


def test_subjects_and_chapters_of_both_are_in_the_union() -> None:
    left = bank("Book", {"Clouds": {"High": bares(2)}, "Fog": {"Sea": bares(1)}})
    other = bank("Book", {"Clouds": {"High": bares(3), "Low": bares(1)}})
    united, beaten = unite(left, other)
    assert {s.title: [c.title for c in s.chapters] for s in united.subjects} == {
        "Clouds": ["High", "Low"], "Fog": ["Sea"],
    }  # fmt: skip
    assert len(united.questions) == 5
    assert beaten == []


def test_the_order_is_that_of_the_fuller_bank() -> None:
    few = bank("Book", {"Clouds": {"High": bares(1), "Low": bares(1)}})
    more = bank("Book", {"Clouds": {"Low": bares(1), "Mid": bares(1), "High": bares(1)}})
    for united, _ in (unite(few, more), unite(more, few)):
        assert [chapter.title for chapter in united.subjects[0].chapters] == ["Low", "Mid", "High"]


def test_what_a_merge_brings_is_counted(tmp_path: Path) -> None:
    more = BOOK.with_questions([replace(BOOK.questions[ONE], id=f"{ONE}9", number=19)])
    fill(tmp_path / "a")
    fill(tmp_path / "b", banks=(more,))
    (tmp_path / "b/conflicts").mkdir()
    kept = msgspec.json.encode({"questions": {f"{ONE}#1": BOOK.questions[ONE]}})
    (tmp_path / "b/conflicts/book.json").write_bytes(kept)
    writer = Store.open(tmp_path / "b")  # it may be in use
    store = Store.open(tmp_path / "a")
    report, again = merge(store, tmp_path / "b"), merge(store, tmp_path / "b")
    store.close()
    writer.close()
    assert (report.records, report.questions, report.banks) == (0, 1, [])
    assert (again.records, again.questions) == (0, 0)
    assert (tmp_path / "a/conflicts/book.json").exists()


def test_a_record_that_two_logs_hold_comes_once(tmp_path: Path) -> None:
    fill(tmp_path / "a", response(1))
    fill(tmp_path / "b", response(2))
    log = next(tmp_path.glob("b/log/*"))
    log.with_stem(f"{log.stem} (copy)").write_bytes(log.read_bytes())
    store = Store.open(tmp_path / "a")
    assert merge(store, tmp_path / "b").records == 1
    store.close()


def test_a_disagreement_is_told_and_both_versions_are_kept(tmp_path: Path) -> None:
    fill(tmp_path / "a", banks=(REVISED,))
    theirs = BOOK.with_questions([replace(BOOK.questions[ONE], answer_key=("a",))])
    fill(tmp_path / "b", banks=(theirs,))
    store = Store.open(tmp_path / "a")
    report = merge(store, tmp_path / "b")
    again = merge(store, tmp_path / "b")
    in_force = store.load_banks()[0].questions[ONE]
    store.close()
    assert len(report.conflicts) == 1
    assert "Clouds, High, question 1" in report.conflicts[0]
    ours = "this" if in_force.answer_key == ("b",) else "the other"
    assert f"{ours} store's version is in force" in report.conflicts[0]
    assert again.conflicts == []
    kept = msgspec.json.decode((tmp_path / "a/conflicts/book.json").read_bytes())["questions"]
    assert {in_force.answer_key[0], *(version["key"][0] for version in kept.values())} == {"a", "b"}


def test_a_whole_bank_and_its_pictures_come_over(tmp_path: Path) -> None:
    fill(tmp_path / "a")
    fill(tmp_path / "b", banks=(SECOND,))
    other = Store.open(tmp_path / "b")
    other.save_figure("second", "gale.png", b"picture")
    other.close()
    store = Store.open(tmp_path / "a")
    report = merge(store, tmp_path / "b")
    assert report.banks == ["Second"]
    assert [each.title for each in store.load_banks()] == ["Book", "Second"]
    assert store.figure_path("second", "gale.png").read_bytes() == b"picture"
    store.close()


def test_nothing_is_kept_in_the_folder_of_the_other_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bankfile, "LARGE", 0)
    fill(tmp_path / "own", banks=(BOOK,))
    fill(tmp_path / "other", banks=(SECOND,))
    before = sorted((tmp_path / "other").rglob("*"))

    merge(Store.open(tmp_path / "own"), tmp_path / "other")

    assert sorted((tmp_path / "other").rglob("*")) == before
    assert (tmp_path / "own/cache/bank-book.packed").exists()


def test_damaged_lines_of_the_other_store_are_told_and_left_there(tmp_path: Path) -> None:
    fill(tmp_path / "a", response(1))
    fill(tmp_path / "b", response(2), response(3))
    log = next(tmp_path.glob("b/log/*"))
    log.write_bytes(log.read_bytes().replace(b"record-0002", b"record-0009"))
    store = Store.open(tmp_path / "a")
    report = merge(store, tmp_path / "b")
    assert report.records == 1
    assert "line 1 was left there" in report.notices[0]
    store.close()


def test_settings_stay_and_a_difference_is_told(tmp_path: Path) -> None:
    fill(tmp_path / "a")
    fill(tmp_path / "b")
    other = Store.open(tmp_path / "b")
    other.save_settings(SETTINGS)
    other.close()
    store = Store.open(tmp_path / "a")
    before = store.settings()
    assert "settings differ" in merge(store, tmp_path / "b").notices[0]
    assert store.settings() == before
    store.close()


def test_only_a_store_that_is_another_one_is_merged(tmp_path: Path) -> None:
    fill(tmp_path / "a")
    store = Store.open(tmp_path / "a")
    with pytest.raises(InputError, match="no store"):
        merge(store, tmp_path / "nowhere")
    with pytest.raises(InputError, match="itself"):
        merge(store, tmp_path / "a")
    (tmp_path / "b").mkdir()
    (tmp_path / "b/store.json").write_bytes(b'{"format": {"1": {"version": 9}}}')
    with pytest.raises(StoreNewer):
        merge(store, tmp_path / "b")
    store.close()


@given(st.permutations([response(n, question=n % 2 + 1) for n in range(8)]))
def test_a_history_is_the_same_whatever_order_its_records_come_in(records: list) -> None:
    history = History(records, BOOK.questions.get, TierRules())
    other = History(sorted(records, key=lambda record: record.id), BOOK.questions.get, TierRules())
    assert all(history.trail(name) == other.trail(name) for name in BOOK.questions)


def line(**fields: object) -> bytes:
    """A line with a check sum that fits, whatever it says."""
    note = {"what": "note", "id": "n1", "at": "2026-03-02T12:00:00Z", "question": "q", "text": "x"}
    return line_of(note | fields)


@pytest.mark.parametrize(
    "hostile",
    [
        line(id=""),
        line(at="2026-03-02T12:00:00"),
        line(at="0001-01-01T00:00:00Z"),
        line(at="9999-12-31T23:59:59-12:00"),
        line(what="moonbeam"),
        line(question=7),
        line(seconds=10**30, what="response"),
        line_of({"id": "n1"}),
        line_of({}),
        b"[" * 100_000 + b"\n",
    ],
)
def test_what_is_no_record_is_left_where_it_is(tmp_path: Path, hostile: bytes) -> None:
    fill(tmp_path / "a", response(1))
    fill(tmp_path / "b", response(2))
    log = next(tmp_path.glob("b/log/*"))
    log.write_bytes(hostile + log.read_bytes())
    store = Store.open(tmp_path / "a")
    report = merge(store, tmp_path / "b")
    store.close()
    assert report.records == 1
    assert f"{log}: line 1 was left there" in report.notices[0]
    assert state_of(tmp_path / "a").records == {response(1), response(2)}


def test_a_damaged_side_file_stops_nothing(tmp_path: Path) -> None:
    fill(tmp_path / "a", response(1))
    fill(tmp_path / "b", response(2))
    for name in ("conflicts/book.json", "banks/other.json"):
        path = tmp_path / "b" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"{")
    os.mkfifo(tmp_path / "b" / "conflicts" / "pipe.json")
    os.mkfifo(tmp_path / "b" / "log" / "pipe.jsonl")
    store = Store.open(tmp_path / "a")
    report = merge(store, tmp_path / "b")
    store.close()
    assert report.records == 1
    notices = "\n".join(report.notices)
    assert all(
        name in notices for name in ("conflicts/book", "banks/other", "pipe.json", "pipe.jsonl")
    )


def test_a_log_with_line_ends_of_another_system_is_merged_whole(tmp_path: Path) -> None:
    fill(tmp_path / "a", response(1))
    fill(tmp_path / "b", response(2), response(3))
    log = next(tmp_path.glob("b/log/*"))
    log.write_bytes(b"\xef\xbb\xbf" + log.read_bytes().replace(b"\n", b"\r\n"))
    store = Store.open(tmp_path / "a")
    assert merge(store, tmp_path / "b").records == 2
    store.close()


def test_the_own_figure_stays_and_one_that_is_missing_comes(tmp_path: Path) -> None:
    for name, content in (("a", b"mine"), ("b", b"theirs")):
        fill(tmp_path / name, response(1))
        store = Store.open(tmp_path / name)
        store.save_figure("book", "both.png", content)
        store.save_figure("book", f"{name}.png", content)
        store.close()
    store = Store.open(tmp_path / "a")
    report = merge(store, tmp_path / "b")
    store.close()
    figures = tmp_path / "a" / "banks" / "book.files"
    assert {path.name: path.read_bytes() for path in figures.iterdir()} == {
        "both.png": b"mine", "a.png": b"mine", "b.png": b"theirs",
    }  # fmt: skip
    assert any("both.png: differs" in notice for notice in report.notices)


def test_a_figure_never_lies_outside_its_bank(tmp_path: Path) -> None:
    fill(tmp_path / "a", response(1))
    store = Store.open(tmp_path / "a")
    folder = tmp_path / "a" / "banks" / "book.files"
    assert store.figure_path("book", "../../../out.png") == folder / "out.png"
    store.close()


def test_a_question_that_is_missing_in_a_bank_is_told(tmp_path: Path) -> None:
    fill(tmp_path / "a", response(1))
    path = tmp_path / "a" / "banks" / "book.json"
    lines = path.read_text().splitlines(keepends=True)
    header = next(at for at, text in enumerate(lines) if '"questions":' in text and "title" in text)
    count = len(BOOK.questions)
    lines[header] = lines[header].replace(f'"questions":{count}', f'"questions":{count + 1}')
    path.write_text("".join(lines))
    store = Store.open(tmp_path / "a", read_only=True)
    store.load_banks()
    assert any(
        f"{count} questions where {count + 1} were saved" in notice for notice in store.notices
    )


def test_of_two_versions_the_fuller_is_in_force_and_a_retirement_counts(tmp_path: Path) -> None:
    bare = bares(1)[0]
    keyed = replace(bare, answer_key=("a",))
    left, other = (bank("Book", {"Wind": {"Force": [question]}}) for question in (bare, keyed))
    name = next(iter(left.questions))
    for united, beaten in (unite(left, other), unite(other, left)):
        assert united.questions[name].answer_key == ("a",)
        assert [question.answer_key for question in beaten] == [()]
    gone = left.with_questions([replace(left.questions[name], retired=True)])
    assert unite(gone, other)[0].questions[name].retired
    assert unite(gone, left)[1] == unite(left, gone)[1] == []
