"""Text from a bank, set to the width there is: hanging indents, and never markup."""

from collections.abc import Callable, Sequence
from itertools import zip_longest

from textual.content import Content
from textual.events import Resize
from textual.geometry import Size
from textual.widget import Widget

Setter = Callable[[int], Content]
"""Sets a text to a width in cells, broken into lines that fit."""


class TextBlock(Widget):
    """A text that is set anew for every width; as high as its lines."""

    DEFAULT_CSS = "TextBlock { height: auto; }"

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.auto_links = False  # what can be clicked looks as the text sets it
        self._setter: Setter = lambda _: Content("")
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
        Content.assemble(one.truncate(width, ellipsis=True, pad=True), " " * gap, other)
        for one, other in lines
    )
