"""Which column holds what, and what people's own words mean: asked where a table doesn't say."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from banks.importers.columns import Columns, is_enough
from banks.importers.marks_reader import DAY_FIRST, LEFT_OUT, MONTH_FIRST, word_key
from banks.intake.file_import import FileKind
from tui.actions import Action
from tui.base_screen import OrderedKeysScreen
from tui.widgets.virtual_list import VirtualList

FIELD_KEYS = {
    FileKind.QUESTIONS: {
        "s": "stem",
        "k": "key",
        "n": "number",
        "a": "a",
        "b": "b",
        "c": "c",
        "d": "d",
        "e": "e",
        "f": "f",
        "g": "g",
        "h": "h",
        "o": "options",
        "u": "subject",
        "p": "chapter",
        "x": "explanation",
        "r": "reference",
        "t": "tags",
        "i": "code",
    },
    FileKind.MARKS: {
        "n": "number",
        "d": "date",
        "v": "verdict",
        "c": "confidence",
        "u": "subject",
        "p": "chapter",
        "r": "reason",
        "w": "purpose",
        "s": "seconds",
    },
    FileKind.OUTLINE: {"u": "subject", "p": "chapter", "n": "questions", "w": "weight"},
}
"""The key that gives a column its meaning, for each kind of table."""
_NEEDED = {
    FileKind.MARKS: ("number", "date", "verdict"),
    FileKind.OUTLINE: ("subject", "questions"),
}
MEANING_KEYS = {
    "verdict": {
        "j": "right",
        "l": "right, unsure",
        "comma": "right, guess",
        "k": "wrong",
        "i": "wrong, didn't know",
        "m": "wrong, mixed up",
        "r": "wrong, misread",
        "s": "wrong, slip",
        "full_stop": "blank",
    },
    "confidence": {"j": "sure", "l": "unsure", "comma": "guess"},
    "reason": {"i": "didn't know", "m": "mixed up", "r": "misread", "s": "slip"},
    "purpose": {
        "f": "first study",
        "v": "revision",
        "w": "sweep",
        "p": "pass",
        "a": "paper",
        "d": "free drill",
    },
    "date": {"d": DAY_FIRST, "m": MONTH_FIRST},
}
"""The key that says what a word in a column of marks means, as in the drill and the grid."""
_LEGEND = 78
"""How long a line of the legend may be."""
_WORDS = {
    "options": "all options in one cell",
    "stem": "stem",
    "key": "key",
    "number": "number",
    "subject": "subject",
    "chapter": "chapter",
    "explanation": "explanation",
    "reference": "page",
    "tags": "tags",
    "history": "history, not taken",
    "code": "item code",
}
_SIGNS = {"comma": ",", "full_stop": "."}
_BASES = {None: "as they fit", 1: "from 1", 0: "from 0"}


@dataclass(frozen=True)
class Mapped:
    """What the candidate said about a table. `columns` None: it holds another kind of thing."""

    kind: FileKind
    columns: dict[str, int] | None
    header: bool | None = None
    key_base: int | None = None


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
        Action("kind", "2", "Kind", "Whether it holds questions, marks, or a bank's outline."),
    )
    BACK = Action("back", "escape", "Back", "Leave the columns as they were.")
    TYPED = frozenset(key for keys in FIELD_KEYS.values() for key in keys)
    CSS = """
    ColumnMapping #legend { height: auto; padding: 0 1; }
    ColumnMapping #state { height: 1; padding: 0 1; }
    """

    def __init__(
        self,
        columns: Columns,
        mapping: Mapping[str, int],
        kind: FileKind = FileKind.QUESTIONS,
    ) -> None:
        super().__init__()
        self._columns, self._kind = columns, kind
        self._held = {at: field for field, at in mapping.items()}
        self._header = columns.header
        self._base: int | None = None

    def body(self) -> ComposeResult:
        """The state, the columns, the letters."""
        yield Static("", id="state", markup=False)
        yield VirtualList()
        yield Static(_legend(FIELD_KEYS[self._kind]), id="legend", markup=False)

    def ready(self) -> None:
        """List the columns."""
        self.set_title("Columns", f"{len(self._columns.names)} columns")
        if not self.query_one(VirtualList).items:
            self._show(0)
        self.query_one(VirtualList).focus()

    def _show(self, selected: int) -> None:
        header = "first row: column names" if self._header else "no header row"
        state = f"{self._kind} · {header}"
        if self._kind is FileKind.QUESTIONS:
            state += f" · numeric keys {_BASES[self._base]}"
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

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only questions have answer keys."""
        return action != "base" or self._kind is FileKind.QUESTIONS

    def take(self, event: Key) -> bool:
        """A letter gives the selected column its meaning."""
        field = FIELD_KEYS[self._kind].get(event.key)
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

    def action_kind(self) -> None:
        """Read it as another kind of table."""
        kinds = list(FIELD_KEYS)
        self.dismiss(Mapped(kinds[(kinds.index(self._kind) + 1) % len(kinds)], None))

    def on_virtual_list_picked(self, _: VirtualList.Picked) -> None:
        """Enter on a line is Enter on the screen."""
        self.action_done()

    def action_done(self) -> None:
        """Read with these columns."""
        columns = {field: at for at, field in self._held.items()}
        missing = [_word(field) for field in _NEEDED.get(self._kind, ()) if field not in columns]
        if missing:
            self.tell(f"set the column of: {', '.join(missing)}")
        elif self._kind is FileKind.QUESTIONS and not is_enough(columns):
            self.tell("Set at least the column of the stem (s) or of the number (n).")
        else:
            self.dismiss(Mapped(self._kind, columns, self._header, self._base))

    def action_back(self) -> None:
        """Cancel."""
        self.dismiss(None)


def _word(field: str) -> str:
    plain = f"option {field.upper()}" if len(field) == 1 else field.replace("_", " ")
    return _WORDS.get(field, plain)


class WordMeanings(OrderedKeysScreen):
    """The candidate's own words in a file of marks; a key says what the selected one means.

    Gives the meanings by `word_key`, or None.
    """

    NAME = "words"
    HEADING = "Words"
    ABOUT = (
        "Each line is a word of the file that is not understood, with the column it stands in. "
        "Press a key to say what it means; the bank remembers it."
    )
    ACTIONS = (
        Action("done", "enter", "Read", "Read the file with these meanings."),
        Action("none", "minus,delete", "Nothing", "Leave rows with this word out."),
    )
    BACK = Action("back", "escape", "Back", "Leave the words as they were.")
    TYPED = frozenset(key for keys in MEANING_KEYS.values() for key in keys)
    CSS = """
    WordMeanings #legend { height: auto; padding: 0 1; }
    """

    def __init__(self, unknown: Mapping[str, Counter[str]], known: Mapping[str, str]) -> None:
        super().__init__()
        self._words = [
            (field, word, count)
            for field, words in unknown.items()
            for word, count in (words.most_common(1) if field == "date" else words.most_common())
        ]
        self._meanings = dict(known)

    def body(self) -> ComposeResult:
        """The words, the keys."""
        yield VirtualList()
        yield Static("", id="legend", markup=False)

    def ready(self) -> None:
        """List the words."""
        self.set_title("Words", "What do they mean?")
        if not self.query_one(VirtualList).items:
            self._show(0)
        self.query_one(VirtualList).focus()

    def _show(self, selected: int) -> None:
        lines = range(len(self._words))
        self.query_one(VirtualList).show(lines, self._draw, selected=min(selected, len(lines) - 1))
        self._show_legend()

    def _show_legend(self) -> None:
        field, _, _ = self._words[self.query_one(VirtualList).selected]
        self.query_one("#legend", Static).update(_legend(MEANING_KEYS[field]))

    def _draw(self, at: int, width: int) -> Content:
        field, word, count = self._words[at]
        meaning = self._meanings.get(_meaning_key(field, word), "–")
        return Content.assemble(
            f"{field:11} {word[:24]:24} ",
            (f"{meaning:20}", "bold"),
            (f"{count:>7,}", "$text-muted"),
        )

    def on_virtual_list_moved(self, _: VirtualList.Moved) -> None:
        """Another column has other meanings."""
        self._show_legend()

    def take(self, event: Key) -> bool:
        """A key says what the selected word means."""
        at = self.query_one(VirtualList).selected
        field, word, _ = self._words[at]
        meaning = MEANING_KEYS[field].get(event.key)
        if meaning is None:
            return event.key in self.TYPED
        self._meanings[_meaning_key(field, word)] = meaning
        self._show(at + 1)
        return True

    def action_none(self) -> None:
        """Rows with the selected word are left out."""
        at = self.query_one(VirtualList).selected
        field, word, _ = self._words[at]
        self._meanings[_meaning_key(field, word)] = LEFT_OUT
        self._show(at + 1)

    def on_virtual_list_picked(self, _: VirtualList.Picked) -> None:
        """Enter on a line is Enter on the screen."""
        self.action_done()

    def action_done(self) -> None:
        """Read with these meanings."""
        self.dismiss(self._meanings)

    def action_back(self) -> None:
        """Cancel."""
        self.dismiss(None)


def _meaning_key(field: str, word: str) -> str:
    """Under what a word's meaning is kept; dates have one order for all."""
    return "date" if field == "date" else word_key(field, word)


def _legend(keys: Mapping[str, str]) -> Content:
    """The keys with what they mean; the options of a question as one."""
    options = [field for field in keys.values() if len(field) == 1]
    parts: list[tuple[str, str] | str] = []
    length = 0
    for key, field in keys.items():
        if field in options[1:]:
            continue
        if options and field == options[0]:
            shown, word = f"{options[0]}–{options[-1]}", "option A–H"
        else:
            shown, word = _SIGNS.get(key, key), _word(field)
        length += len(shown) + len(word) + 4
        line = "\n" if length > _LEGEND else ""
        length = len(shown) + len(word) + 4 if line else length
        parts += [(f"{line} {shown} ", "bold $accent"), f"{word}  "]
    return Content.assemble(*parts)
