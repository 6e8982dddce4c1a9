"""A process that works on a store until it is killed: `python -m tests.faults.victim FOLDER WORK`.

It prints a line when it is about to begin, and one for all that it has been told is saved.
"""

import sys
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

from banks.library import Given, Library
from banks.maintenance.backup import restore
from banks.maintenance.merge import merge
from banks.maintenance.opening import prepare as before_opening
from banks.store.folder import Store
from domain.questions import Bank
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.builders import bank, bares
from tests.faults.scenarios import START, fill, knowing_format_0, response

PAGE = 105
THICK = bank("Thick", {"Clouds": {"All": bares(PAGE)}})
MANY = tuple(response(number) for number in range(3000))


def prepare(folder: Path) -> None:
    """A store, and beside it another one and a backup of it."""
    fill(folder, response(9000), banks=(THICK,))
    fill(folder.with_name("other"), *MANY, banks=(THICK, edition(1)))


def edition(number: int) -> Bank:
    """The bank that is imported again and again."""
    return bank(f"Edition {number}", {"Winds": {"All": bares(40 + number % 7)}})


def _recording(folder: Path) -> Iterator[str]:
    yield from _library_work(folder, page=1)


def _marking(folder: Path) -> Iterator[str]:
    yield from _library_work(folder, page=PAGE)


def _library_work(folder: Path, page: int) -> Iterator[str]:
    library = Library.open(folder, lambda: START)
    questions = list(library.banks["thick"].questions)
    for begin in count(0, page):
        chosen = [questions[(begin + step) % PAGE] for step in range(page)]
        outcomes = library.record(
            [Given(question=question_id, verdict=Verdict.WRONG) for question_id in chosen],
            Purpose.REVISION,
        )
        yield " ".join(outcome.response.id for outcome in outcomes)


def _importing(folder: Path) -> Iterator[str]:
    store = Store.open(folder)
    for number in count():
        made = edition(number)
        store.load_banks()
        store.save_bank(made)
        yield f"{made.id} {len(made.questions)}"


def _merging(folder: Path) -> Iterator[str]:
    store = Store.open(folder)
    yield f"merged {merge(store, folder.with_name('other')).records}"


def _restoring(folder: Path) -> Iterator[str]:
    yield f"restored {restore(folder, folder.with_name('other.zip')).name}"


def _upgrading(folder: Path) -> Iterator[str]:
    with knowing_format_0():
        Store.open(folder, prepare=before_opening).close()
    yield "upgraded"


WORKS: dict[str, Callable[[Path], Iterator[str]]] = {
    "recording": _recording, "marking": _marking, "importing": _importing,
    "merging": _merging, "restoring": _restoring, "upgrading": _upgrading,
}  # fmt: skip

if __name__ == "__main__":
    print("begin", flush=True)
    for line in WORKS[sys.argv[2]](Path(sys.argv[1])):
        print(line, flush=True)
