"""A question with a list of answers: arrows and Enter choose, Escape gives none."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.widgets.virtual_list import VirtualList

_MOST_LINES = 14


class PlanChoices(ModalScreen[int | None]):
    """Gives the place (from 0) of the line that was chosen; `selected` is where it begins."""

    BINDINGS = [("escape,q", "dismiss", "Back")]
    CSS = "PlanChoices VirtualList { margin: 1 0; }"

    def __init__(self, question: str, lines: Sequence[str], selected: int = 0) -> None:
        super().__init__()
        self._selected = selected
        self._question, self._lines = question, list(enumerate(lines))

    def compose(self) -> ComposeResult:
        """The question and the lines."""
        with Vertical(classes="dialog"):
            yield Static(Content(self._question))
            yield VirtualList()
            yield Static(
                Content.assemble(
                    ("enter", "bold $accent"), " choose   ", ("esc", "bold $accent"), " back"
                )
            )

    def on_mount(self) -> None:
        """List the lines."""
        rows = self.query_one(VirtualList)
        rows.styles.height = min(len(self._lines), _MOST_LINES)
        rows.show(self._lines, _draw, selected=self._selected)
        rows.focus()

    def on_virtual_list_picked(self, event: VirtualList.Picked) -> None:
        """Enter, or a click."""
        event.stop()
        self.dismiss(self.query_one(VirtualList).selected)


def _draw(line: tuple[int, str], width: int) -> Content:
    return Content(line[1]).truncate(width, ellipsis=True)
