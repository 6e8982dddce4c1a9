"""Opening, folding and filtering at the real size, three and ten times it."""

from time import perf_counter

from banks.clock import pretend_clock
from banks.library import Library
from banks.views.listing import Listing
from banks.views.triage import Filter, by_urgency
from domain.tiers import HARD_TIERS
from tests.bench.sizes import TODAY, store_of
from tests.bench.table import Row, exponent, milliseconds

SIZES = (1, 3, 10)


def rows() -> list[Row]:
    """Milliseconds at each size, and how they grow."""
    found = [_measured(times) for times in SIZES]
    made: list[Row] = []
    for name in found[0]:
        taken = [one[name] for one in found]
        goal = 100.0 if name == "filter by tier and subject" else None
        for times, value in zip(SIZES, taken, strict=True):
            made.append((f"{name}, {times} ×", value, "ms", goal if times == SIZES[-1] else None))
        made.append((f"{name}: growth", exponent(SIZES, taken), "exponent", None))
    return made


def _measured(times: int) -> dict[str, float]:
    folder = store_of(times)
    Library.open(folder).close()  # what it keeps for the next start is kept
    begin = perf_counter()
    library = Library.open(folder, pretend_clock(TODAY))
    opened = perf_counter()
    for _, question in library.active_questions():
        library.history.standing(question.id)
    folded = perf_counter()
    listing = Listing(library, by_urgency)
    wanted = Filter(tiers=frozenset(HARD_TIERS), subject="s3")
    figures = {
        "open": (opened - begin) * 1000,
        "fold every question": (folded - opened) * 1000,
        "list every question, hardest first": milliseconds(lambda: Listing(library, by_urgency), 3),
        "filter by tier and subject": milliseconds(lambda: listing.find(wanted)),
    }
    library.close()
    return figures
