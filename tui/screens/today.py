"""What do I do now?"""

from collections.abc import Iterable

from textual.widgets import Static

from tui.actions import Action
from tui.room import Room


class Today(Room):
    """Today's plan, and the way to everything else."""

    NAME = "today"
    HEADING = "Today"
    ABOUT = "What to do now, by part of the day; Enter starts the selected line."
    ACTIONS = ()
    BACK = Action("back", "q", "Leave", "Leave resieve; everything is saved.")

    def body(self) -> Iterable:
        """The day's lines."""
        yield Static("Reading your history…", id="lines")

    def ready(self) -> None:
        """Show the day."""
        self.set_title("Today", str(self.library.today()))
        self.query_one("#lines", Static).update(f"{len(self.library.banks)} banks")
