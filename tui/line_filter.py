"""The last station of lines that show a file as it is: it costs a millisecond a key."""

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from tui.harmless import harmless


class Harmless(LineFilter):
    """Takes out of each line whatever could drive the terminal."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with harmless texts."""
        return [
            Segment(harmless(text), style, control) for text, style, control in segments
        ]  # fmt: skip
