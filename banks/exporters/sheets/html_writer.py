"""A sheet as a web page that needs nothing else and prints as well as it reads."""

from html import escape

from banks.exporters.sheets.page_size import PageSize
from banks.exporters.sheets.question_sheet import LEGEND, PASSES, Sheet, SheetLine, SheetPart

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
    intro = "".join(f"<p>{escape(x)}</p>" for x in (sheet.about, LEGEND, sheet.tiers) if x)
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
        pieces.append(_part(part))
    return "".join(pieces)


def _part(part: SheetPart) -> str:
    lines = "".join(map(_line, part.lines))
    return f"<h3>{escape(part.chapter)}</h3>\n<ol>\n{lines}</ol>\n"


def _line(line: SheetLine) -> str:
    boxes = "<u></u>" * PASSES
    reference = f"<small>{escape(line.reference)}</small>" if line.reference else ""
    return f"<li><b>{line.number}</b><i>{line.mark}</i>{boxes}{reference}</li>\n"
