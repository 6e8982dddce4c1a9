"""Over a screen: small questions (choose, confirm, type, press a key), and the help."""

from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, Static

from domain.errors import ResieveError
from tui.actions import Action, key_words
from tui.base_app import GLOBAL, BaseApp
from tui.base_screen import AppScreen
from tui.widgets.text_block import Setter, TextBlock
from tui.widgets.virtual_list import MOVES, Draw, VirtualList


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


T = TypeVar("T")

_AROUND_LINES = 10
"""Lines of a dialog around its list: title, the word typed, keys, and space."""
_UNCUT = 1_000
"""Cells in which no line of a list is cut."""
_MOVES = {"up": "move(-1)", "down": "move(1)", "pageup": "page(-1)", "pagedown": "page(1)"}
"""Keys that move in the list while a word is typed above it."""


class PickDialog(ModalScreen[T | None], Generic[T]):
    """A list to choose from: Enter gives the line, Escape None. `head` names the columns.

    It fills the screen, or with `most_lines` is as high as its lines, at most so many. It narrows
    to the lines that hold what is typed. `is_read_only`: there is nothing to choose. Lines that
    may be cut stand below in full while they are selected, as `in_full` gives them.
    """

    DEFAULT_CSS = """
    PickDialog #head { color: $text-muted; padding: 0 1 0 2; height: 1; }
    PickDialog Input { margin-bottom: 1; }
    PickDialog VirtualList { margin-bottom: 1; }
    PickDialog #in-full { color: $text-muted; height: 4; padding: 0 2; }
    """

    def __init__(
        self,
        title: str,
        items: Sequence[T],
        draw: Draw[T],
        *,
        head: Setter | None = None,
        selected: int = 0,
        most_lines: int = 0,
        is_read_only: bool = False,
        in_full: Callable[[T], str] | None = None,
    ) -> None:
        super().__init__()
        self._title, self._items, self._draw, self._in_full = title, items, draw, in_full
        self._is_read_only = is_read_only
        self._head, self._selected = head, selected
        self._most_lines = most_lines

    def compose(self) -> ComposeResult:
        """The title, the columns' names and the lines."""
        with Vertical(classes="dialog" if self._most_lines else "dialog list"):
            yield Static(Content.styled(self._title, "bold"))
            yield Static("")
            if not self._is_read_only:
                yield Input(placeholder="type some letters of it", compact=True)
            if self._head:
                block = TextBlock(id="head")
                block.show(self._head)
                yield block
            yield VirtualList(empty="No match.")
            if self._in_full is not None:
                yield Static("", id="in-full")
            back = Content.assemble(("esc", "bold $accent"), " back")
            choose = Content.assemble(("enter", "bold $accent"), " choose   ")
            yield Static(back if self._is_read_only else choose + back)

    def on_mount(self) -> None:
        """Show the lines."""
        rows = self.query_one(VirtualList)
        if self._most_lines:
            rows.styles.height = min(len(self._items), self._most_lines)
            rows.styles.max_height = self.app.size.height * 9 // 10 - _AROUND_LINES
        rows.show(self._items, self._draw, selected=self._selected)
        (rows if self._is_read_only else self.query_one(Input)).focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Narrow the list: first what has a word that begins so."""
        event.stop()
        typed = event.value.casefold().split()
        lines = [(f" {self._draw(item, _UNCUT).plain.casefold()}", item) for item in self._items]
        matches = [line for line in lines if all(part in line[0] for part in typed)]
        matches.sort(key=lambda line: not all(f" {part}" in line[0] for part in typed))
        self.query_one(VirtualList).show([item for _, item in matches], self._draw)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Give the line that is selected while typing."""
        event.stop()
        item = self.query_one(VirtualList).item
        if item is not None:
            self.dismiss(item)

    async def on_key(self, event: Key) -> None:
        """Escape leaves; while typing the arrows move in the list."""
        is_typing = isinstance(self.focused, Input)
        if event.key == "escape" or (event.key == "q" and not is_typing):
            event.stop()
            self.dismiss(None)
        elif is_typing and event.key in _MOVES:
            event.stop()
            await self.query_one(VirtualList).run_action(_MOVES[event.key])

    def on_virtual_list_moved(self, event: VirtualList.Moved) -> None:
        """Say the selected line in full."""
        event.stop()
        if self._in_full is not None:
            item = event.rows.item
            words = "" if item is None else self._in_full(item)
            self.query_one("#in-full", Static).update(Content(words))

    def on_virtual_list_picked(self, event: VirtualList.Picked) -> None:
        """Give the line."""
        event.stop()
        self.dismiss(event.rows.item)


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
