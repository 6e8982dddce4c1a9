"""A history read on from what was kept is the one that the log gives when it is read anew."""

import random
import shutil
from collections.abc import Callable, Iterable, Iterator
from copy import copy
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

import banks.kept_history
import banks.views.evidence_log
from banks.contents import StoreContents
from banks.kept_history import KeptLog
from banks.library import Given, Library
from banks.planning.intents import accept
from banks.planning.tallies import tallies_of
from banks.planning.workload import PlanWorkload
from banks.store.cache import Cache
from banks.store.folder import Store
from banks.views.confusions import confusions
from banks.views.drill import drill_candidates
from banks.views.evidence import evidence
from banks.views.evidence_log import EvidenceLog, evidence_log
from banks.views.listing import Listing
from banks.views.sweeping import sweep
from banks.views.triage import by_urgency, preview_rules, subject_counts, waiting_by_subject
from domain.grading import Duplicates
from domain.history import History
from domain.plan.inputs import PlanInputs
from domain.responses import (
    Flag,
    Purpose,
    ReadingTime,
    Reason,
    VisitBegun,
    VisitEnd,
    VisitEnded,
    VisitKind,
)  # fmt: skip
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock, bank, bares, full, library

BOOK = bank(
    "Book",
    {
        "Clouds": {"High": [full(n, f"Cloud {n}?", ("a", "b", "c"), "a") for n in range(1, 7)]},
        "Tides": {"Spring": bares(6)},
    },
)
NAMES = list(BOOK.questions)


@pytest.fixture(autouse=True)
def _small_stores_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(banks.kept_history, "FEWEST", 1)


def opened(folder: Path, clock: FakeClock) -> Library:
    return Library.open(folder, clock)


def told(contents: StoreContents) -> list[object]:
    """All that is read of a history, by record, by column and through the planner."""
    history = contents.history
    workload = PlanWorkload(contents)
    read = evidence_log(contents)
    day = contents.today()
    return [
        [(name, history.standing(name)) for name in NAMES],
        [list(history.waiting_mornings(name, day)) for name in NAMES],
        [history.standing_before(name, day) for name in NAMES],
        [list(history.tallied(name)) for name in NAMES],
        sorted(history.questions()),
        history.answered_on(day),
        (workload.events, workload.subjects, workload.tried),
        [workload.progress(day - timedelta(days=back)) for back in (-1, 0, 1, 40)],
        (workload.days_worked, workload.timed, list(workload.events_on(day))),
        tallies_of(contents, day),
        (waiting_by_subject(contents), subject_counts(contents, ["book"])),
        (read.ids, in_lists(read.responses), read.blanks, read.trials()),
        [in_lists(stood) for stood in (read.now, read.morning)],
        confusions(contents),
        (evidence(contents), sweep(contents, 5)),
        [history.trail(name) for name in NAMES],
        [history.events(name) for name in NAMES],
        [history.note(name) for name in NAMES],
        [(history.dispute(name), history.is_flagged(name)) for name in NAMES],
        [
            (history.verdict(response), history.reason(response), history.reading(response))
            for name in NAMES
            for response in history.responses(name)
        ],
        {name: (sitting.closed, sitting.left) for name, sitting in history.sittings.items()},
    ]  # fmt: skip


def in_lists(columns: Iterable[Any]) -> list[Any]:
    """Columns, of whatever, as lists that can be compared."""
    return [
        column.tolist() if hasattr(column, "tolist") else in_lists(column) for column in columns
    ]


def read_anew(library: Library) -> StoreContents:
    """The same store, its history folded from the whole log, without anything that was kept."""
    store = copy(library.store)
    store.cache = Cache(store.folder / "nothing", store.system)
    contents = Library(store, library.now)
    settings = contents.settings
    contents.history = History(
        library.store.records(), contents.question, settings.tier_rules, settings.turn_hour,
        Duplicates(contents.question, contents.duplicates, contents.stays),
    )  # fmt: skip
    return contents


def is_read_on(library: StoreContents) -> bool:
    basis = library.history_basis
    return basis is not None and basis.is_read_on


def merge(library: Library) -> None:
    """Retire the second question as a duplicate of the first, or take that back."""
    book = library.banks["book"]
    stays = "" if book.questions[NAMES[1]].same_as else NAMES[0]
    second = replace(book.questions[NAMES[1]], same_as=stays, retired=bool(stays))
    library.save_bank(book.with_questions([second]), NAMES[:2])


class Candidate:
    """Does what a candidate can do, at random."""

    def __init__(self, seed: int) -> None:
        self._dice = random.Random(seed)

    def act(self, library: Library) -> None:
        dice, history = self._dice, library.history
        library.now.go_on(seconds=dice.choice((0, 1, 90)), days=dice.choice((0, 0, 0, 1, 9)))
        name = dice.choice(NAMES)
        given = [response for question in NAMES for response in history.responses(question)]
        match dice.randrange(14):
            case 0 | 1 | 2 | 3:
                names = dice.sample(NAMES, dice.randint(1, 4))
                purpose = dice.choice((Purpose.REVISION, Purpose.FREE, Purpose.SWEEP))
                library.record([self._given(name) for name in names], purpose)
            case 4:
                earlier = library.today() - timedelta(days=dice.randint(0, 20))
                library.record([self._given(name)], Purpose.REVISION, day=earlier)
            case 5:
                library.undo()
            case 6 if given:
                library.reason(dice.choice(given).id, dice.choice(list(Reason)))
            case 7 if given:
                library.put_on_record(
                    ReadingTime, response=dice.choice(given).id, seconds=dice.randint(1, 60)
                )
            case 8:
                library.set_tier(name, Tier(dice.randint(0, 3)), "so")
            case 9:
                library.dispute(name, dice.choice((("b",), ())))
                library.note(name, f"note {dice.random()}")
                library.put_on_record(Flag, question=name, on=dice.random() < 0.5)
            case 10:
                sitting = library.open_sitting("Paper", Purpose.PAPER, NAMES)
                for _ in range(2):
                    library.record([self._given(name)], Purpose.PAPER, sitting=sitting)
            case 11:
                self._visit(library)
            case 12 if given:
                response = dice.choice(given)
                library.record(
                    [self._given(response.question)], Purpose.REVISION, replacing=[response]
                )

            case 13:
                merge(library)

    def _given(self, name: str) -> Given:
        dice = self._dice
        confidence = dice.choice(list(Confidence))
        if BOOK.questions[name].stem:
            chosen = (dice.choice("abc"),)
            return Given(question=name, chosen=chosen, confidence=confidence, seconds=12.3)
        verdict = dice.choice(list(Verdict))
        return Given(question=name, verdict=verdict, confidence=confidence)

    def _visit(self, library: Library) -> None:
        begun = VisitBegun(
            **library.stamp(), kind=VisitKind.SWEEP, bank="book", subject="clouds", round=1,
            planned=library.today(), questions=tuple(NAMES[:3]),
        )  # fmt: skip
        library.keep([begun])
        if self._dice.random() < 0.5:
            library.put_on_record(VisitEnded, visit=begun.id, how=VisitEnd.DONE)


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_recorded_reads_the_same_on_as_anew(
    tmp_path: Path, seed: int, monkeypatch
) -> None:
    monkeypatch.setattr(banks.kept_history, "LONGEST_TAIL", seed)
    candidate, clock = Candidate(seed), FakeClock()
    made = library(tmp_path, BOOK, clock=clock)
    accept(made, PlanInputs(exam=date(2026, 9, 1)))
    read_on = 0
    for _ in range(12):
        for _ in range(candidate._dice.randint(0, 4)):
            candidate.act(made)
        assert told(made) == told(read_anew(made))
        made.keep_history()
        made.close()
        made = opened(tmp_path, clock)
        read_on += is_read_on(made)
        assert told(made) == told(read_anew(made))
        made.history.read_all()
    made.close()
    assert read_on >= 7


@pytest.mark.parametrize("seed", range(2))
def test_figures_brought_on_in_an_open_library_are_those_made_anew(
    tmp_path: Path, seed: int
) -> None:
    candidate, made = Candidate(seed + 20), library(tmp_path, BOOK)
    accept(made, PlanInputs(exam=date(2026, 9, 1)))
    for _ in range(50):
        candidate.act(made)
        anew = read_anew(made)
        assert (evidence(made), sweep(made, 5)) == (evidence(anew), sweep(anew, 5))
        read, again = evidence_log(made), evidence_log(anew)
        assert in_lists(read.responses) == in_lists(again.responses)
        assert in_lists(read.morning) == in_lists(again.morning)
        assert read.trials() == again.trials()


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Library:
    """A library whose history and practice are kept."""
    monkeypatch.setattr(banks.kept_history, "LONGEST_TAIL", 0)
    made = library(tmp_path / "store", BOOK)
    accept(made, PlanInputs(exam=date(2026, 9, 1)))
    candidate = Candidate(7)
    for _ in range(30):
        candidate.act(made)
    made.close()
    again = opened(tmp_path / "store", made.now)
    again.keep_history()
    EvidenceLog(again)
    confusions(again)
    again.close()
    return again


def reopened(kept: Library) -> Library:
    again = opened(kept.store.folder, kept.now)
    assert told(again) == told(read_anew(again))
    again.close()
    return again


def log_of(kept: Library) -> Path:
    """The fullest of its files."""
    return max(kept.store.log.files(), key=lambda path: path.stat().st_size)


def swapped(log: Path) -> None:
    """Change a line in place and seal it again, its size as it was."""
    from msgspec.json import decode

    from banks.store.log import line_of

    lines = log.read_bytes().splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if b'"verdict":"wrong"' in line)
    document = decode(lines[at]) | {"verdict": "blank"}
    del document["sum"]
    lines[at] = line_of(document)
    log.write_bytes(b"".join(lines))


def strict(kept: Library) -> None:
    again = opened(kept.store.folder, kept.now)
    rules = replace(again.settings.tier_rules, strict=True, unsure_signs=False)
    again.save_settings(replace(again.settings, tier_rules=rules))
    again.close()


def later_turn(kept: Library) -> None:
    again = opened(kept.store.folder, kept.now)
    again.save_settings(replace(again.settings, turn_hour=10))
    again.close()


def other_key(kept: Library) -> None:
    again = opened(kept.store.folder, kept.now)
    book = again.banks["book"]
    again.save_bank(book.with_questions([replace(book.questions[NAMES[0]], answer_key=("b",))]))
    again.close()


DOUBTS: dict[str, Callable[[Library], object]] = {
    "nothing": lambda kept: None,
    "a line changed in place": lambda kept: swapped(log_of(kept)),
    "cut short": lambda kept: log_of(kept).write_bytes(log_of(kept).read_bytes()[:-40]),
    "a file gone": lambda kept: log_of(kept).unlink(),
    "line ends": lambda kept: log_of(kept).write_bytes(
        log_of(kept).read_bytes().replace(b"\n", b"\r\n")
    ),
    "other rules": strict,
    "another turn of the day": later_turn,
    "another key": other_key,
    "the cache deleted": lambda kept: shutil.rmtree(kept.store.folder / "cache"),
    "another program": lambda kept: kept.store.cache.save_packed("history", ["of", "another"]),
}


@pytest.mark.parametrize("doubt", DOUBTS)
def test_at_any_doubt_the_log_is_read_anew(kept: Library, doubt: str) -> None:
    DOUBTS[doubt](kept)
    assert is_read_on(reopened(kept)) is (doubt == "nothing")


def test_the_practice_of_merged_questions_is_never_kept(kept: Library) -> None:
    again = opened(kept.store.folder, kept.now)
    merge(again)
    EvidenceLog(again)
    confusions(again)
    again.now.go_on(days=1)
    again.record([Given(question=NAMES[1], chosen=("c",))], Purpose.FREE)
    assert told(again) == told(read_anew(again))


def test_another_machines_file_is_read_on_and_copied_lines_count_once(kept: Library) -> None:
    log = log_of(kept)
    shutil.copy(log, log.with_name(f"{log.name[:7]}.elsewhere-00000000.jsonl"))
    reopened(kept)


def test_a_log_changed_while_open_is_read_anew(kept: Library) -> None:
    again = opened(kept.store.folder, kept.now)
    log = log_of(kept)
    log.write_bytes(b"\n".join(reversed(log.read_bytes().split(b"\n")[:-1])) + b"\n")
    assert told(again) == told(read_anew(again))


def damaged(content: bytes, dice: random.Random) -> Iterator[bytes]:
    for _ in range(25):
        cut = dice.randrange(len(content))
        flipped = bytearray(content)
        flipped[cut] ^= 1 << dice.randrange(8)
        yield bytes(flipped)
        yield content[:cut]
        yield content[:12] + dice.randbytes(cut % 300)


def test_lists_and_the_drill_form_read_no_records(
    kept: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    again, made = opened(kept.store.folder, kept.now), read_anew(kept)
    assert is_read_on(again)
    monkeypatch.setattr(KeptLog, "read", lambda *_: pytest.fail("records were read"))
    monkeypatch.setattr(KeptLog, "read_all", lambda *_: pytest.fail("records were read"))

    assert Listing(again, by_urgency).rows == Listing(made, by_urgency).rows
    assert list(map(again.response_count, NAMES)) == list(map(made.response_count, NAMES))
    rules = replace(made.settings.tier_rules, strict=True)
    assert preview_rules(again, rules) == preview_rules(made, rules)
    assert list(drill_candidates(again, with_reasons=False)) == list(
        drill_candidates(made, with_reasons=False)
    )


def test_a_damaged_file_is_as_good_as_none(kept: Library) -> None:
    file = kept.store.folder / "cache/history.packed"
    content, right = file.read_bytes(), told(opened(kept.store.folder, kept.now))
    for broken in damaged(content, random.Random(1)):
        file.write_bytes(broken)
        store = Store.open(kept.store.folder, read_only=True)
        contents = StoreContents(store, kept.now)
        assert not is_read_on(contents) or broken == content
    assert told(contents) == right


def test_numbers_that_no_table_has_are_not_used(kept: Library) -> None:
    """A file with a right check sum may still hold anything: whoever made it."""
    cache = kept.store.cache
    sound = cache.load_packed("history", banks.kept_history.HistoryFile)
    dice = random.Random(2)
    for _ in range(40):
        columns = dict(sound.columns)
        column = dice.choice(list(columns))
        raw = bytearray(columns[column])
        raw[dice.randrange(len(raw))] ^= 1 << dice.randrange(8)
        columns[column] = bytes(raw[: dice.choice((len(raw), len(raw) - 8))])
        begins = sound.begins if dice.random() < 0.7 else dice.randbytes(len(sound.begins))
        cache.save_packed("history", replace(sound, columns=columns, begins=begins))
        contents = StoreContents(Store.open(kept.store.folder, read_only=True), kept.now)
        told(contents)


def test_what_was_learnt_is_kept_for_the_very_same_full_days(kept: Library) -> None:
    again, made = opened(kept.store.folder, kept.now), list[str]()

    def learn(name: str) -> str:
        made.append(name)
        return name

    def learnt(made_from: str) -> str:
        return EvidenceLog(again).kept("thing", str, made_from, lambda: learn(made_from))

    assert [learnt("one"), learnt("one")] == ["one", "one"]
    again.record([Given(question=NAMES[1], chosen=("c",))], Purpose.FREE)
    assert learnt("one") == "one"
    assert made == ["one"]  # today's responses teach nothing yet
    again.now.go_on(days=1)
    assert [learnt("one"), learnt("two"), learnt("one")] == ["one", "two", "one"]
    assert made == ["one", "one", "two", "one"]
    book = again.banks["book"]
    again.save_bank(book.with_questions([replace(book.questions[NAMES[2]], stem="Which cloud?")]))
    assert learnt("one") == "one"
    again.close()
    again = opened(kept.store.folder, kept.now)
    assert learnt("one") == "one"
    assert made == ["one", "one", "two", "one"]  # nor does a corrected stem
    history = again.history
    answered = (given for name in NAMES for given in history.responses(name) if given.chosen)
    right = next(given for given in answered if history.verdict(given) is Verdict.RIGHT)
    again.dispute(right.question, ("bc"[right.chosen == ("b",)],))
    assert learnt("one") == "one"
    assert made == ["one", "one", "two", "one", "one"]
