"""All keys of a screen, made of its declarations."""

from typing import Any

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from tui.actions import Action, key_words
from tui.base_app import GLOBAL, BaseApp
from tui.base_screen import AppScreen
from tui.widgets.virtual_list import MOVES, VirtualList


class HelpScreen(ModalScreen[None]):
    """What this screen is for, its keys, and the keys that work everywhere."""

    app: BaseApp

    BINDINGS = [("escape,question_mark,f1,q", "dismiss", "Back")]

    def __init__(self, about: Screen[Any]) -> None:
        super().__init__()
        self._about = about

    def compose(self) -> ComposeResult:
        """A paragraph and two tables."""
        screen = self._about if isinstance(self._about, AppScreen) else None
        with VerticalScroll(classes="dialog help"):
            if screen:
                yield Static(Content.styled(screen.HEADING, "bold"))
                yield Static(Content(f"{screen.ABOUT}\n"))
                yield self._table(screen.all_actions(), screen.NAME)
                if screen.query(VirtualList):
                    yield Static(Content.styled("\nIn the list", "bold"))
                    yield self._table(MOVES, "list", screen.TYPED)
            yield Static(Content.styled("\nEverywhere", "bold"))
            yield self._table(GLOBAL, "everywhere")
            yield Static(Content("\nctrl+p searches all actions; esc goes back."))

    def _table(
        self, actions: tuple[Action, ...], group: str, typed: frozenset[str] = frozenset()
    ) -> Static:
        """A line an action; keys that the screen takes as text don't count."""
        table = Table.grid(padding=(0, 2))
        for action in actions:
            keys = self.app.keys_of(action, group).split(",")
            free = ",".join(key for key in keys if key not in typed)
            table.add_row(Text(key_words(free), style="bold"), Text(action.description))
        return Static(table)
