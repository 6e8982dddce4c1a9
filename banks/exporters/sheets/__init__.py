"""Sheets to print: the numbers to look up, by subject and chapter, with boxes for three passes."""
