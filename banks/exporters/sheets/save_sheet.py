"""A sheet as the bytes of a file, by the file's ending."""

from collections.abc import Callable
from pathlib import Path

from banks.exporters.question_rows import encoded
from banks.exporters.save_file import write_file
from banks.exporters.sheets.question_sheet import A4, PageSize, Sheet
from banks.exporters.sheets.text_writer import to_html, to_markdown, to_text
from domain.errors import UsageError

ENDINGS = (".txt", ".md", ".html", ".pdf")


def to_bytes(sheet: Sheet, ending: str, paper: PageSize = A4) -> bytes:
    """The sheet as a file with this ending. Raises UsageError for one that is not in ENDINGS."""
    if ending == ".pdf":
        from banks.exporters.sheets.pdf_writer import to_pdf

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
