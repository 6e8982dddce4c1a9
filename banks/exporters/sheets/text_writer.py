"""A sheet as plain text and as Markdown."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from banks.exporters.located import escaped
from banks.exporters.sheets.question_sheet import LEGEND, PASSES, Sheet, SheetLine, SheetPart

WIDTH = 78
_LONGEST = 24
"""Characters of a reference; what is longer is shortened."""
_BOXES = "[ ]" * PASSES


def to_text(sheet: Sheet) -> str:
    """Columns of numbers, at most 78 characters wide."""
    intro = [line for text in _intro(sheet) for line in wrap(text, WIDTH)]
    lines = [sheet.title, "=" * min(WIDTH, len(sheet.title)), *intro, ""]
    heading = ""
    for part in sheet.parts:
        if part.heading != heading:
            heading = part.heading
            lines += [heading.upper(), ""]
        lines += [f"{part.chapter} ({len(part.lines)})", *_columns(part.lines), ""]
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
        lines += [f"### {escaped(part.chapter)}", "", *_table(part), ""]
    return "\n".join(lines)


def _intro(sheet: Sheet) -> list[str]:
    return [line for line in (sheet.about, LEGEND, sheet.tiers) if line]


def _columns(lines: Sequence[SheetLine]) -> Iterator[str]:
    """The numbers down the columns, as many columns as the width holds."""
    cells = [_cell(line) for line in lines]
    width = max(map(len, cells)) + 2
    across = max(1, (WIDTH + 2) // width)
    down = -(-len(cells) // across)
    for row in range(down):
        yield "".join(cell.ljust(width) for cell in cells[row::down]).rstrip()


def _cell(line: SheetLine) -> str:
    reference = " ".join(line.reference.split())
    short = reference if len(reference) <= _LONGEST else f"{reference[: _LONGEST - 1]}…"
    return f"{line.number:>5} {line.mark:3} {_BOXES} {short}".rstrip()


def _table(part: SheetPart) -> Iterator[str]:
    passes = " | ".join(str(at) for at in range(1, PASSES + 1))
    yield f"| No. | | {passes} | page |"
    yield "|---:|---|" + ":-:|" * PASSES + "---|"
    for line in part.lines:
        boxes = " | ".join("☐" * PASSES)
        yield f"| {line.number} | {line.mark} | {boxes} | {escaped(line.reference)} |"
