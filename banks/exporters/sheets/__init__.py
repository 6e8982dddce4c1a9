"""Sheets to print: the numbers to look up, by subject and chapter, with boxes for three passes."""

from banks.exporters.sheets.question_sheet import Order, Sheet, SheetLine, SheetPart, sheet_of
from banks.exporters.sheets.sheet_writers import ENDINGS, to_bytes, write_sheet

__all__ = [
    "ENDINGS",
    "Order",
    "Sheet",
    "SheetLine",
    "SheetPart",
    "sheet_of",
    "to_bytes",
    "write_sheet",
]
