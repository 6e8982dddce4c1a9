"""Small questions asked over a screen: choose, confirm, type."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static


class Choose(ModalScreen[str | None]):
    """One key chooses; Escape gives None. `choices` are (key, words)."""

    def __init__(self, question: str, choices: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._question, self._choices = question, choices

    def compose(self) -> ComposeResult:
        """The question and a line a choice."""
        with Vertical(classes="dialog"):
            yield Static(Content(self._question))
            yield Static("")
            for key, words in self._choices:
                yield Static(Content.assemble((f" {key} ", "bold $accent"), "  ", words))
            yield Static(Content.assemble((" esc ", "bold $accent"), "back"))

    def on_key(self, event: Key) -> None:
        """Take the key."""
        event.stop()
        if event.key == "escape":
            self.dismiss(None)
        for key, _ in self._choices:
            if key in (event.key, event.character):
                self.dismiss(key)
                return


class Confirm(Choose):
    """Yes or no; Escape and n are no. Gives "y" or not."""

    def __init__(self, question: str, yes: str = "Yes", no: str = "No") -> None:
        super().__init__(question, [("y", yes), ("n", no)])


class Ask(ModalScreen[str | None]):
    """A line of text; Enter gives it, Escape gives None."""

    def __init__(self, question: str, value: str = "", hint: str = "") -> None:
        super().__init__()
        self._question, self._value, self._hint = question, value, hint

    def compose(self) -> ComposeResult:
        """The question, the line, and what may stand in it."""
        with Vertical(classes="dialog"):
            yield Static(Content(self._question))
            yield Input(self._value, placeholder=self._hint)
            yield Static(
                Content.assemble(
                    ("enter", "bold $accent"), " save   ", ("esc", "bold $accent"), " back"
                )
            )

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Give the line."""
        event.stop()
        self.dismiss(event.value)

    def on_key(self, event: Key) -> None:
        """Escape leaves without."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)
