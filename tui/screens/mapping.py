"""Which column holds what: asked where a table's headers don't say."""

from dataclasses import dataclass

from textual.app import ComposeResult
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from banks.importers.columns import Columns, is_enough
from tui.actions import Action
from tui.base_screen import OrderedKeysScreen
from tui.widgets.virtual_list import VirtualList

LETTERS = {
    "s": "stem", "k": "key", "n": "number", "a": "a", "b": "b", "c": "c", "d": "d", "e": "e",
    "f": "f", "g": "g", "h": "h", "o": "options", "u": "subject", "p": "chapter",
    "x": "explanation", "r": "reference", "t": "tags",
}  # fmt: skip
"""The key that gives a column its meaning."""
_SECOND_LINE = "u"
"""The key with which the second line of the legend begins."""
_WORDS = {
    "options": "all options in one cell", "stem": "stem", "key": "key", "number": "number",
    "subject": "subject", "chapter": "chapter", "explanation": "explanation",
    "reference": "page", "tags": "tags", "history": "history, not taken",
}  # fmt: skip
_BASES = {None: "as they fit", 1: "from 1", 0: "from 0"}


@dataclass(frozen=True)
class Mapped:
    """What the candidate said about a table."""

    columns: dict[str, int]
    header: bool
    key_base: int | None


class ColumnMapping(OrderedKeysScreen):
    """The columns with what they hold; a letter gives the selected one its meaning."""

    NAME = "mapping"
    HEADING = "Columns"
    ABOUT = (
        "Each line is a column of the file, with what its first rows hold. Press a letter to "
        "say what the selected column is; the next column is selected."
    )
    ACTIONS = (
        Action("done", "enter", "Read", "Read the file with these columns."),
        Action("none", "minus,delete", "Nothing", "Ignore this column."),
        Action("header", "1", "Header", "Whether the first row holds column names."),
        Action("base", "0", "Key numbers", "Whether numeric answer keys count from 0 or 1."),
    )  # fmt: skip
    BACK = Action("back", "escape", "Back", "Leave the columns as they were.")
    TYPED = frozenset(LETTERS)
    CSS = """
    ColumnMapping #legend { height: auto; padding: 0 1; }
    ColumnMapping #state { height: 1; padding: 0 1; }
    """

    def __init__(self, columns: Columns, mapping: dict[str, int]) -> None:
        super().__init__()
        self._columns = columns
        self._held = {at: field for field, at in mapping.items()}
        self._header = columns.header
        self._base: int | None = None

    def body(self) -> ComposeResult:
        """The state, the columns, the letters."""
        yield Static("", id="state", markup=False)
        yield VirtualList()
        yield Static(_legend(), id="legend", markup=False)

    def ready(self) -> None:
        """List the columns."""
        self.set_title("Columns", f"{len(self._columns.names)} columns")
        if not self.query_one(VirtualList).items:
            self._show(0)
        self.query_one(VirtualList).focus()

    def _show(self, selected: int) -> None:
        header = "first row: column names" if self._header else "no header row"
        state = f"{header} · numeric keys {_BASES[self._base]}"
        self.query_one("#state", Static).update(state)
        columns = range(len(self._columns.names))
        self.query_one(VirtualList).show(columns, self._draw, selected=selected)

    def _draw(self, at: int, width: int) -> Content:
        field = self._held.get(at)
        meaning = "–" if field is None else _word(field)
        samples = [row[at].strip() for row in self._columns.sample if at < len(row)]
        seen = " · ".join(" ".join(sample.split()) for sample in samples if sample)
        name = self._columns.names[at][:18]
        return Content.assemble(
            f"{name:18} ", (f"{meaning:14}", "bold"), " ", (seen, "$text-muted")
        )

    def take(self, event: Key) -> bool:
        """A letter gives the selected column its meaning."""
        field = LETTERS.get(event.key)
        if field is None:
            return False
        at = self.query_one(VirtualList).selected
        self._held = {place: name for place, name in self._held.items() if name != field}
        self._held[at] = field
        self._show(at + 1)
        return True

    def action_none(self) -> None:
        """The selected column holds nothing of use."""
        at = self.query_one(VirtualList).selected
        self._held.pop(at, None)
        self._show(at + 1)

    def action_header(self) -> None:
        """The first row names the columns, or does not."""
        self._header = not self._header
        self._show(self.query_one(VirtualList).selected)

    def action_base(self) -> None:
        """Numeric keys: as they fit, from 1, from 0."""
        self._base = {None: 1, 1: 0, 0: None}[self._base]
        self._show(self.query_one(VirtualList).selected)

    def on_virtual_list_picked(self, _: VirtualList.Picked) -> None:
        """Enter on a line is Enter on the screen."""
        self.action_done()

    def action_done(self) -> None:
        """Read with these columns."""
        columns = {field: at for at, field in self._held.items()}
        if not is_enough(columns):
            self.tell("set at least the column of the stem (s) or of the number (n)")
            return
        self.dismiss(Mapped(columns, self._header, self._base))

    def action_back(self) -> None:
        """Cancel."""
        self.dismiss(None)


def _word(field: str) -> str:
    plain = f"option {field.upper()}" if len(field) == 1 else field.replace("_", " ")
    return _WORDS.get(field, plain)


def _legend() -> Content:
    parts: list[tuple[str, str] | str] = []
    for key, field in LETTERS.items():
        if key in "bcdefg":
            continue
        shown, word = ("a–h", "option A–H") if key == "a" else (key, _word(field))
        if key != "h":
            line = "\n" if key == _SECOND_LINE else ""
            parts += [(f"{line} {shown} ", "bold $accent"), f"{word}  "]
    return Content.assemble(*parts)
