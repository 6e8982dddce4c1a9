"""A sheet as plain text and as Markdown."""

from collections.abc import Iterator, Sequence
from html import escape
from textwrap import wrap

from banks.exporters.question_rows import escaped
from banks.exporters.sheets.question_sheet import (
    PageSize,
    Sheet,
    SheetLine,
    SheetPart,
)

WIDTH = 78
_LONGEST = 24
"""Characters of a reference; what is longer is shortened."""


def to_text(sheet: Sheet) -> str:
    """Columns of numbers, at most 78 characters wide."""
    intro = [line for text in _intro(sheet) for line in wrap(text, WIDTH)]
    lines = [sheet.title, "=" * min(WIDTH, len(sheet.title)), *intro, ""]
    heading = ""
    for part in sheet.parts:
        if part.heading != heading:
            heading = part.heading
            lines += [heading.upper(), ""]
        lines += [f"{part.chapter} ({len(part.lines)})", *_columns(part.lines, sheet.boxes), ""]
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
        lines += [f"### {escaped(part.chapter)}", "", *_table(part, sheet.boxes), ""]
    return "\n".join(lines)


def _intro(sheet: Sheet) -> list[str]:
    return [line for line in (sheet.about, sheet.legend, sheet.tiers) if line]


def _columns(lines: Sequence[SheetLine], boxes: int) -> Iterator[str]:
    """The numbers down the columns, as many columns as the width holds."""
    cells = [_cell(line, boxes) for line in lines]
    width = max(map(len, cells)) + 2
    across = max(1, (WIDTH + 2) // width)
    down = -(-len(cells) // across)
    for row in range(down):
        yield "".join(cell.ljust(width) for cell in cells[row::down]).rstrip()


def _cell(line: SheetLine, boxes: int) -> str:
    reference = " ".join(line.reference.split())
    short = reference if len(reference) <= _LONGEST else f"{reference[: _LONGEST - 1]}…"
    return f"{line.number:>5} {line.mark:3} {'[ ]' * boxes} {short}".rstrip()


def _table(part: SheetPart, boxes: int) -> Iterator[str]:
    passes = " | ".join(str(at) for at in range(1, boxes + 1))
    yield f"| No. | | {passes} | page |"
    yield "|---:|---|" + ":-:|" * boxes + "---|"
    empty = " | ".join("☐" * boxes)
    for line in part.lines:
        yield f"| {line.number} | {line.mark} | {empty} | {escaped(line.reference)} |"


_STYLE = """
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
u { width: 4mm; height: 4mm; border: .25mm solid; border-radius: .6mm }
small { margin-left: auto; color: #555; overflow: hidden; white-space: nowrap }
"""


def to_html(sheet: Sheet, paper: PageSize) -> str:
    """The whole page."""
    intro = "".join(f"<p>{escape(x)}</p>" for x in (sheet.about, sheet.legend, sheet.tiers) if x)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{escape(sheet.title)}</title><style>{_STYLE % paper.name}</style></head>\n"
        f"<body><h1>{escape(sheet.title)}</h1>{intro}\n<main>\n{_parts(sheet)}</main></body></html>\n"
    )


def _parts(sheet: Sheet) -> str:
    pieces, heading = [], ""
    for part in sheet.parts:
        if part.heading != heading:
            heading = part.heading
            pieces.append(f"<h2>{escape(heading)}</h2>\n")
        pieces.append(_part(part, sheet.boxes))
    return "".join(pieces)


def _part(part: SheetPart, boxes: int) -> str:
    lines = "".join(_line(line, boxes) for line in part.lines)
    return f"<h3>{escape(part.chapter)}</h3>\n<ol>\n{lines}</ol>\n"


def _line(line: SheetLine, boxes: int) -> str:
    reference = f"<small>{escape(line.reference)}</small>" if line.reference else ""
    return f"<li><b>{line.number}</b><i>{line.mark}</i>{'<u></u>' * boxes}{reference}</li>\n"
