"""A grid of question numbers, drawn line by line; only rows in which something changed are redrawn.

Ten numbers per row, five on a narrow terminal. Where a chapter's numbers run on, each row is a
decade (41 to 50), so that a number is found by its place; scattered numbers (a sweep's list) are
set one after another. A cell holds its number, what the pencil left before, and the mark made
now: under one another where there is room for all, else closer, at last side by side.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from enum import Enum
from typing import ClassVar

from msgspec import Struct
from rich.segment import Segment
from rich.style import Style
from textual.events import Click, Resize
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

ACROSS, NARROW = 10, 5
"""Numbers per row, and where there is no room for so many."""
_LABEL = 8
"""Cells for what stands behind the first row: "before", "now"."""


class Face(Struct, frozen=True):
    """How one slot looks: what the pencil left `before`, the last verdict where it was no clean
    one, the mark made `now`, each with the name of its style. `brief` and `sign` are `before` and
    `now` in two cells and in one.
    """

    before: str = "·"
    brief: str = "·"
    before_style: str = "untried"
    last: str = ""
    now: str = ""
    sign: str = ""
    style: str = "open"


class _Row(Enum):
    """What a line of the screen shows of its slots."""

    HEADING = "heading"
    BLANK = ""
    SIDE_BY_SIDE = "side by side"
    NUMBERS_AND_NOW = "numbers, now"
    NUMBERS = "numbers"
    BEFORE = "before"
    NOW = "now"


Layout = tuple[_Row, ...]
"""The lines of a row of numbers."""
ROOM_FOR_LETTERS: tuple[Layout, ...] = (
    (_Row.NUMBERS, _Row.BEFORE, _Row.NOW, _Row.BLANK),
    (_Row.NUMBERS_AND_NOW, _Row.BEFORE, _Row.BLANK),
    (_Row.NUMBERS_AND_NOW, _Row.BEFORE),
)
"""From roomy to close, for marks of up to three cells."""
ROOM_FOR_SIGNS: tuple[Layout, ...] = (*ROOM_FOR_LETTERS, (_Row.SIDE_BY_SIDE,))
"""The same and, where there is too little room, marks of one cell."""
LETTERS_ONLY: tuple[Layout, ...] = ((_Row.NUMBERS_AND_NOW,),)
"""Without what was before."""


class _Line(Struct, frozen=True):
    """A line of the screen: a heading, or one kind of line of some slots (None: no number)."""

    row: _Row
    slots: tuple[int | None, ...] = ()
    text: str = ""


class NumberGrid(ScrollView, can_focus=False):
    """Slots 0, 1, 2 … under headings. `NumberGrid.Pointed` tells of a click on a slot.

    Its height is that of its lines, at most those given by `fit`; without any, all there is.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        f"grid--{name}"
        for name in (
            "open",
            "untried",
            "clear",
            "settled",
            "hard",
            "harder",
            "hardest",
            "last",
            "right",
            "unsure",
            "wrong",
            "blank",
            "heading",
            "label",
            "cursor",
            "typed",
        )
    }
    DEFAULT_CSS = """
    NumberGrid { height: 1fr; width: 79; max-width: 100%; padding: 0 0 0 1; overflow-x: hidden;
                 scrollbar-size-vertical: 1; }
    NumberGrid > .grid--open { color: $foreground; }
    NumberGrid > .grid--untried { color: $muted; }
    NumberGrid > .grid--clear { color: $clear; }
    NumberGrid > .grid--settled { color: $clear; }
    NumberGrid > .grid--hard { color: $hard; }
    NumberGrid > .grid--harder { color: $harder; text-style: bold; }
    NumberGrid > .grid--hardest { color: $hardest; text-style: bold; }
    NumberGrid > .grid--last { color: $muted; }
    NumberGrid > .grid--right { color: $right; }
    NumberGrid > .grid--unsure { color: $unsure; text-style: bold; }
    NumberGrid > .grid--wrong { color: $wrong; text-style: bold; }
    NumberGrid > .grid--blank { color: $accent; text-style: bold; }
    NumberGrid > .grid--heading { color: $muted; text-style: bold; }
    NumberGrid > .grid--label { color: $muted; }
    NumberGrid > .grid--cursor { color: $background; background: $accent; text-style: bold; }
    NumberGrid:nocolor > .grid--cursor { text-style: bold reverse; }
    NumberGrid > .grid--typed { text-style: bold underline; background: $panel; }
    """

    class Pointed(Message):
        """A slot was clicked."""

        def __init__(self, slot: int) -> None:
            self.slot = slot
            super().__init__()

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._parts: Sequence[tuple[str, Sequence[int]]] = ()
        self._across = ACROSS
        self._room = 0
        self._layouts = ROOM_FOR_SIGNS
        self._lines: list[_Line] = []
        self._lines_of: dict[int, range] = {}
        self._numbers: list[int] = []
        self._digits, self._cell = 3, 7
        self._face: Callable[[int], Face] = lambda _: Face()
        self._cursor = -1
        self._typed: Collection[int] = ()
        self._styles: dict[tuple[str, bool], Style] = {}

    def show(
        self,
        parts: Sequence[tuple[str, Sequence[int]]],
        face: Callable[[int], Face],
        *,
        layouts: tuple[Layout, ...] = ROOM_FOR_SIGNS,
    ) -> None:
        """Show these numbers under their headings; "" is no heading. `face` draws a slot."""
        self._face, self._parts, self._layouts = face, parts, layouts
        self._numbers = [number for _, numbers in parts for number in numbers]
        self._digits = max(3, len(str(max(self._numbers, default=0))))
        self._cell = 1 + self._digits + 3
        self._lay_out()

    def fit(self, room: int) -> None:
        """Take at most so many lines; what does not fit is scrolled to."""
        if room != self._room:
            self._room = room
            self._lay_out()
            self._bring_into_sight(self._cursor)

    def on_resize(self, event: Resize) -> None:
        """Fit the new width."""
        across = ACROSS if event.size.width >= ACROSS * self._cell else NARROW
        if across != self._across:
            self._across = across
            self._lay_out()
            self._bring_into_sight(self._cursor)

    def _lay_out(self) -> None:
        rows = list(_rows_of(self._parts, self._across))
        layout = self._layout(rows)
        self._lines, self._lines_of = [], {}
        for row in rows:
            if row.text:
                self._lines.append(row)
                continue
            first = len(self._lines)
            self._lines += [_Line(kind, row.slots) for kind in layout]
            lines = range(first, len(self._lines))
            self._lines_of |= {slot: lines for slot in row.slots if slot is not None}
        if self._lines and self._lines[-1].row is _Row.BLANK:
            self._lines.pop()
        self.virtual_size = Size(0, len(self._lines))
        most = min(len(self._lines), self._room)
        self.styles.height = most if most > 0 else "1fr"
        self.refresh()

    def _layout(self, rows: Sequence[_Line]) -> Layout:
        """The roomiest that fits; the closest where none does."""
        headings = sum(bool(row.text) for row in rows)
        count = len(rows) - headings
        for layout in self._layouts:
            if headings + count * len(layout) - (layout[-1] is _Row.BLANK) <= self._room:
                return layout
        return self._layouts[-1]

    def point(self, cursor: int, typed: Collection[int] = (), shown: int | None = None) -> None:
        """Put the cursor on a slot, mark those a number typed names, bring `shown` in sight."""
        stale = {self._cursor, cursor, *self._typed, *typed}
        self._cursor, self._typed = cursor, typed
        self.redraw(stale)
        self._bring_into_sight(cursor if shown is None else shown)

    def redraw(self, slots: Collection[int]) -> None:
        """These slots look different now."""
        for line in {n for slot in slots for n in self._lines_of.get(slot, ())}:
            self.refresh_line(line)

    def on_click(self, event: Click) -> None:
        """Point at the slot under the mouse."""
        at = event.y + self.scroll_offset.y
        column = (event.x - self.gutter.left) // self._cell
        slots = self._lines[at].slots if at < len(self._lines) else ()
        slot = slots[column] if 0 <= column < len(slots) else None
        if slot is not None:
            self.post_message(self.Pointed(slot))

    # drawing

    def render_line(self, y: int) -> Strip:
        """One line, as wide as the grid."""
        at = y + self.scroll_offset.y
        ground = self.rich_style
        if at >= len(self._lines):
            return Strip.blank(self.size.width, ground)
        line = self._lines[at]
        if line.row is _Row.HEADING:
            segments = [Segment(f" {line.text}", self._style("heading"))]
        else:
            segments = [
                segment for slot in line.slots for segment in self._segments(slot, line.row, ground)
            ]
            segments += self._label(line, at)
        return Strip(segments).adjust_cell_length(self.size.width, ground)

    def _label(self, line: _Line, at: int) -> list[Segment]:
        """What the line shows, beside the first row where there is room."""
        is_first = bool(self._lines_of) and at in self._lines_of[0]
        width = ACROSS * self._cell
        if not is_first or line.row not in (_Row.BEFORE, _Row.NOW):
            return []
        if self.size.width < width + _LABEL:
            return []
        gap = " " * (width - len(line.slots) * self._cell + 2)
        return [Segment(gap + line.row.value, self._style("label"))]

    def _segments(self, slot: int | None, row: _Row, ground: Style) -> list[Segment]:
        if slot is None or row is _Row.BLANK:
            return [Segment(" " * self._cell, ground)]
        face = self._face(slot)
        digits = self._digits
        past = self._style(face.before_style)
        now = self._style(face.style)
        match row:
            case _Row.BEFORE:
                parts = [(f"{face.before:>{digits + 1}}", past), (face.last, self._style("last"))]
            case _Row.NOW:
                parts = [(f"{face.now:>{digits + 1}}", now)]
            case _Row.NUMBERS:
                parts = [(self._number(slot), self._on(slot, self._style("open")))]
            case _Row.NUMBERS_AND_NOW:
                parts = [(self._number(slot), self._on(slot, now)), (f" {face.now}"[-3:], now)]
            case _:
                last = (face.sign, now) if face.now else (face.last, self._style("last"))
                number = self._on(slot, now if face.now else self._style("open"))
                parts = [(self._number(slot), number), (f"{face.brief:<2}", past), last]
        used = sum(len(text) for text, _ in parts)
        return [*(Segment(*part) for part in parts), Segment(" " * (self._cell - used), ground)]

    def _number(self, slot: int) -> str:
        """The number, the cursor's mark directly before it."""
        marker = ">" if slot == self._cursor else " "
        return f"{marker}{self._numbers[slot]}".rjust(self._digits + 1)

    def _on(self, slot: int, style: Style) -> Style:
        """The style of a number under the cursor or named by what is typed."""
        if slot in self._typed:
            style += self._style("typed", over=True)
        if slot == self._cursor:
            style += self._style("cursor", over=True)
        return style

    def _style(self, name: str, *, over: bool = False) -> Style:
        """The style of that name, looked up once for a theme; `over` another it is partial."""
        if (name, over) not in self._styles:
            self._styles[name, over] = self.get_component_rich_style(f"grid--{name}", partial=over)
        return self._styles[name, over]

    def notify_style_update(self) -> None:
        """Take on another theme's styles."""
        super().notify_style_update()
        self._styles = {}

    def _bring_into_sight(self, slot: int) -> None:
        """A row of its neighbours stays in sight with it, above and below."""
        lines = self._lines_of.get(slot, range(len(self._lines) - 1, len(self._lines)))
        if self.size.height:
            top = max(0, lines.start - 1)
            region = Region(0, top, 1, lines.stop + 1 - top)
            self.scroll_to_region(region, animate=False, force=True, immediate=True)


def _rows_of(parts: Sequence[tuple[str, Sequence[int]]], across: int) -> Iterator[_Line]:
    """Headings, and rows of slots whose lines are still to be laid out."""
    first = 0
    for heading, numbers in parts:
        if heading:
            yield _Line(_Row.HEADING, text=heading)
        for slots in _rows(numbers, first, across):
            yield _Line(_Row.NUMBERS, slots)
        first += len(numbers)


def _rows(numbers: Sequence[int], first: int, across: int) -> Iterator[tuple[int | None, ...]]:
    """The rows of one part, whose first number is in slot `first`.

    Where they run on, as half a row and more of a chapter does, each has the place of its last
    digit; single ones stand one beside the other.
    """
    runs_on = len(numbers) >= across // 2 and numbers[-1] - numbers[0] < 2 * len(numbers)
    row: list[int | None] = []
    decade = (numbers[0] - 1) // across
    for slot, number in enumerate(numbers, first):
        here = (number - 1) // across
        if len(row) == across or (runs_on and here != decade):
            yield tuple(row)
            row, decade = [], here
        if runs_on:
            row += [None] * ((number - 1) % across - len(row))
        row.append(slot)
    yield tuple(row)
