"""Choosing one line of a list over a screen."""

from collections.abc import Sequence
from typing import Generic, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.widgets.virtual_list import Draw, VirtualList

T = TypeVar("T")


class PickDialog(ModalScreen[T | None], Generic[T]):
    """A list to choose from: Enter gives the line, Escape None. `head` names the columns."""

    BINDINGS = [Binding("escape,q", "dismiss", "Back")]
    DEFAULT_CSS = """
    PickDialog #head { color: $text-muted; padding: 0 2; height: 1; }
    PickDialog VirtualList { margin-bottom: 1; }
    """

    def __init__(
        self, title: str, items: Sequence[T], draw: Draw[T], *, head: str = "", selected: int = 0
    ) -> None:
        super().__init__()
        self._title, self._items, self._draw = title, items, draw
        self._head, self._selected = head, selected

    def compose(self) -> ComposeResult:
        """The title, the columns' names and the lines."""
        with Vertical(classes="dialog list"):
            yield Static(Content.styled(self._title, "bold"))
            yield Static("")
            if self._head:
                yield Static(Content(self._head), id="head")
            yield VirtualList()
            yield Static(
                Content.assemble(
                    ("enter", "bold $accent"), " choose   ", ("esc", "bold $accent"), " back"
                )
            )

    def on_mount(self) -> None:
        """Show the lines."""
        rows = self.query_one(VirtualList)
        rows.show(self._items, self._draw, selected=self._selected)
        rows.focus()

    def on_virtual_list_picked(self, event: VirtualList.Picked) -> None:
        """Give the line."""
        event.stop()
        self.dismiss(event.rows.item)
