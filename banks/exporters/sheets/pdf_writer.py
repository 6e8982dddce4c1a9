"""A sheet as a PDF, with a font of its own so that Greek and symbols print everywhere."""

from pathlib import Path
from typing import TYPE_CHECKING

from banks.exporters.sheets.question_sheet import (
    FOOT,
    GUTTER,
    HEAD_FIRST,
    HEAD_LATER,
    HEIGHTS,
    LEADING,
    MARGIN,
    BlockKind,
    Page,
    PageSize,
    Sheet,
    SheetBlock,
    SheetLine,
    column_width,
    pages,
)
from domain.text import safe_text

if TYPE_CHECKING:
    from fpdf import FPDF

_FONTS = Path(__file__).with_name("fonts")
_FAMILY = "sheet"
_INK, _SOFT, _FAINT = 20, 95, 190
_NUMBER, _MARK = 8.6, 7.0
_BOX, _BETWEEN = 4.0, 1.5
_MISSING = "▯"
_PASSES = ("First pass", "Second pass", "Third pass")
_SIZES = {BlockKind.SUBJECT: 11.0, BlockKind.CHAPTER: 8.5, BlockKind.CONTINUED: 8.5}
_ASIDE = {BlockKind.SUBJECT: 0.0, BlockKind.CHAPTER: 5.0, BlockKind.CONTINUED: 14.0}
_ABOVE = 3.2
_MOST_LINES = 3
"""Lines a heading may take; what is longer is shortened."""


def to_pdf(sheet: Sheet, paper: PageSize) -> bytes:
    """The sheet on as many pages as it takes."""
    from fpdf import FPDF

    pdf = FPDF(format=(paper.width, paper.height))
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.c_margin = 0
    pdf.set_title(sheet.title)
    pdf.add_font(_FAMILY, "", _FONTS / "DejaVuSansCondensed.ttf")
    pdf.add_font(_FAMILY, "B", _FONTS / "DejaVuSansCondensed-Bold.ttf")
    _Press(pdf, sheet, paper).print()
    return bytes(pdf.output())


class _Press:
    """Draws the pages of one sheet."""

    def __init__(self, pdf: "FPDF", sheet: Sheet, paper: PageSize) -> None:
        from fpdf.fonts import TTFFont

        self._pdf = pdf
        self._sheet = sheet
        self._paper = paper
        self._right = paper.width - MARGIN
        fonts = {style: pdf.fonts[_FAMILY + style] for style in ("", "B")}
        self._known = {
            style: font.cmap for style, font in fonts.items() if isinstance(font, TTFFont)
        }

    def print(self) -> None:
        """All pages."""
        found = pages(self._sheet, self._paper, self._wrapped)
        for at, page in enumerate(found):
            self._pdf.add_page()
            self._head_first() if at == 0 else self._head_later()
            self._columns(page, MARGIN + (HEAD_LATER if at else HEAD_FIRST))
            self._foot(f"{at + 1} / {len(found)}")

    def _head_first(self) -> None:
        sheet = self._sheet
        count = f"{sheet.count} question{'s' * (sheet.count != 1)}"
        self._text(MARGIN, MARGIN, sheet.title, size=19, style="B", width=self._right - 50)
        self._text(self._right, MARGIN + 1.5, count, size=12, style="B", to_the_left=True)
        self._text(MARGIN, MARGIN + 9, sheet.about, size=9, grey=_SOFT, width=self._right - MARGIN)
        self._text(MARGIN, MARGIN + 14, sheet.legend, size=8, grey=_SOFT)
        self._text(self._right, MARGIN + 14, sheet.tiers, size=8, style="B", to_the_left=True)
        self._passes(MARGIN + 19.5)

    def _passes(self, top: float) -> None:
        """A field per pass to fill in: when it was, and what it came to."""
        width = (self._right - MARGIN - (len(_PASSES) - 1) * GUTTER) / len(_PASSES)
        names = _PASSES if self._sheet.boxes > 1 else ("Taken",)
        for at in range(self._sheet.boxes):
            left = MARGIN + at * (width + GUTTER)
            self._box(left, top, width, 11)
            self._text(left + 2, top + 1.2, names[at], size=9, style="B")
            for name, shift in (("day", 2.0), ("minutes", width * 0.36), ("missed", width * 0.68)):
                self._text(left + shift, top + 6.6, name, size=7, grey=_SOFT)

    def _head_later(self) -> None:
        self._text(MARGIN, MARGIN - 1, self._sheet.title, size=9, style="B", width=self._right / 2)
        self._rule(MARGIN, MARGIN + 4.5, self._right, weight=0.2, grey=_FAINT)

    def _foot(self, page: str) -> None:
        top = self._paper.height - MARGIN - FOOT + 4
        self._text(self._right, top, page, size=8, grey=_SOFT, to_the_left=True)

    def _columns(self, page: Page, top: float) -> None:
        width = column_width(self._paper)
        for at, column in enumerate(page):
            left, y = MARGIN + at * (width + GUTTER), top
            for block in column:
                self._block(block, left, y, width)
                y += block.height

    def _block(self, block: SheetBlock, left: float, top: float, width: float) -> None:
        if block.line is not None:
            self._line(block.line, left, top, width)
            return
        if block.kind is BlockKind.SUBJECT:
            self._rule(left, top + _ABOVE - 1.2, left + width, weight=0.7)
        else:
            told = f"{block.count}" if block.count else "continued"
            self._text(left + width, top + 2.4, told, size=7, grey=_SOFT, to_the_left=True)
        for at, text in enumerate(block.text):
            y = (
                top
                + (_ABOVE if block.kind is BlockKind.SUBJECT else 2.1)
                + at * LEADING.get(block.kind, 0.0)
            )
            room = width - _ASIDE[block.kind]
            self._text(left, y, text, size=_SIZES[block.kind], style="B", width=room)

    def _wrapped(self, text: str, kind: BlockKind) -> tuple[str, ...]:
        """The heading in lines that fit a column."""
        self._pdf.set_font(_FAMILY, "B", _SIZES[kind])
        room = column_width(self._paper) - _ASIDE[kind]
        lines = [""]
        for word in self._printable(text, "B").split(" "):
            longer = f"{lines[-1]} {word}".strip()
            if self._pdf.get_string_width(longer) <= room or not lines[-1]:
                lines[-1] = longer
            elif len(lines) < _MOST_LINES:
                lines.append(word)
            else:
                lines[-1] = longer
        return tuple(lines)

    def _line(self, line: SheetLine, left: float, top: float, width: float) -> None:
        height = HEIGHTS[BlockKind.LINE]
        number = str(line.number)
        self._text(left + _NUMBER, top + 1, number, size=10.5, style="B", to_the_left=True)
        self._text(left + _NUMBER + 1.2, top + 1.2, line.mark, size=9, style="B")
        x = left + _NUMBER + _MARK
        for _ in range(self._sheet.boxes):
            self._box(x, top + (height - _BOX) / 2, _BOX, _BOX)
            x += _BOX + _BETWEEN
        self._text(
            x + 0.5, top + 1.6, line.reference, size=7, grey=_SOFT, width=left + width - x - 0.5
        )
        self._rule(left, top + height, left + width, weight=0.1, grey=_FAINT)

    def _box(self, left: float, top: float, width: float, height: float) -> None:
        self._pdf.set_draw_color(_SOFT)
        self._pdf.set_line_width(0.25)
        self._pdf.rect(left, top, width, height, round_corners=True, corner_radius=0.6)

    def _rule(
        self, left: float, top: float, right: float, *, weight: float, grey: int = _INK
    ) -> None:
        self._pdf.set_draw_color(grey)
        self._pdf.set_line_width(weight)
        self._pdf.line(left, top, right, top)

    def _text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float,
        style: str = "",
        grey: int = _INK,
        width: float | None = None,
        to_the_left: bool = False,
    ) -> None:
        """One line of text, its top left (or right) corner at x, y; shortened to `width`."""
        if not text:
            return
        pdf = self._pdf
        pdf.set_font(_FAMILY, style, size)
        pdf.set_text_color(grey)
        shown = self._printable(text, style)
        shown = shown if width is None else self._shortened(shown, width)
        across = pdf.get_string_width(shown)
        pdf.set_xy(x - across if to_the_left else x, y)
        pdf.cell(across, size * 0.42, shown)

    def _printable(self, text: str, style: str) -> str:
        """The text in one line, with a stand-in for signs that the font lacks."""
        known = self._known[style]
        return "".join(
            c if ord(c) in known else _MISSING for c in " ".join(safe_text(text).split())
        )

    def _shortened(self, text: str, width: float) -> str:
        measure = self._pdf.get_string_width
        if measure(text) <= width:
            return text
        while text and measure(f"{text}…") > width:
            text = text[:-1]
        return f"{text.rstrip()}…" if text else ""
