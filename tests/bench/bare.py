"""A bare Textual app with the widgets of our screens and nothing behind them, to measure against.

`python -m tests.bench.bare`: a title line, a body, a key line. Every key changes the body.
"""

from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.widgets import Static

STEM = "Which cloud base lies lowest when the dew point is near the temperature of the air? " * 4


class Bare(App[None]):
    """Title, body, key line."""

    BINDINGS = [Binding(key, "answer", show=False) for key in "abcdABCD"]
    CSS = """
    #title { dock: top; height: 1; background: $panel; }
    #keys { dock: bottom; height: 1; background: $panel; }
    #body { height: 1fr; padding: 1 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._count = 0

    def compose(self) -> ComposeResult:
        yield Static("Bare", id="title", markup=False)
        yield Static("ready to go", id="body", markup=False)
        yield Static("? Help   q Leave", id="keys", markup=False)

    def action_answer(self) -> None:
        """Another text in the body, and a count in the title."""
        self._count += 1
        self.query_one("#title", Static).update(f"Bare {self._count}")
        options = "\n".join(f"{letter}  option {self._count}{letter}" for letter in "abcd")
        self.query_one("#body", Static).update(f"{self._count}. {STEM}\n\n{options}")


if __name__ == "__main__":
    Bare().run()
