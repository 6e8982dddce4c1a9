"""A response that takes the place of another, and what undo makes of it."""

from pathlib import Path

import pytest

from banks.library import Given, Library
from domain.errors import StoreError
from domain.responses import Purpose, Withdrawal
from domain.tiers import Tier
from domain.verdicts import Verdict
from tests.builders import FakeClock, bank, bares, library

QUESTION = "book/air.one/1"


def opened(tmp_path: Path) -> Library:
    return library(tmp_path, bank("Book", {"Air": {"One": bares(3)}}))


def mark(opened: Library, verdict: Verdict, *, correcting: bool = False) -> None:
    earlier = opened.history.responses(QUESTION) if correcting else []
    given = Given(question=QUESTION, verdict=verdict)
    opened.record([given], Purpose.REVISION, replacing=earlier)
    opened.now.go_on(seconds=1)


def verdicts(opened: Library) -> list[Verdict]:
    return [response.verdict for response in opened.history.responses(QUESTION)]


def test_a_correction_leaves_no_trace_of_the_earlier_mark_in_the_standing(tmp_path):
    library = opened(tmp_path)
    mark(library, Verdict.WRONG)
    mark(library, Verdict.RIGHT, correcting=True)

    assert verdicts(library) == [Verdict.RIGHT]
    assert library.history.standing(QUESTION).tier is Tier.CLEAR


def test_undoing_a_correction_brings_the_earlier_mark_back_and_undoing_that_leaves_nothing(
    tmp_path,
):
    library = opened(tmp_path)
    mark(library, Verdict.WRONG)
    mark(library, Verdict.RIGHT, correcting=True)
    mark(library, Verdict.BLANK, correcting=True)
    seen = []
    while library.undo():
        seen.append(verdicts(library))

    assert seen == [[Verdict.RIGHT], [Verdict.WRONG], []]


def test_the_store_read_again_tells_the_same_after_every_step(tmp_path):
    library = opened(tmp_path)
    compared = []
    for verdict in (Verdict.WRONG, Verdict.RIGHT):
        mark(library, verdict, correcting=True)
    for _ in range(3):
        read = Library.open(tmp_path, FakeClock(), read_only=True)
        compared.append((verdicts(read), verdicts(library)))
        library.undo()

    assert compared == [([Verdict.RIGHT],) * 2, ([Verdict.WRONG],) * 2, ([],) * 2]


def test_the_withdrawal_stands_after_what_takes_its_place(tmp_path):
    library = opened(tmp_path)
    mark(library, Verdict.WRONG)
    mark(library, Verdict.RIGHT, correcting=True)

    kinds = [type(record) is Withdrawal for record in library.store.own_records()]
    assert kinds == [False, False, True]


def test_what_is_not_on_the_drive_is_not_in_the_history_either(tmp_path, monkeypatch):
    library = opened(tmp_path)
    mark(library, Verdict.WRONG)

    def fail(records: object) -> None:
        raise StoreError("no room")

    monkeypatch.setattr(library.store, "append", fail)
    with pytest.raises(StoreError):
        mark(library, Verdict.RIGHT, correcting=True)
    assert verdicts(library) == [Verdict.WRONG]
