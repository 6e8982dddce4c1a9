"""A list that is drawn line by line: as fast with a hundred thousand rows as with ten."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, ClassVar, Generic, TypeVar

from textual.binding import Binding, BindingType
from textual.cache import LRUCache
from textual.content import Content
from textual.events import Click, Resize
from textual.geometry import Size
from textual.message import Message
from textual.reactive import var
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.visual import Visual

from tui.actions import Action

T = TypeVar("T")
Draw = Callable[[T, int], Content]
"""Draws one item as a single line of at most so many cells."""

MOVES = (
    Action("move(-1)", "up,k", "Up", "One line up."),
    Action("move(1)", "down,j", "Down", "One line down."),
    Action("page(-1)", "pageup,ctrl+u", "Page up", "One page up."),
    Action("page(1)", "pagedown,ctrl+d", "Page down", "One page down."),
    Action("ends(0)", "home,g", "First", "To the first line."),
    Action("ends(-1)", "end,G", "Last", "To the last line."),
    Action("pick", "enter", "Open", "Take the selected line."),
)
"""What moves in every list; shown in the help of each screen that has one."""
GUTTER = 2
"""Cells at the left for the `>` that marks the selected row (`›` where another list has the keys),
and for `*` on ticked ones."""


class VirtualList(ScrollView, Generic[T], can_focus=True):
    """Items, one line each. `Moved` tells of the selection, `Picked` of Enter.

    `empty` is said when `show` was given nothing to list. `ticked` holds the indices of rows that
    were ticked (by `tick`), for work on several at once. `follow` is called with the selected
    item at once when it changes, so that what is told about it is painted together with the mark.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(a.key, a.name, a.label, show=False, tooltip=a.description) for a in MOVES
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {"rows--selected"}
    DEFAULT_CSS = """
    VirtualList { height: 1fr; scrollbar-size-vertical: 1; overflow-x: hidden;
        scrollbar-background: $surface; scrollbar-color: $foreground 30%; }
    VirtualList > .rows--selected { background: $panel; text-style: bold; }
    VirtualList:focus > .rows--selected { background: $selected; }
    VirtualList:nocolor > .rows--selected { text-style: bold underline; }
    """

    selected: var[int] = var(0)

    class Moved(Message):
        """Another row is selected."""

        def __init__(self, rows: "VirtualList[Any]") -> None:
            self.rows = rows
            super().__init__()

        @property
        def control(self) -> "VirtualList[Any]":
            """The list it happened in."""
            return self.rows

    class Picked(Moved):
        """Enter, or a click on the selected row."""

    def __init__(self, *, empty: str = "Nothing here.", id: str | None = None) -> None:
        super().__init__(id=id)
        self.items: Sequence[T] = ()
        self.ticked: set[int] = set()
        self.follow: Callable[[T | None], None] = lambda _: None
        self.empty = empty
        self._is_told = False
        self._draw: Draw[T] = lambda item, _: Content(str(item))
        self._drawn: LRUCache[tuple[int, int], Strip] = LRUCache(1000)

    # what is listed

    def show(
        self, items: Sequence[T], draw: Draw[T], *, selected: int = 0, ticked: Iterable[int] = ()
    ) -> None:
        """List these items. They are drawn only when they come into sight."""
        self.items, self._draw, self._is_told = items, draw, True
        self.ticked = set(ticked)
        self._drawn.clear()
        self.virtual_size = Size(0, len(items))
        self.set_reactive(VirtualList.selected, self._within(selected))
        self._bring_into_sight()
        self.refresh()
        self._tell()

    def redraw(self) -> None:
        """Draw again: what stands in the items' lines has changed."""
        self._drawn.clear()
        self.refresh()

    @property
    def item(self) -> T | None:
        """The selected item, if there is one."""
        return self.items[self.selected] if self.items else None

    @property
    def chosen(self) -> list[T]:
        """The ticked items in order, or else the selected one."""
        if self.ticked:
            return [self.items[index] for index in sorted(self.ticked)]
        return [self.items[self.selected]] if self.items else []

    def tick(self, indices: Iterable[int]) -> None:
        """Tick these rows, or untick those that all are ticked already."""
        chosen = set(indices)
        self.ticked = self.ticked - chosen if chosen <= self.ticked else self.ticked | chosen
        self.redraw()

    # moving

    def validate_selected(self, selected: int) -> int:
        """Keep within the list."""
        return self._within(selected)

    def watch_selected(self, before: int, after: int) -> None:
        """Redraw the two rows that changed and keep the selected one in sight."""
        self._bring_into_sight()
        self.refresh_line(before)
        self.refresh_line(after)
        self._tell()

    def action_move(self, step: int) -> None:
        """Up or down."""
        self.selected += step

    def action_page(self, step: int) -> None:
        """A page up or down."""
        self.selected += step * max(1, self.size.height - 1)

    def action_ends(self, index: int) -> None:
        """To the first (0) or the last row (-1)."""
        self.selected = index % max(1, len(self.items))

    def action_pick(self) -> None:
        """Say that the selected row was taken."""
        if self.items:
            self.post_message(self.Picked(self))

    def on_click(self, event: Click) -> None:
        """A click selects; on the selected row it takes."""
        index = event.y + self.scroll_offset.y
        if index == self.selected:
            self.action_pick()
        elif index < len(self.items):
            self.selected = index

    def _tell(self) -> None:
        self.follow(self.item)
        self.post_message(self.Moved(self))

    def _within(self, selected: int) -> int:
        return max(0, min(selected, len(self.items) - 1))

    def _bring_into_sight(self) -> None:
        height, top = self.size.height, self.scroll_offset.y
        if not height:
            return
        if self.selected < top:
            self.scroll_to(y=self.selected, animate=False, force=True, immediate=True)
        elif self.selected >= top + height:
            self.scroll_to(y=self.selected - height + 1, animate=False, force=True, immediate=True)

    # drawing

    def on_resize(self, _: Resize) -> None:
        """Lines fit the new width."""
        self._drawn.clear()
        self._bring_into_sight()

    def notify_style_update(self) -> None:
        """The lines in another theme's colours, too."""
        self._drawn.clear()
        super().notify_style_update()

    def render_line(self, y: int) -> Strip:
        """One line of what is in sight."""
        index, width = y + self.scroll_offset.y, self.size.width
        if not self.items and y == 0:
            words = f"  {self.empty}" if self._is_told else ""
            line = Content.styled(words, "$muted").truncate(width, ellipsis=True)
            return self._strip(line, width)
        if index >= len(self.items):
            return Strip.blank(width, self.rich_style)
        if index == self.selected:
            return self._line(index, width, is_selected=True)
        if (index, width) not in self._drawn:
            self._drawn[index, width] = self._line(index, width, is_selected=False)
        return self._drawn[index, width]

    @property
    def _has_keys(self) -> bool:
        """Whether the arrows move here: not while another list has them."""
        focused = self.screen.focused
        return focused is self or not isinstance(focused, VirtualList)

    def _line(self, index: int, width: int, *, is_selected: bool) -> Strip:
        pointer = ">" if self._has_keys else "›"
        mark = (pointer if is_selected else " ") + ("*" if index in self.ticked else " ")
        space = width - GUTTER - 1
        body = self._draw(self.items[index], space).truncate(space, ellipsis=True)
        return self._strip(Content(mark) + body, width, is_selected=is_selected)

    def _strip(self, line: Content, width: int, *, is_selected: bool = False) -> Strip:
        style = self.visual_style
        if is_selected:
            style = style + self.get_visual_style("rows--selected", partial=True)
        return Visual.to_strips(self, line, width, 1, style, pad=True)[0]
