"""Questions typed or pasted, as they stand in a printed bank or a table."""

from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static, TextArea

from tui.actions import Action
from tui.base_screen import AppScreen

_HINT = """\
1. Which cloud is the highest?  A) Cumulus  B) Cirrus  C) Stratus
   Ans: b      … or a key at the end: 1-b 2-c"""


class Pasting(AppScreen):
    """A page to paste on. Gives the text, or None."""

    NAME = "pasting"
    HEADING = "Paste"
    ABOUT = (
        "Paste or type numbered questions with their options, or rows of a table. What they would "
        "bring is shown before anything is written."
    )
    ACTIONS = (Action("read", "ctrl+r", "Read", "Show what this would bring."),)
    BACK = Action("back", "escape", "Back", "Leave without.")
    CSS = """
    Pasting TextArea { border: none; height: 1fr; margin-top: 1; }
    Pasting TextArea:focus { border: none; }
    Pasting #hint { height: auto; padding: 0 1; color: $text-muted; }
    """

    def body(self) -> ComposeResult:
        """What it may look like, and the page."""
        yield Static(Content(_HINT), id="hint")
        yield TextArea(soft_wrap=True)

    def ready(self) -> None:
        """Begin to type."""
        self.set_title("Paste", "ctrl+r reads it")
        self.query_one(TextArea).focus()

    def action_read(self) -> None:
        """Give the text."""
        self.dismiss(self.query_one(TextArea).text)

    def action_back(self) -> None:
        """Leave without."""
        self.dismiss(None)
