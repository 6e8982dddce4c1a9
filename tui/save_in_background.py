"""Saving an edited bank: at once while it is small, behind the screen when it is large."""

from collections.abc import Callable, Iterable

from domain.errors import ResieveError
from domain.questions import Bank
from tui.base_screen import AppScreen

SOON = 30_000
"""Banks of up to so many questions are written within a few hundredths of a second."""


def save_edit(
    screen: AppScreen, bank: Bank, changed: Iterable[str], label: str, then: Callable[[], None]
) -> None:
    """Save, then go on; a problem is told and nothing is changed."""
    library, names = screen.library, tuple(changed)
    _run(screen, bank, lambda: library.save_bank(bank, names, label=label), then)


def undo_edit(screen: AppScreen, then: Callable[[], None]) -> None:
    """Undo the newest change of a bank, then go on."""
    newest = screen.library.newest
    bank = screen.library.newest_bank()
    if newest is None or bank is None:
        screen.tell("Nothing to undo here.")
        return

    def told() -> None:
        screen.notify(f"Undone: {newest.label}.", timeout=2)
        then()

    _run(screen, bank, screen.library.undo, told)


def _run(
    screen: AppScreen, bank: Bank, save: Callable[[], object], then: Callable[[], None]
) -> None:
    """Call `save` here, or for a large bank in a thread with the screen at rest meanwhile."""
    if len(bank.questions) <= SOON:
        attempt(screen, save, then)
        return
    focused, screen.disabled = screen.focused, True

    def back(finish: Callable[[], None]) -> None:
        screen.disabled = False
        screen.set_focus(focused)
        finish()

    def behind() -> None:
        try:
            save()
        except ResieveError as failure:
            problem = failure
            screen.app.call_from_thread(back, lambda: screen.tell(problem))
        else:
            screen.app.call_from_thread(back, then)

    screen.in_background(behind, group="saving")


def attempt(screen: AppScreen, save: Callable[[], object], then: Callable[[], None]) -> None:
    """Call `save`, then go on; a problem is told and nothing is changed."""
    try:
        save()
    except ResieveError as problem:
        screen.tell(problem)
    else:
        then()
