"""The first and the last line of every screen."""

from typing import TYPE_CHECKING

from textual.content import Content
from textual.events import Resize
from textual.widget import Widget
from textual.widgets import Static

from tui.actions import is_typed, key_words

if TYPE_CHECKING:
    from tui.base_screen import AppScreen


class TitleLine(Static):
    """Where you are (left) and what matters about it (right); the right gives way."""

    DEFAULT_CSS = """
    TitleLine { dock: top; height: 1; background: $panel; color: $text; text-style: bold; }
    TitleLine:nocolor { text-style: bold reverse; }
    """

    def __init__(self, left: str) -> None:
        super().__init__(markup=False)
        self._left, self._right = left, ""

    def on_mount(self) -> None:
        """Draw what was given so far."""
        self._draw()

    def show(self, left: str, right: str = "") -> None:
        """Set both ends."""
        self._left, self._right = left, right
        self._draw()

    def on_resize(self, _: Resize) -> None:
        """Fit the new width."""
        self._draw()

    def _draw(self) -> None:
        width = max(0, (self.size.width or 80) - 2)
        left = Content(self._left).truncate(width, ellipsis=True)
        space = width - left.cell_length - 2
        right = Content(self._right).truncate(max(space, 0), ellipsis=True)
        gap = " " * max(0, width - left.cell_length - right.cell_length)
        line = Content.assemble(" ", left, gap, right.stylize("not bold"), " ")
        self.update(line, layout=False)


class KeyLine(Widget):
    """The keys that matter here, as many as fit, the way to all of them always last.

    While text is typed, keys that would become text are left out.
    """

    DEFAULT_CSS = """
    KeyLine { dock: bottom; height: 1; background: $panel; color: $text-muted; }
    """

    screen: "AppScreen"

    def on_mount(self) -> None:
        """Follow changes of the bindings."""
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self.refresh())

    def render(self) -> Content:
        """The line, cut at a whole entry."""
        focused = self.screen.focused
        is_typing = focused is not None and focused.check_consume_key("question_mark", "?")
        ending = _entry("f1" if is_typing else "?", "Keys")
        space = self.size.width - ending.cell_length - 1
        line = Content(" ")
        for action in self.screen.all_actions():
            if not action.footer or not self.screen.check_action(action.name, ()):
                continue
            words = key_words(self.screen.keys_set(action)).split()
            usable = [word for word in words if not (is_typing and is_typed(word))]
            if not usable:
                continue
            entry = _entry(usable[0], action.label)
            if line.cell_length + entry.cell_length > space:
                break
            line = line + entry
        return line + ending


def _entry(key: str, label: str) -> Content:
    return Content.assemble((key, "bold $accent"), " ", label, "   ")
