"""All keys of a screen, made of its declarations."""

from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from tui.actions import Action, key_words
from tui.widgets.virtual_list import MOVES, VirtualList

if TYPE_CHECKING:
    from tui.app import Resieve


class HelpScreen(ModalScreen[None]):
    """What this screen is for, its keys, and the keys that work everywhere."""

    app: "Resieve"

    BINDINGS = [("escape,question_mark,f1,q", "dismiss", "Back")]

    def __init__(self, about: Screen[Any]) -> None:
        super().__init__()
        self._about = about

    def compose(self) -> ComposeResult:
        """A paragraph and two tables."""
        from tui.app import GLOBAL
        from tui.base_screen import AppScreen

        room = self._about if isinstance(self._about, AppScreen) else None
        with VerticalScroll(classes="dialog help"):
            if room:
                yield Static(Content.styled(room.HEADING, "bold"))
                yield Static(Content(f"{room.ABOUT}\n"))
                yield self._table(room.all_actions(), room.NAME)
                if room.query(VirtualList):
                    yield Static(Content.styled("\nIn the list", "bold"))
                    yield self._table(MOVES, "list", room.TYPED)
            yield Static(Content.styled("\nEverywhere", "bold"))
            yield self._table(GLOBAL, "everywhere")
            yield Static(Content("\nctrl+p searches all actions; esc goes back."))

    def _table(
        self, actions: tuple[Action, ...], group: str, typed: frozenset[str] = frozenset()
    ) -> Static:
        """A line an action; keys that the screen takes as text don't count."""
        keymap = self.app.library.settings.keys if self.app.is_ready else {}
        table = Table.grid(padding=(0, 2))
        for action in actions:
            keys = keymap.get(action.identity(group), action.key).split(",")
            free = ",".join(key for key in keys if key not in typed)
            table.add_row(Text(key_words(free), style="bold"), Text(action.description))
        return Static(table)
