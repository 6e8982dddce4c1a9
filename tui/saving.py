"""Saving an edited bank: at once while it is small, behind the screen when it is large."""

from collections.abc import Callable, Iterable

from domain.errors import ResieveError
from domain.questions import Bank
from tui.room import Room

SOON = 30_000
"""Banks of up to so many questions are written within a few hundredths of a second."""


def save_edit(
    room: Room, bank: Bank, changed: Iterable[str], label: str, then: Callable[[], None]
) -> None:
    """Save, then go on; a problem is told and nothing is changed."""
    edits, names = room.library.edits, tuple(changed)
    _run(room, bank, lambda: edits.save(bank, names, label), then)


def undo_edit(room: Room, then: Callable[[], None]) -> None:
    """Take the newest edit back, then go on."""
    newest = room.library.edits.newest
    if newest is None:
        room.tell("There is no edit to take back.")
        return

    def told() -> None:
        room.notify(f"Taken back: {newest.label}.", markup=False, timeout=2)
        then()

    _run(room, newest.after, room.library.edits.undo, told)


def _run(room: Room, bank: Bank, save: Callable[[], object], then: Callable[[], None]) -> None:
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


def attempt(room: Room, save: Callable[[], object], then: Callable[[], None]) -> None:
    """Call `save`, then go on; a problem is told and nothing is changed."""
    try:
        save()
    except ResieveError as problem:
        room.tell(problem)
    else:
        then()
