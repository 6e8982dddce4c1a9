"""Small questions asked over a screen: choose, confirm, type."""

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from domain.errors import ResieveError


class ChoiceDialog(ModalScreen[str | None]):
    """One key chooses, or the arrows and Enter; Escape gives None. `choices` are (key, words)."""

    def __init__(self, question: str, choices: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._question, self._choices = question, choices
        self._selected = -1

    def compose(self) -> ComposeResult:
        """The question and a line a choice."""
        with Vertical(classes="dialog"):
            yield Static(Content(self._question))
            yield Static("")
            yield Static(self._lines(), id="choices")
            yield Static(Content.assemble("  ", ("esc", "bold $accent"), "  back"))

    def _lines(self) -> Content:
        lines = []
        for place, (key, words) in enumerate(self._choices):
            mark, style = ("> ", "bold") if place == self._selected else ("  ", "")
            lines.append(Content.assemble(mark, (f"{key}  ", "bold $accent"), (words, style)))
        return Content("\n").join(lines)

    def on_key(self, event: Key) -> None:
        """Take the key."""
        event.stop()
        for key, _ in self._choices:
            if key in (event.key, event.character):
                self.dismiss(key)
                return
        if event.key == "escape":
            self.dismiss(None)
        elif event.key in ("up", "down"):
            self._move(1 if event.key == "down" else -1)
        elif event.key == "enter" and self._selected >= 0:
            self.dismiss(self._choices[self._selected][0])

    def _move(self, step: int) -> None:
        """Nothing is selected at first, so that a stray Enter chooses nothing."""
        start = -1 if self._selected < 0 and step > 0 else max(self._selected, 0)
        self._selected = (start + step) % len(self._choices)
        self.query_one("#choices", Static).update(self._lines())


def given(then: Callable[[str], object]) -> Callable[[str | None], None]:
    """What a dialog calls back: `then` with what was given, nothing when it was left."""

    def call(text: str | None) -> None:
        if text is not None:
            then(text)

    return call


def confirmed(then: Callable[[], object]) -> Callable[[str | None], None]:
    """What `Confirm` calls back: `then` after a yes, nothing after a no."""

    def call(choice: str | None) -> None:
        if choice == "y":
            then()

    return call


class ConfirmDialog(ChoiceDialog):
    """Yes or no; Escape and n are no. Gives "y" or not."""

    def __init__(self, question: str, yes: str = "Yes", no: str = "No") -> None:
        super().__init__(question, [("y", yes), ("n", no)])


class TextDialog(ModalScreen[str | None]):
    """A line of text; Enter gives it, Escape gives None.

    `check` raises ResieveError for a text that can't be taken: it is said under the line, and
    what was typed stands.
    """

    DEFAULT_CSS = """
    TextDialog Input { margin: 1 0; }
    TextDialog #wrong { color: $warning; text-style: bold; }
    """

    def __init__(
        self,
        question: str,
        value: str = "",
        hint: str = "",
        check: Callable[[str], object] | None = None,
    ) -> None:
        super().__init__()
        self._question, self._value, self._hint, self._check = question, value, hint, check

    def compose(self) -> ComposeResult:
        """The question, the line, and what may stand in it."""
        with Vertical(classes="dialog"):
            yield Static(Content(self._question))
            yield Input(self._value, placeholder=self._hint, compact=True)
            yield Static("", id="wrong", markup=False)
            yield Static(
                Content.assemble(
                    ("enter", "bold $accent"), " done   ", ("esc", "bold $accent"), " back"
                )
            )

    def on_mount(self) -> None:
        """Nothing is wrong yet."""
        self.query_one("#wrong").display = False

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Give the line, if it can be taken."""
        event.stop()
        try:
            if self._check is not None:
                self._check(event.value)
        except ResieveError as problem:
            wrong = self.query_one("#wrong", Static)
            wrong.update(f"! {problem}")
            wrong.display = True
        else:
            self.dismiss(event.value)

    def on_key(self, event: Key) -> None:
        """Escape leaves without."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)
