"""A sheet as plain text, Markdown, a page for the browser or a PDF, by the file's ending."""

from collections.abc import Callable, Iterator, Sequence
from html import escape
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from banks.exporters.question_rows import encoded, escaped, write_file
from banks.exporters.sheets.question_sheet import (
    A4,
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
    SheetPart,
    column_width,
    pages,
)
from domain.errors import UsageError
from domain.text import safe_text

if TYPE_CHECKING:
    from fpdf import FPDF

ENDINGS = (".txt", ".md", ".html", ".pdf")


def to_bytes(sheet: Sheet, ending: str, paper: PageSize = A4) -> bytes:
    """The sheet as a file with this ending. Raises UsageError for one that is not in ENDINGS."""
    if ending == ".pdf":
        return to_pdf(sheet, paper)
    writers: dict[str, Callable[[Sheet], str]] = {
        ".txt": to_text,
        ".md": to_markdown,
        ".html": lambda sheet: to_html(sheet, paper),
    }
    if ending not in writers:
        raise UsageError(f"A sheet ends in {', '.join(ENDINGS)}, not in {ending or 'nothing'}.")
    return encoded(writers[ending](sheet))


def write_sheet(path: Path, sheet: Sheet, paper: PageSize = A4) -> None:
    """Write the sheet, whole or not at all. Raises UsageError for the ending, StoreError."""
    write_file(path, to_bytes(sheet, path.suffix.lower(), paper))


_TEXT_WIDTH = 78
_LONGEST_REFERENCE = 24
"""Characters of a reference; what is longer is shortened."""


def to_text(sheet: Sheet) -> str:
    """Columns of numbers, at most 78 characters wide."""
    intro = [line for text in _intro(sheet) for line in wrap(text, _TEXT_WIDTH)]
    lines = [sheet.title, "=" * min(_TEXT_WIDTH, len(sheet.title)), *intro, ""]
    heading = ""
    for part in sheet.parts:
        if part.heading != heading:
            heading = part.heading
            lines += [heading.upper(), ""]
        lines += [
            f"{part.chapter} ({len(part.lines)})",
            *_text_columns(part.lines, sheet.boxes),
            "",
        ]
    return "\n".join(lines)


def to_markdown(sheet: Sheet) -> str:
    """A table a chapter."""
    lines = [f"# {escaped(sheet.title)}", ""]
    lines += [paragraph for line in _intro(sheet) for paragraph in (escaped(line), "")]
    heading = ""
    for part in sheet.parts:
        if part.heading != heading:
            heading = part.heading
            lines += [f"## {escaped(heading)}", ""]
        lines += [f"### {escaped(part.chapter)}", "", *_markdown_table(part, sheet.boxes), ""]
    return "\n".join(lines)


def _intro(sheet: Sheet) -> list[str]:
    return [line for line in (sheet.about, sheet.legend, sheet.tiers) if line]


def _text_columns(lines: Sequence[SheetLine], boxes: int) -> Iterator[str]:
    """The numbers down the columns, as many columns as the width holds."""
    cells = [_text_cell(line, boxes) for line in lines]
    width = max(map(len, cells)) + 2
    across = max(1, (_TEXT_WIDTH + 2) // width)
    down = -(-len(cells) // across)
    for row in range(down):
        yield "".join(cell.ljust(width) for cell in cells[row::down]).rstrip()


def _text_cell(line: SheetLine, boxes: int) -> str:
    reference = " ".join(line.reference.split())
    short = (
        reference
        if len(reference) <= _LONGEST_REFERENCE
        else f"{reference[: _LONGEST_REFERENCE - 1]}…"
    )
    return f"{line.number:>5} {line.mark:3} {'[ ]' * boxes} {short}".rstrip()


def _markdown_table(part: SheetPart, boxes: int) -> Iterator[str]:
    passes = " | ".join(str(at) for at in range(1, boxes + 1))
    yield f"| No. | | {passes} | page |"
    yield "|---:|---|" + ":-:|" * boxes + "---|"
    empty = " | ".join("☐" * boxes)
    for line in part.lines:
        yield f"| {line.number} | {line.mark} | {empty} | {escaped(line.reference)} |"


_PAGE_STYLE = """
@page { size: %s; margin: 12mm }
body { font: 10pt/1.4 "DejaVu Sans Condensed", "Segoe UI", sans-serif; margin: 12mm; color: #111 }
@media print { body { margin: 0 } }
h1 { font-size: 18pt; margin: 0 }
h2, h3 { break-after: avoid }
h2 { font-size: 12pt; margin: 0 0 1mm; padding-top: 1mm; border-top: .6mm solid }
h3 { font-size: 9pt; margin: 2mm 0 1mm }
p { margin: 1mm 0; color: #444 }
main { columns: 4 42mm; column-gap: 4mm; margin-top: 4mm }
ol { list-style: none; margin: 0 0 3mm; padding: 0 }
li { display: flex; gap: 1mm; align-items: center; break-inside: avoid;
     height: 6mm; border-bottom: .1mm solid #bbb }
b { width: 9mm; text-align: right }
i { width: 6mm; font-style: normal; font-weight: bold }
i.settled { font-weight: normal; color: #777 }
u { width: 4mm; height: 4mm; border: .25mm solid; border-radius: .6mm }
small { margin-left: auto; color: #555; overflow: hidden; white-space: nowrap }
"""


def to_html(sheet: Sheet, paper: PageSize) -> str:
    """The whole page."""
    intro = "".join(f"<p>{escape(x)}</p>" for x in (sheet.about, sheet.legend, sheet.tiers) if x)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{escape(sheet.title)}</title><style>{_PAGE_STYLE % paper.name}</style></head>\n"
        f"<body><h1>{escape(sheet.title)}</h1>{intro}\n<main>\n{_html_parts(sheet)}</main></body></html>\n"
    )


def _html_parts(sheet: Sheet) -> str:
    pieces, heading = [], ""
    for part in sheet.parts:
        if part.heading != heading:
            heading = part.heading
            pieces.append(f"<h2>{escape(heading)}</h2>\n")
        pieces.append(_html_part(part, sheet.boxes))
    return "".join(pieces)


def _html_part(part: SheetPart, boxes: int) -> str:
    lines = "".join(_html_line(line, boxes) for line in part.lines)
    return f"<h3>{escape(part.chapter)}</h3>\n<ol>\n{lines}</ol>\n"


def _html_line(line: SheetLine, boxes: int) -> str:
    reference = f"<small>{escape(line.reference)}</small>" if line.reference else ""
    quiet = ' class="settled"' if line.standing.settled else ""
    mark = f"<i{quiet}>{line.mark}</i>"
    return f"<li><b>{line.number}</b>{mark}{'<u></u>' * boxes}{reference}</li>\n"


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
    """The sheet on as many pages as it takes, in a font of its own: Greek and symbols print
    everywhere.
    """
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
        laid_out = pages(self._sheet, self._paper, self._wrapped)
        for at, page in enumerate(laid_out):
            self._pdf.add_page()
            self._head_first() if at == 0 else self._head_later()
            self._columns(page, MARGIN + (HEAD_LATER if at else HEAD_FIRST))
            self._foot(f"{at + 1} / {len(laid_out)}")

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
            size_words = f"{block.count}" if block.count else "continued"
            self._text(left + width, top + 2.4, size_words, size=7, grey=_SOFT, to_the_left=True)
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
        style, grey = ("", _SOFT) if line.standing.settled else ("B", _INK)
        self._text(left + _NUMBER + 1.2, top + 1.2, line.mark, size=9, style=style, grey=grey)
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
