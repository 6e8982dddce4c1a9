"""Changes made to banks by hand: saved at once, and taken back one by one as long as the app runs.

Unlike what is said about questions, a bank is not a log: taking back puts the bank before in its
place, so it is only possible while nothing else has changed the bank since.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from msgspec import Struct

from domain.errors import InputError
from domain.questions import Bank

if TYPE_CHECKING:
    from banks.library import Library


class Edited(Struct, frozen=True):
    """An edit: the bank before and after, the questions to regrade, and what it was in words."""

    before: Bank
    after: Bank
    changed: tuple[str, ...]
    label: str


class Edits:
    """The edits of this run, newest last."""

    def __init__(self, library: "Library") -> None:
        self._library = library
        self._done: list[Edited] = []

    @property
    def newest(self) -> Edited | None:
        """What `undo` would take back."""
        return self._done[-1] if self._done else None

    def save(self, bank: Bank, changed: Iterable[str], label: str) -> None:
        """Put a changed bank in the place of the old. A new bank is kept but can't be taken back.

        Raises StoreError when it is not saved; nothing is changed then.
        """
        before, names = self._library.banks.get(bank.id), tuple(changed)
        self._library.save_bank(bank, names)
        if before is not None:
            self._done.append(Edited(before, bank, names, label))

    def undo(self) -> Edited | None:
        """Take the newest edit back, or None when there is none.

        Raises InputError when the bank was changed otherwise since, StoreError when not saved.
        """
        newest = self.newest
        if newest is None:
            return None
        if self._library.banks.get(newest.after.id) is not newest.after:
            self._done.clear()
            raise InputError("the bank was changed otherwise since; the edit can't be taken back")
        self._library.save_bank(newest.before, newest.changed)
        return self._done.pop()
