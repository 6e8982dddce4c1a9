"""Paper work over a chapter, and over a list."""

from collections.abc import Iterable

from banks.library import Location
from banks.sittings.printed_sitting import Scope, chapter_scope, list_scope
from domain.responses import Purpose
from tui.screens.printed_marking import PrintedMarkingScreen


class Paper(PrintedMarkingScreen):
    """A chapter, or its questions from number `first` to number `last`."""

    def __init__(
        self,
        location: Location,
        purpose: Purpose,
        first: int | None = None,
        last: int | None = None,
    ) -> None:
        super().__init__()
        self._asked = (location, purpose, first, last)

    def scope(self) -> Scope:
        """The chapter, or so much of it."""
        return chapter_scope(*self._asked)


class PaperList(PrintedMarkingScreen):
    """Questions of any chapters, with the book open: a sweep, a filled sheet."""

    def __init__(self, title: str, purpose: Purpose, questions: Iterable[str]) -> None:
        super().__init__()
        self._asked = (title, purpose, tuple(questions))

    def scope(self) -> Scope:
        """The list, in the order of the book."""
        return list_scope(self.library, *self._asked)
