"""Sheets to print: the numbers to look up, by subject and chapter, with boxes for three passes."""

from banks.exporters.sheets.sheet import Line, Order, Part, Sheet, sheet_of
from banks.exporters.sheets.writing import ENDINGS, to_bytes, write_sheet

__all__ = ["ENDINGS", "Line", "Order", "Part", "Sheet", "sheet_of", "to_bytes", "write_sheet"]
