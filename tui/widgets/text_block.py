"""Text from a bank, set to the width there is, never markup: a block of it, a page to scroll."""

from collections.abc import Callable, Sequence
from itertools import zip_longest

from rich.cells import cell_len
from rich.segment import Segment
from textual.content import Content
from textual.events import Resize
from textual.geometry import Region, Size
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from domain.text import counted

Setter = Callable[[int], Content]
"""Sets a text to a width in cells, broken into lines that fit."""


class TextBlock(Widget):
    """A text that is set anew for every width; as high as its lines."""

    DEFAULT_CSS = "TextBlock { height: auto; }"

    def __init__(
        self, waiting: str = "", *, id: str | None = None, classes: str | None = None
    ) -> None:
        """`waiting` stands there until a text is shown."""
        super().__init__(id=id, classes=classes)
        self.auto_links = False  # what can be clicked looks as the text sets it
        self._setter: Setter = lambda _: Content.styled(waiting, "$muted")
        self._set: tuple[int, Content] = (-1, Content(""))

    def show(self, setter: Setter) -> None:
        """Put another text in its place."""
        self._setter, self._set = setter, (-1, Content(""))
        self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """How many lines the text takes."""
        return self._text(width).plain.count("\n") + 1

    def render(self) -> Content:
        """The text at the width there is."""
        return self._text(self.content_size.width)

    def on_resize(self, _: Resize) -> None:
        """The kept rendering was set to the width before."""
        self.refresh(layout=self.content_size.width != self._set[0])

    def _text(self, width: int) -> Content:
        if self._set[0] != width:
            self._set = (width, self._setter(width))
        return self._set[1]


def hanging(mark: Content, body: Content, width: int) -> Content:
    """The body wrapped to the right of a mark, its further lines indented under the first."""
    indent = mark.cell_length
    lines = body.wrap(max(width - indent, 8)) or [Content("")]
    first, rest = mark + lines[0], [Content(" " * indent) + line for line in lines[1:]]
    return Content("\n").join([first, *rest])


def stacked(parts: Sequence[Content | None]) -> Content:
    """The parts that there are, one under the other."""
    return Content("\n").join([part for part in parts if part is not None])


def beside(left: Content, right: Content, width: int, gap: int) -> Content:
    """Two texts side by side, the left one padded to a width, lines cut where they are wider."""
    lines = zip_longest(left.split("\n"), right.split("\n"), fillvalue=Content(""))
    return Content("\n").join(
        Content.assemble(cell.truncate(width, ellipsis=True, pad=True), " " * gap, other)
        for cell, other in lines
    )


class ScrollText(ScrollView, can_focus=True):
    """Blocks of text, one under the other with an empty line between, scrolled by the arrows.

    A setter that is shown again is not asked again, its lines are framed and filtered once, and
    only lines that differ are painted.
    """

    DEFAULT_CSS = """
    ScrollText { height: 1fr; overflow-x: hidden; scrollbar-size-vertical: 1;
        scrollbar-gutter: stable; scrollbar-background: $surface;
        scrollbar-color: $foreground 30%; }
    """

    def __init__(self, *, id: str | None = None, can_focus: bool = True) -> None:
        super().__init__(id=id)
        self.can_focus = can_focus
        self.auto_links = False  # what can be clicked looks as the block sets it
        self._blocks: Sequence[Setter] = ()
        self._reveal = -1
        self._strips: dict[Setter, list[Strip]] = {}
        self._lines: list[Strip] = []
        self._frame: list[Strip] = []
        """The page without text, as Textual pads and borders it."""
        self._framed = Size(0, 0)
        """The size that the frame and all lines are made for."""
        self._ends: list[int] = []
        self._seen_to = 0

    def show(self, blocks: Sequence[Setter], *, reveal: int = -1) -> None:
        """Put other blocks in their place; bring the block with the number `reveal` into sight."""
        self._blocks, self._reveal = blocks, reveal
        self._set()

    def to_top(self) -> None:
        """Show the beginning."""
        self.scroll_to(y=0, animate=False, force=True, immediate=True)
        self._seen_to = self.size.height

    def has_seen(self, block: int) -> bool:
        """Whether a block was in view to its end since `to_top`; so it is before any layout."""
        return not 0 <= block < len(self._ends) or self._seen_to >= self._ends[block]

    @property
    def lines_below(self) -> int:
        """How many lines lie below what is in view."""
        return max(0, len(self._lines) - self.scroll_offset.y - self.size.height)

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Remember how far down the text was in view."""
        super().watch_scroll_y(old_value, new_value)
        self._seen_to = max(self._seen_to, round(new_value) + self.size.height)

    def turn(self, pages: int) -> None:
        """Scroll by so many pages."""
        self.scroll_relative(y=pages * max(1, self.size.height - 2), animate=False)

    def on_resize(self, _: Resize) -> None:
        """Fit the new width."""
        self._set_anew()

    def notify_style_update(self) -> None:
        """Take on other colours."""
        super().notify_style_update()
        self._set_anew()

    def render_line(self, y: int) -> Strip:
        """A line without text, for Textual to put its frame around."""
        return Strip.blank(self.size.width, self.rich_style)

    def render_lines(self, crop: Region) -> list[Strip]:
        """What is in sight of the lines that are set, in their frame."""
        if self._framed != self.outer_size:
            return super().render_lines(crop)
        top, first = self.gutter.top, self.scroll_offset.y
        text = self._lines[first : first + self.size.height]
        page = [*self._frame[:top], *text, *self._frame[top + len(text) :]]
        return [strip.crop(crop.x, crop.right) for strip in page[crop.y : crop.bottom]]

    def _set_anew(self) -> None:
        self._framed = Size(0, 0)
        self._set()
        self.refresh()

    def _set(self) -> None:
        width, (whole, height) = self.scrollable_content_region.width, self.size
        if width <= 0 or height <= 0:  # without the bar at the side, which is not for text
            return
        if self._framed != self.outer_size:
            self._framed, self._strips = self.outer_size, {}
            self._frame = super().render_lines(self._framed.region)
        empty = self._frame[self.gutter.top]
        self._strips = {
            block: self._strips.get(block) or self._lines_of(block(width), width)
            for block in dict.fromkeys(self._blocks)
        }
        starts: list[int] = []
        ends: list[int] = []
        lines: list[Strip] = []
        for block in self._blocks:
            if lines:
                lines.append(empty)
            starts.append(len(lines))
            lines += self._strips[block]
            ends.append(len(lines))
        before, self._lines, self._ends = self._lines, lines, ends
        self._seen_to = max(self._seen_to, self.scroll_offset.y + height)
        # Never lower than the screen: a size that stays the same needs no new layout.
        self.virtual_size = Size(whole, max(len(lines), height))
        if 0 <= self._reveal < len(starts):
            self._bring_into_sight(starts[self._reveal], height)
        pairs = enumerate(zip_longest(before, lines, fillvalue=empty))
        changed = [line for line, (old, new) in pairs if old is not new and old != new]
        if changed:
            left, top = -self.gutter.left, self.scroll_offset.y
            self.refresh(*(Region(left, line - top, self._framed.width, 1) for line in changed))

    def _lines_of(self, text: Content, width: int) -> list[Strip]:
        """The lines as they go to the terminal, between the two edges of the frame."""
        if max(map(cell_len, text.plain.split("\n"))) > width:
            text = Content("\n").join(text.wrap(width))
        style, ground = self.visual_style, self.background_colors[1]
        parts = text.render(style)  # ends the last line, too
        segments = [Segment(part, part_style.rich_style) for part, part_style in parts]
        across = self._framed.width
        left, right = self.gutter.left, across - self.gutter.right
        empty = self._frame[self.gutter.top]
        before, after = empty.crop(0, left), empty.crop(right)
        strips = []
        for line in Segment.split_and_crop_lines(
            segments, right - left, style.rich_style, include_new_lines=False
        ):
            for line_filter in self.get_line_filters():
                line = line_filter.apply(line, ground)
            strips.append(Strip([*before, *line, *after], across))
        return strips

    def _bring_into_sight(self, start: int, height: int) -> None:
        """Scroll down as far as the last block needs, but not past where `start` begins."""
        top = min(start, len(self._lines) - height)
        if top > self.scroll_offset.y:
            self.scroll_to(y=top, animate=False, force=True, immediate=True)


def below_words(text: ScrollText) -> str:
    """What lies below of a question whose options were not all in view yet."""
    return f"▼ {counted(text.lines_below, 'line')} below, options there · Space: scroll"
