"""Asks for a key by having it pressed."""

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static


class PressKey(ModalScreen[str | None]):
    """Gives the name of the key pressed; Escape gives None."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self._words = words

    def compose(self) -> ComposeResult:
        """What the key will do."""
        with Vertical(classes="dialog"):
            yield Static(Content(f"Press the key for:\n{self._words}"))
            yield Static(Content.assemble(("\nesc", "bold $accent"), " back"))

    def on_key(self, event: Key) -> None:
        """Take the key."""
        event.stop()
        self.dismiss(None if event.key == "escape" else event.key)
