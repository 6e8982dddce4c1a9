"""A grid of question numbers, drawn line by line; only rows in which something changed are redrawn.

Ten numbers a row, five on a narrow terminal. Where a chapter's numbers run on, each row is a
decade (41 to 50), so that a number is found by its place; scattered numbers (a sweep's list) are
set one after another.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
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
"""Numbers a row, and where there is no room for so many."""


class Face(Struct, frozen=True):
    """How one slot looks: up to three letters behind its number, and the name of their style."""

    text: str = "·"
    style: str = "open"


class _Line(Struct, frozen=True):
    """A heading, or the slots of a row (None where the row has no number)."""

    heading: str = ""
    slots: tuple[int | None, ...] = ()


class NumberGrid(ScrollView, can_focus=False):
    """Slots 0, 1, 2 … under headings. `NumberGrid.Pointed` tells of a click on a slot."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        f"grid--{name}"
        for name in (
            "open",
            "sign",
            "right",
            "unsure",
            "wrong",
            "blank",
            "heading",
            "cursor",
            "typed",
        )
    }
    DEFAULT_CSS = """
    NumberGrid { height: 1fr; width: 74; max-width: 100%; padding: 0 0 0 1; overflow-x: hidden;
                 scrollbar-size-vertical: 1; }
    NumberGrid > .grid--open { color: $foreground 60%; }
    NumberGrid > .grid--sign { color: $foreground 80%; }
    NumberGrid > .grid--right { color: $text-success; }
    NumberGrid > .grid--unsure { color: $text-warning; text-style: bold; }
    NumberGrid > .grid--wrong { color: $text-error; text-style: bold; }
    NumberGrid > .grid--blank { color: $text-accent; text-style: bold; }
    NumberGrid > .grid--heading { color: $foreground 60%; text-style: bold; }
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
        self._lines: list[_Line] = []
        self._line_of: dict[int, int] = {}
        self._numbers: list[int] = []
        self._digits, self._gap, self._cell = 3, " ", 7
        self._face: Callable[[int], Face] = lambda _: Face()
        self._cursor = -1
        self._typed: Collection[int] = ()

    def show(self, parts: Sequence[tuple[str, Sequence[int]]], face: Callable[[int], Face]) -> None:
        """Show these numbers under their headings; "" is no heading. `face` draws a slot."""
        self._face, self._parts = face, parts
        self._numbers = [number for _, numbers in parts for number in numbers]
        self._digits = max(3, len(str(max(self._numbers, default=0))))
        self._gap = " " if self._digits == 3 else ""
        self._cell = self._digits + len(self._gap) + 3
        self._lay_out()

    def on_resize(self, event: Resize) -> None:
        """Fit the new width."""
        across = ACROSS if event.size.width >= ACROSS * self._cell else NARROW
        if across != self._across:
            self._across = across
            self._lay_out()
            self._bring_into_sight(self._cursor)

    def _lay_out(self) -> None:
        self._lines = list(_laid_out(self._parts, self._across))
        self._line_of = {
            slot: at
            for at, line in enumerate(self._lines)
            for slot in line.slots
            if slot is not None
        }
        self.virtual_size = Size(0, len(self._lines))
        self.refresh()

    def point(self, cursor: int, typed: Collection[int] = (), shown: int | None = None) -> None:
        """Put the cursor on a slot, mark those a number typed names, bring `shown` in sight."""
        stale = {self._cursor, cursor, *self._typed, *typed}
        self._cursor, self._typed = cursor, typed
        self.redraw(stale)
        self._bring_into_sight(cursor if shown is None else shown)

    def redraw(self, slots: Collection[int]) -> None:
        """These slots look different now."""
        for line in {self._line_of[slot] for slot in slots if slot in self._line_of}:
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
        if line.heading:
            segments = [Segment(f" {line.heading}", self._style("heading"))]
        else:
            segments = [self._segment(slot, ground) for slot in line.slots]
        return Strip(segments).adjust_cell_length(self.size.width, ground)

    def _segment(self, slot: int | None, ground: Style) -> Segment:
        if slot is None:
            return Segment(" " * self._cell, ground)
        face = self._face(slot)
        style = self._style(face.style)
        if slot in self._typed:
            style += self._over("typed")
        if slot == self._cursor:
            style += self._over("cursor")
        marker = ">" if slot == self._cursor else " "
        number = str(self._numbers[slot]).rjust(self._digits)
        room = len(self._gap) + 2
        return Segment(f"{marker}{number}{face.text[:room]:>{room}}", style)

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"grid--{name}")

    def _over(self, name: str) -> Style:
        return self.get_component_rich_style(f"grid--{name}", partial=True)

    def _bring_into_sight(self, slot: int) -> None:
        """A row of its neighbours stays in sight with it, above and below."""
        at = self._line_of.get(slot, len(self._lines) - 1)
        if self.size.height:
            region = Region(0, max(0, at - 1), 1, 3)
            self.scroll_to_region(region, animate=False, force=True, immediate=True)


def _laid_out(parts: Sequence[tuple[str, Sequence[int]]], across: int) -> Iterator[_Line]:
    first = 0
    for heading, numbers in parts:
        if heading:
            yield _Line(heading)
        yield from _rows(numbers, first, across)
        first += len(numbers)


def _rows(numbers: Sequence[int], first: int, across: int) -> Iterator[_Line]:
    """The rows of one part, whose first number is in slot `first`."""
    runs_on = numbers[-1] - numbers[0] < 2 * len(numbers)
    row: list[int | None] = []
    decade = (numbers[0] - 1) // across
    for slot, number in enumerate(numbers, first):
        here = (number - 1) // across
        if len(row) == across or (runs_on and here != decade):
            yield _Line(slots=tuple(row))
            row, decade = [], here
        if runs_on:
            row += [None] * ((number - 1) % across - len(row))
        row.append(slot)
    yield _Line(slots=tuple(row))
