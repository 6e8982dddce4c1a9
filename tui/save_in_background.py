"""Saving an edited bank: at once while it is small, behind the screen when it is large."""

from collections.abc import Callable, Iterable

from domain.errors import ResieveError
from domain.questions import Bank
from domain.responses import BankSaved
from tui.base_screen import AppScreen

SOON = 30_000
"""Banks of up to so many questions are written within a few hundredths of a second."""


def save_edit(
    room: AppScreen, bank: Bank, changed: Iterable[str], label: str, then: Callable[[], None]
) -> None:
    """Save, then go on; a problem is told and nothing is changed."""
    library, names = room.library, tuple(changed)
    _run(room, bank, lambda: library.save_bank(bank, names, label=label), then)


def undo_edit(room: AppScreen, then: Callable[[], None]) -> None:
    """Undo the newest change of a bank, then go on."""
    newest = room.library.newest
    records = newest.records if newest else ()
    saved = next((record for record in records if isinstance(record, BankSaved)), None)
    bank = room.library.banks.get(saved.bank) if saved else None
    if newest is None or bank is None:
        room.tell("Nothing to undo here.")
        return

    def told() -> None:
        room.notify(f"Undone: {newest.label}.", markup=False, timeout=2)
        then()

    _run(room, bank, room.library.undo, told)


def _run(room: AppScreen, bank: Bank, save: Callable[[], object], then: Callable[[], None]) -> None:
    """Call `save` here, or for a large bank in a thread with the screen at rest meanwhile."""
    if len(bank.questions) <= SOON:
        attempt(room, save, then)
        return
    focused, room.disabled = room.focused, True

    def back(finish: Callable[[], None]) -> None:
        room.disabled = False
        room.set_focus(focused)
        finish()

    def behind() -> None:
        try:
            save()
        except ResieveError as failure:
            problem = failure
            room.app.call_from_thread(back, lambda: room.tell(problem))
        else:
            room.app.call_from_thread(back, then)

    room.in_background(behind, group="saving")


def attempt(room: AppScreen, save: Callable[[], object], then: Callable[[], None]) -> None:
    """Call `save`, then go on; a problem is told and nothing is changed."""
    try:
        save()
    except ResieveError as problem:
        room.tell(problem)
    else:
        then()
