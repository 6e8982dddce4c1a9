"""The base of screens that list every question and search them while a word is being typed."""

from textual.timer import Timer
from textual.widgets import Input

from banks.views.listing import Listing, Order
from banks.views.triage import Row
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.widgets.virtual_list import VirtualList

PRINT = Action(
    "print", "P", "Print", "Print the listed questions as a sheet, to enter later.", footer=False
)
SEARCH = Action("search", "slash", "Search", "Search all text; esc closes the search.")
AT_ONCE = 5_000
"""Up to so many questions are read before the screen is drawn, more in a thread."""
_PAUSE = 0.04
"""Seconds of silence before what was typed is looked for."""


class QuestionListScreen(AppScreen):
    """Holds the listing and the search line. A subclass yields its list with the id "list" and
    `search_line()`. `show_list` is called when the listing was read, `look` when the words looked
    for have changed.
    """

    ORDER: Order = list

    AUTO_FOCUS = "#list"
    DEFAULT_CSS = """
    QuestionListScreen #search { display: none; padding: 0 2; }
    QuestionListScreen #search.-open { display: block; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._listing: Listing | None = None
        self._timer: Timer | None = None

    def search_line(self) -> Input:
        """The line in which words to look for are typed; hidden until it is asked for."""
        return Input(id="search", placeholder="search", compact=True)

    @property
    def sought(self) -> str:
        """The words looked for."""
        return self.query_one("#search", Input).value

    @property
    def rows(self) -> VirtualList[Row]:
        """The list."""
        return self.query_one("#list", VirtualList)

    # reading

    @property
    def listing(self) -> Listing:
        """Every question; read before `show_list` is called."""
        assert self._listing is not None
        return self._listing

    @property
    def is_listed(self) -> bool:
        """Whether the listing was read already."""
        return self._listing is not None

    def ready(self) -> None:
        """Read the standings: at once if there are few, else behind what is shown."""
        if self.library.question_count <= AT_ONCE:
            self._listed(self._read())
        else:
            self.in_background(self._read_behind, group="listing", loads=not self.is_listed)

    def _read(self) -> Listing:
        return Listing(self.library, type(self).ORDER)

    def _read_behind(self) -> None:
        listing = self._read()
        self.hand_over(self._listed, listing)

    def _read_texts(self) -> None:
        """All text of the questions, while the first word is typed."""
        if self._listing is not None:
            self._listing.search  # noqa: B018 - made by being asked for

    def _listed(self, listing: Listing) -> None:
        self._listing = listing
        self.show_list()

    def show_list(self) -> None:
        """Show what passes."""
        raise NotImplementedError

    # searching

    def action_search(self) -> None:
        """Open the line to type in."""
        line = self.query_one("#search", Input)
        line.add_class("-open")
        line.focus()
        self.in_background(self._read_texts, group="search")

    def on_input_changed(self, event: Input.Changed) -> None:
        """Look for what is typed once the fingers rest."""
        if event.input.id == "search":
            event.stop()
            if self._timer is not None:
                self._timer.stop()
            self._timer = self.set_timer(_PAUSE, self._look)

    def _look(self) -> None:
        if self.is_listed:
            self.look()

    def look(self) -> None:
        """Show what passes now."""
        self.show_list()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """On to the list."""
        if event.input.id == "search":
            event.stop()
            self._look()
            self._close_if_empty()
            self.rows.focus()

    def action_back(self) -> None:
        """Out of the search first, then back."""
        line = self.query_one("#search", Input)
        if not line.has_class("-open"):
            super().action_back()
            return
        line.value = ""
        self._close_if_empty()
        self.rows.focus()

    def _close_if_empty(self) -> None:
        line = self.query_one("#search", Input)
        line.set_class(bool(line.value.strip()), "-open")
