"""Opening, folding and filtering at the real size and above; what TinyDB would take to read."""

from pathlib import Path
from time import perf_counter

from tinydb import TinyDB

from banks.clock import pretend_clock
from banks.library import Library
from banks.store.bankfile import load_bank
from banks.store.checked_json import SealedStorage
from banks.store.folder import Store
from banks.store.log import LogStorage
from banks.views.listing import Listing
from banks.views.triage import Filter, by_urgency
from domain.tiers import HARD_TIERS
from tests.bench.sizes import TODAY, store_of
from tests.bench.table import Row, exponent, milliseconds

SIZES = (1, 3, 10)


def rows() -> list[Row]:
    """Milliseconds at each size, and how they grow."""
    measured = [_measured(times) for times in SIZES]
    made: list[Row] = []
    for name in measured[0]:
        taken = [size[name] for size in measured]
        goal = 100.0 if name == "filter by tier and subject" else None
        for times, value in zip(SIZES, taken, strict=True):
            made.append((f"{name}, {times} ×", value, "ms", goal if times == SIZES[-1] else None))
        made.append((f"{name}: growth", exponent(SIZES, taken), "exponent", None))
    return [*made, *_beside_tinydb(store_of(1))]


def _beside_tinydb(folder: Path) -> list[Row]:
    """What a start reads, decoded straight into our types and as TinyDB hands it out."""
    bank, log = folder / "banks/book.json", folder / "log"

    def documents() -> list[object]:
        questions = TinyDB(bank, storage=SealedStorage).table("questions")
        questions.document_id_class = str
        return list(questions)

    store = Store.open(folder, read_only=True)
    table: list[Row] = [
        ("the bank, decoded", milliseconds(lambda: load_bank(SealedStorage(bank))), "ms", None),
        ("the bank, its index kept", milliseconds(store.load_banks), "ms", None),
        ("the bank, by TinyDB", milliseconds(documents), "ms", None),
        ("the log, decoded", milliseconds(store.records, 3), "ms", None),
        ("the log, by TinyDB",
         milliseconds(lambda: list(TinyDB(log, storage=LogStorage).table("log")), 3), "ms", None),
    ]  # fmt: skip
    store.close()
    return table


def _measured(times: int) -> dict[str, float]:
    folder = store_of(times)
    Library.open(folder).close()  # what it keeps for the next start is kept
    begin = perf_counter()
    library = Library.open(folder, pretend_clock(TODAY))
    opened = perf_counter()
    for _, question_id in library.active_ids():
        library.history.standing(question_id)
    folded = perf_counter()
    listing = Listing(library, by_urgency)
    chosen = Filter(tiers=frozenset(HARD_TIERS), subject="s3")
    figures = {
        "open": (opened - begin) * 1000,
        "fold every question": (folded - opened) * 1000,
        "list every question, hardest first": milliseconds(lambda: Listing(library, by_urgency), 3),
        "filter by tier and subject": milliseconds(lambda: listing.find(chosen)),
    }
    library.close()
    return figures
