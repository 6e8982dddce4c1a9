"""Any list of questions as a sheet to print; what is printed is a sitting, to be entered later."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from banks.exporters.sheets.question_sheet import A4, Order, PageSize, sheet_of
from banks.exporters.sheets.sheet_writers import write_sheet
from banks.planning.visits import DueSweeps, pass_begun_by
from banks.views.open_sittings import unanswered
from banks.views.today import LineKind, TodayLine
from domain.errors import InputError
from domain.responses import Medium, Purpose, VisitBegun, VisitEnded
from domain.text import counted
from domain.tiers import is_waiting

if TYPE_CHECKING:
    from banks.library import Library


def print_list(
    library: "Library",
    path: Path,
    title: str,
    purpose: Purpose,
    questions: Iterable[str],
    *,
    order: Order = Order.BOOK,
    page_size: PageSize = A4,
) -> str:
    """Write these questions as a sheet; the id of the sitting by which it is entered later.

    Raises InputError where there is none to print, UsageError
    for the file's ending, StoreError.
    """
    listed = set(questions)
    about = f"{counted(len(listed), 'question')} on {library.today()} · {order}"
    _write(library, path, title, listed, about, order, page_size)
    return _opened(library, title, purpose, listed)


def print_lines(library: "Library", lines: Sequence[TodayLine], path: Path) -> int:
    """Write the questions of these lines that are not done as one sheet; how many there are.

    Each line is a sitting of its own. A sweep that is due, or the day's pass, begins: its list is
    what is printed.
    Raises InputError when nothing is left.
    """
    listed = [(line, {item.question for item in line.items if not item.done}) for line in lines]
    listed = [(line, questions) for line, questions in listed if questions]
    if not listed:
        raise InputError("there is nothing left to print for this day")
    titles = (line.subject_title or line.kind.value.capitalize() for line, _ in listed)
    title = " · ".join(dict.fromkeys(titles))
    every = set().union(*(questions for _, questions in listed))
    _write(library, path, title, every, f"{library.today()}", Order.BOOK, A4)
    for line, questions in listed:
        visit = _visit(library, questions, line.kind)
        _opened(library, line.title, line.purpose, questions, visit)
    return len(every)


def _write(
    library: "Library",
    path: Path,
    title: str,
    questions: set[str],
    about: str,
    order: Order,
    page_size: PageSize,
) -> None:
    standings = {name: library.history.standing(name) for name in questions}
    today, after_days = library.today(), library.history.rules.waiting_days
    if waiting := sum(is_waiting(each, today, after_days) for each in standings.values()):
        about += f" · {waiting:,} waiting"
    write_sheet(path, sheet_of(library.banks.values(), standings, order, title, about), page_size)


def _opened(
    library: "Library", title: str, purpose: Purpose, questions: set[str], visit: str = ""
) -> str:
    """The sitting over just this list in book order: the one that is open, or a new one.

    A sheet of which a part was entered since is the same where just these are left of it.
    """
    for sitting in library.history.sittings.values():
        opened = sitting.opened
        if (
            opened.sheet
            and not sitting.closed
            and questions in (set(opened.questions), set(unanswered(library, sitting)))
        ):
            return opened.id
    ordered = [name for _, name in library.active_ids() if name in questions]
    return library.open_sitting(
        title, purpose, ordered, medium=Medium.PRINTED, visit=visit, sheet=True
    )


def _visit(library: "Library", questions: set[str], kind: LineKind) -> str:
    """The sweep or pass that these belong to, begun now if it is due; "" where there is none."""
    if kind is LineKind.SWEEP:
        begun = DueSweeps(library).begun_by(questions, library.now())
    elif kind is LineKind.PASS:
        begun = pass_begun_by(library, questions, library.now())
    else:
        return ""
    if begun:
        library.keep(begun)
    ended = {record.visit for record in library.history.records_of(VisitEnded)}
    for visit in reversed(library.history.records_of(VisitBegun)):
        listed = {*visit.questions, *visit.also_open, *visit.untried}
        if visit.kind.value == kind.value and visit.id not in ended and questions <= listed:
            return visit.id
    return ""
