"""Lines of Today as a sheet to print; what is printed is a sitting."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from banks.exporters.sheets import Order, sheet_of, write_sheet
from banks.views.today import TodayLine
from domain.errors import InputError
from domain.responses import Medium

if TYPE_CHECKING:
    from banks.library import Library


def print_lines(library: "Library", lines: Sequence[TodayLine], path: Path) -> int:
    """Write the questions of these lines that are not done as a sheet; how many there are.

    Each line's list becomes a printed sitting, so that it is keyed back question by question;
    printed again, the same list is the same sitting. Raises InputError when nothing is left.
    """
    listed = [(line, [item.question for item in line.items if not item.done]) for line in lines]
    listed = [(line, questions) for line, questions in listed if questions]
    if not listed:
        raise InputError("there is nothing left to print for this day")
    standings = {
        name: library.history.standing(name) for _, questions in listed for name in questions
    }
    title = " · ".join(dict.fromkeys(line.subject_title for line, _ in listed))
    sheet = sheet_of(library.banks.values(), standings, Order.BOOK, title, f"{library.today()}")
    write_sheet(path, sheet)
    for line, questions in listed:
        if not printed_before(library, questions):
            title = f"{line.subject_title} · {line.kind.value}"
            library.open_sitting(title, line.purpose, questions, medium=Medium.PRINTED, sheet=True)
    return len(standings)


def printed_before(library: "Library", questions: Sequence[str]) -> str:
    """The open printed sitting over just this list, "" if there is none."""
    for sitting in library.history.sittings.values():
        opened = sitting.opened
        if (
            opened.sheet
            and opened.medium is Medium.PRINTED
            and not sitting.closed
            and opened.questions == tuple(questions)
        ):
            return opened.id
    return ""
