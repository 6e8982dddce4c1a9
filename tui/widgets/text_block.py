"""Text from a bank, set to the width there is, never markup: a block of it, a page to scroll."""

from collections.abc import Callable, Iterable, Sequence
from itertools import zip_longest

from rich.cells import cell_len
from rich.segment import Segment
from textual.containers import Horizontal, Vertical
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
    if body.cell_length <= width - indent and "\n" not in body.plain and "\t" not in body.plain:
        return mark + body
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


def ground_lines(widget: Widget, crop: Region) -> list[Strip]:
    """The same line all over, for a widget that shows nothing where no other lies on it.

    Textual goes through all its lines at every key, however few are painted.
    """
    line = Strip.blank(crop.width, widget.visual_style.rich_style)
    for line_filter in widget.get_line_filters():
        line = line.apply_filter(line_filter, widget.background_colors[1])
    return [line] * crop.height


class SideBySide(Horizontal):
    """Widgets side by side, with nothing of its own to paint."""

    def render_lines(self, crop: Region) -> list[Strip]:
        """The ground alone."""
        return ground_lines(self, crop)


class Column(Vertical):
    """Widgets one under another, with nothing of its own to paint."""

    def render_lines(self, crop: Region) -> list[Strip]:
        """The ground alone."""
        return ground_lines(self, crop)


class Frame:
    """The edges of a widget as Textual pads and borders them, made once for its size and style.

    Textual wraps a text a second time, then frames, filters and cuts every line anew whenever it
    is painted. Here that is done when a line is set.
    """

    def __init__(self, widget: Widget, paint: Callable[[Region], list[Strip]]) -> None:
        """`paint` is how Textual paints the widget, which shows no text of its own."""
        self._widget, self._paint = widget, paint
        self.drop()

    def drop(self) -> None:
        """The style is another one: nothing that was made fits any more."""
        self.size = Size(0, 0)

    @property
    def fits(self) -> bool:
        """Whether it was made for the size that the widget has."""
        return bool(self.size) and self.size == self._widget.outer_size

    def make(self) -> None:
        """Take on the widget's size and style."""
        widget = self._widget
        self.size, self.gutter = widget.outer_size, widget.gutter
        self._style, self._ground = widget.visual_style, widget.background_colors[1]
        self._page = self._paint(self.size.region)
        self.empty = self._page[min(self.gutter.top, len(self._page) - 1)]
        self._left = self.empty.crop(0, self.gutter.left)
        self._right = self.empty.crop(self.size.width - self.gutter.right)

    def lines_of(self, text: Content) -> list[Strip]:
        """The lines of a text as they go to the terminal, between the two edges."""
        parts = text.render(self._style)  # ends the last line, too
        segments = [Segment(part, style.rich_style) for part, style in parts]
        width = self.size.width - self.gutter.width
        strips = []
        for line in Segment.split_and_crop_lines(
            segments, width, self._style.rich_style, include_new_lines=False
        ):
            for line_filter in self._widget.get_line_filters():
                line = line_filter.apply(line, self._ground)
            strips.append(Strip([*self._left, *line, *self._right], self.size.width))
        return strips

    def around(self, lines: list[Strip], crop: Region) -> list[Strip]:
        """The part of the widget that is asked for, with these lines in it."""
        top = self.gutter.top
        page = [*self._page[:top], *lines, *self._page[top + len(lines) :]]
        return [strip.crop(crop.x, crop.right) for strip in page[crop.y : crop.bottom]]

    def rows(self, changed: Iterable[int]) -> list[Region]:
        """What is to be painted again where these rows of the text are other ones."""
        return [Region(-self.gutter.left, row, self.size.width, 1) for row in changed]


def _changed(before: Sequence[Strip], after: Sequence[Strip], empty: Strip) -> list[int]:
    pairs = enumerate(zip_longest(before, after, fillvalue=empty))
    return [row for row, (old, new) in pairs if old is not new and old != new]


class TextLines(Widget):
    """Lines that are set anew for every width, each cut where it is too long; only those that
    differ are painted.
    """

    DEFAULT_CSS = "TextLines { height: auto; }"

    def __init__(self, setter: Setter | None = None, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.auto_links = False
        self._frame = Frame(self, super().render_lines)
        self._setter = setter or (lambda _: Content(""))
        self._text, self._lines = Content(""), list[Strip]()

    def show(self, setter: Setter, *, layout: bool = False) -> None:
        """Put another text in its place; `layout` where it may be higher or lower."""
        self._setter = setter
        if layout or not self._frame.fits:
            self._frame.drop()
            self.refresh(layout=layout)
            return
        before, text = self._lines, self._setter(self.content_size.width)
        if text.is_same(self._text):
            return
        self._text, self._lines = text, self._frame.lines_of(text)
        self.refresh(*self._frame.rows(_changed(before, self._lines, self._frame.empty)))

    def notify_style_update(self) -> None:
        """Take on other colours."""
        super().notify_style_update()
        self._frame.drop()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """How many lines the text takes."""
        return self._setter(width).plain.count("\n") + 1

    def render_line(self, y: int) -> Strip:
        """A line without text."""
        return Strip.blank(self.size.width, self.rich_style)

    def render_lines(self, crop: Region) -> list[Strip]:
        """The lines in their frame."""
        if not self._frame.fits:
            self._frame.make()
            self._text = self._setter(self.content_size.width)
            self._lines = self._frame.lines_of(self._text)
        return self._frame.around(self._lines[: self.content_size.height], crop)


class ScrollText(ScrollView, can_focus=True):
    """Blocks of text, one under the other with an empty line between, scrolled by the arrows.

    A setter that is shown again is not asked again, and only lines that differ are painted.
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
        self._frame = Frame(self, super().render_lines)
        self._strips: dict[Setter, list[Strip]] = {}
        self._lines: list[Strip] = []
        self._spans: list[range] = []
        """The lines of each block."""
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
        return not 0 <= block < len(self._spans) or self._seen_to >= self._spans[block].stop

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
        """Fit the new size."""
        self._set()
        self.refresh()

    def notify_style_update(self) -> None:
        """Take on other colours."""
        super().notify_style_update()
        self._frame.drop()
        self._set()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """A line without text."""
        return Strip.blank(self.size.width, self.rich_style)

    def render_lines(self, crop: Region) -> list[Strip]:
        """What is in sight of the lines, in their frame."""
        if not (self._frame.fits or self._read()):
            return super().render_lines(crop)
        top = self.scroll_offset.y
        return self._frame.around(self._lines[top : top + self.size.height], crop)

    def _read(self) -> bool:
        """Set the blocks that are not set for this size yet; False where nothing fits in it."""
        width = self.scrollable_content_region.width
        if width <= 0 or self.size.height <= 0:  # without the bar at the side
            return False
        if not self._frame.fits:
            self._frame.make()
            self._strips = {}
        self._strips = {
            block: self._strips.get(block) or self._frame.lines_of(_fitted(block(width), width))
            for block in dict.fromkeys(self._blocks)
        }
        self._lines, self._spans = [], []
        for block in self._blocks:
            if self._lines:
                self._lines.append(self._frame.empty)
            start = len(self._lines)
            self._lines += self._strips[block]
            self._spans.append(range(start, len(self._lines)))
        return True

    def _set(self) -> None:
        before, top, (whole, height) = self._lines, self.scroll_offset.y, self.size
        if not self._read():
            return
        self._seen_to = max(self._seen_to, top + height)
        # Never lower than the screen: a size that stays the same needs no new layout.
        self.virtual_size = Size(whole, max(len(self._lines), height))
        if 0 <= self._reveal < len(self._spans):
            self._bring_into_sight(self._spans[self._reveal].start, height)
        if changed := _changed(before, self._lines, self._frame.empty):
            top = self.scroll_offset.y
            self.refresh(*self._frame.rows(line - top for line in changed))

    def _bring_into_sight(self, start: int, height: int) -> None:
        """Scroll down as far as the last block needs, but not past where `start` begins."""
        top = min(start, len(self._lines) - height)
        if top > self.scroll_offset.y:
            self.scroll_to(y=top, animate=False, force=True, immediate=True)


def _fitted(text: Content, width: int) -> Content:
    """The text, its lines broken again where its setter left one too long."""
    if max(map(cell_len, text.plain.split("\n"))) > width:
        return Content("\n").join(text.wrap(width))
    return text


def below_words(text: ScrollText) -> str:
    """What lies below of a question whose options were not all in view yet."""
    return f"▼ {counted(text.lines_below, 'line')} below, options there · Space: scroll"
