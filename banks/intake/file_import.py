"""Bringing a file in: what it would do, to be looked at, and then doing it, all or nothing."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import islice
from pathlib import Path

from msgspec.structs import replace as struct_replace

from banks.importers import detect, marks_reader, outline
from banks.importers.columns import FIELDS, Columns
from banks.importers.common import Finding, Hints, misread, refused_rows, samples
from banks.intake.import_changes import ChangeKind, ImportChanges
from banks.intake.past_marks import PastMarks, past_marks, record_past
from banks.intake.reconcile import reconcile
from banks.library import Library
from domain.errors import InputError
from domain.questions import Bank, Question, free_name, slug
from domain.text import tidy

Progress = Callable[[float], None]


class FileKind(StrEnum):
    """What a file holds."""

    QUESTIONS = "questions"
    MARKS = "marks"
    OUTLINE = "outline"


KIND_FIELDS = {
    FileKind.QUESTIONS: FIELDS,
    FileKind.MARKS: marks_reader.COLUMNS,
    FileKind.OUTLINE: outline.COLUMNS,
}
"""What the columns of each kind of table may hold."""


@dataclass(frozen=True, kw_only=True)
class ImportOptions:
    """What the candidate wants done with a file.

    `bank` is a name, of a bank there is or a new one ("": the only one there is, or one named
    after the file). `edition`: the file is the whole of a new edition of that name, and what is
    not in it is withdrawn. `renumbers`: its questions are others than the bank's, and come after
    them in their chapters. `columns`: field → position, 0-based, or the column's name. `words`:
    what the candidate's own words in marks mean, by `word_key`. `kind` None: found out.
    """

    bank: str = ""
    subject: str = ""
    chapter: str = ""
    edition: str = ""
    renumbers: bool = False
    kind: FileKind | None = None
    columns: Mapping[str, int | str] | None = None
    words: Mapping[str, str] | None = None
    header: bool | None = None
    key_base: int | None = None
    layout: int = 0
    encoding: str = ""


@dataclass(frozen=True, kw_only=True)
class Preview:
    """What an import would do. Nothing is written yet.

    `misread` says why the file was probably not understood. `layouts` are the ways a printed text
    can be read, the chosen one first, `encodings` those that fit its bytes; `samples` are three
    questions as they were understood.
    """

    name: str
    format: str
    encoding: str
    encodings: tuple[str, ...] = ()
    changes: ImportChanges
    base: Bank
    misread: str = ""
    layouts: tuple[str, ...] = ()
    samples: tuple[str, ...] = ()

    @property
    def to_check(self) -> list[Question]:
        """The questions to compare with the print before they are trusted."""
        changed = self.changes.of(*ChangeKind)
        return [change.after for change in changed if change.after and change.after.to_check]

    def is_current(self, banks: dict[str, Bank]) -> bool:
        """Whether the bank is still the one that was looked at."""
        return banks.get(self.base.id, self.base) is self.base

    @property
    def bank(self) -> Bank:
        """The bank as it would be."""
        return self.changes.bank

    @property
    def skipped(self) -> list[Finding]:
        """Lines that can't be imported."""
        return self.changes.skipped

    @property
    def warnings(self) -> list[Finding]:
        """Lines to look at."""
        return self.changes.warnings


def preview_import(
    library: Library,
    banks: dict[str, Bank],
    data: bytes,
    name: str,
    wish: ImportOptions,
    progress: Progress | None = None,
) -> Preview | PastMarks:
    """What importing a file would do, be it questions, a bank's shape, or marks kept elsewhere.

    `banks`: the library's, or what they will be after earlier files. Raises InputError when
    nothing in it is usable, and whatever `progress` raises.
    """
    kind = kind_of(data, name, wish)
    wish = _with_positions(wish, kind, data, name)
    if kind is FileKind.MARKS:
        return preview_marks(library, data, name, wish)
    if kind is FileKind.OUTLINE:
        return preview_outline(banks, data, name, wish)
    return preview_data(banks, data, name, wish, progress)


def kind_of(data: bytes, name: str, wish: ImportOptions) -> FileKind:
    """What the file holds, as the candidate says or as its headers do."""
    if wish.kind:
        return wish.kind
    rows = detect.first_rows(data, name) if data[:2] == b"PK" else None
    if marks_reader.are_marks(data, name, rows):
        return FileKind.MARKS
    return FileKind.OUTLINE if outline.is_outline(data, name, rows) else FileKind.QUESTIONS


def columns_of(data: bytes, name: str, kind: FileKind) -> Columns | None:
    """What the columns of a table hold; None for whatever is no table."""
    if kind is FileKind.MARKS:
        return marks_reader.marks_columns(data, name)
    if kind is FileKind.OUTLINE:
        return outline.outline_columns(data, name)
    return detect.columns(data, name)


def _with_positions(wish: ImportOptions, kind: FileKind, data: bytes, name: str) -> ImportOptions:
    """The options with columns by position. Raises InputError for a column that isn't there."""
    if not wish.columns:
        return wish
    if unknown := [field for field in wish.columns if field not in KIND_FIELDS[kind]]:
        known = ", ".join(field for field in KIND_FIELDS[kind] if not field.startswith("note_"))
        raise InputError(f"{name}: {kind} have no {', '.join(unknown)}; there are: {known}")
    if all(isinstance(column, int) for column in wish.columns.values()):
        return wish
    columns = columns_of(data, name, kind)
    names = [column.strip().casefold() for column in columns.names] if columns else []
    if not (columns and columns.header):
        first = detect.raw_tables(data, Hints(name=name, encoding=wish.encoding), 1)[0].rows
        names = [cell.strip().casefold() for _, cells in first for cell in cells]
    positions: dict[str, int | str] = {}
    for field, column in wish.columns.items():
        if isinstance(column, str) and column.strip().casefold() not in names:
            known = ", ".join(filter(None, names[:20]))
            raise InputError(f"{name}: has no column '{column}' for {field}; there are: {known}")
        at = names.index(column.strip().casefold()) if isinstance(column, str) else column
        positions[field] = at
    return replace(wish, columns=positions, header=True)


def _hints(name: str, wish: ImportOptions, progress: Progress | None = None) -> Hints:
    columns = wish.columns or {}
    return Hints(
        name=name,
        subject=wish.subject,
        chapter=wish.chapter,
        columns={field: at for field, at in columns.items() if isinstance(at, int)},
        header=wish.header,
        key_base=wish.key_base,
        layout=wish.layout,
        encoding=wish.encoding,
        progress=_part(progress, 0.0, 0.7),
    )


def preview_marks(library: Library, data: bytes, name: str, wish: ImportOptions) -> PastMarks:
    """What the marks of a file would add, in the words that the bank's candidate uses."""
    bank = chosen_bank(library.banks, wish.bank, Path(name).stem)
    words = library.settings.import_words.get(bank.id, {}) | dict(wish.words or {})
    marks = marks_reader.parse_marks(data, _hints(name, wish), words, library.today())
    return struct_replace(past_marks(library, bank, marks, words), name=name)


def preview_data(
    banks: dict[str, Bank],
    data: bytes,
    name: str,
    wish: ImportOptions,
    progress: Progress | None = None,
) -> Preview:
    """What importing these bytes into one of these banks would do."""
    hints = _hints(name, wish, progress)
    parsed = detect.parse(data, hints)
    if wish.renumbers:
        parsed.drafts = [struct_replace(draft, number=None) for draft in parsed.drafts]
    bank = chosen_bank(banks, wish.bank, parsed.title or Path(name).stem)
    changes = reconcile(
        bank if not wish.edition else replace(bank, edition=wish.edition),
        parsed,
        subject=wish.subject,
        chapter=wish.chapter,
        whole=bool(wish.edition),
        weights=parsed.weights,
        progress=_part(progress, 0.7, 1.0),
    )
    return Preview(
        name=name,
        format=parsed.format,
        encoding=parsed.encoding,
        encodings=parsed.encodings,
        changes=changes,
        base=bank,
        misread=misread(parsed),
        layouts=parsed.layouts,
        samples=tuple(samples(parsed)),
    )


def preview_outline(
    banks: dict[str, Bank],
    data: bytes,
    name: str,
    wish: ImportOptions,
    options: int | None = None,
) -> Preview:
    """What the shape of a printed bank would add. Raises InputError when no row is usable.

    `options`: how many options a printed question has (None: as the bank has it).
    """
    shape = outline.parse_outline(data, _hints(name, wish))
    bank = chosen_bank(banks, wish.bank, Path(name).stem)
    counted = bank if options is None else replace(bank, option_count=options)
    changes = reconcile(counted, shape.parsed, weights=shape.weights)
    chapters = Counter((draft.subject, draft.chapter) for draft in shape.parsed.drafts)
    reason = refused_rows(len(chapters), len(shape.parsed.skipped))
    return Preview(
        name=name,
        format=shape.parsed.format,
        encoding=shape.parsed.encoding,
        changes=changes,
        base=bank,
        misread=f"probably misread: {reason}" if reason else "",
        samples=tuple(
            f"{' · '.join(titles)}: {count}" for titles, count in islice(chapters.items(), 3)
        ),
    )


def apply_import(library: Library, seen: Sequence[Preview | PastMarks]) -> None:
    """Do what was looked at: each bank is saved once, whole. Raises StoreError if one was not.

    Several previews of one bank must have been made on top of one another; the last one counts.
    """
    previews = [preview for preview in seen if isinstance(preview, Preview)]
    label = (
        f"the import of {', '.join(dict.fromkeys(preview.name for preview in previews)) or 'marks'}"
    )
    with library.one_act(label):
        _apply(library, previews, seen, label)


def _apply(
    library: Library, previews: list[Preview], seen: Sequence[Preview | PastMarks], label: str
) -> None:
    for preview in previews:
        for name, content in preview.changes.figures.items():
            library.store.save_figure(preview.bank.id, name, content)
    for bank_id, last in {preview.bank.id: preview for preview in previews}.items():
        touched = [
            name
            for preview in previews
            if preview.bank.id == bank_id
            for name in preview.changes.touched()
        ]
        library.save_bank(last.bank, touched, label=label)
    for marks in seen:
        if isinstance(marks, PastMarks):
            record_past(library, marks)


def chosen_bank(banks: dict[str, Bank], name: str, new_title: str) -> Bank:
    """The bank of that id or title, or a new one. Raises InputError when it must be named."""
    if not name and len(banks) == 1:
        return next(iter(banks.values()))
    if not name and banks:
        known = ", ".join(banks)
        raise InputError(f"choose the bank to import into with --bank: {known}")
    title = tidy(name or new_title)
    for bank in banks.values():
        if title.casefold() in (bank.id.casefold(), bank.title.casefold()):
            return bank
    return Bank(id=free_name(slug(title), banks), title=title)


def _part(progress: Progress | None, start: float, end: float) -> Progress | None:
    """A progress that moves from start to end of the whole."""
    if progress is None:
        return None
    return lambda share: progress(start + share * (end - start))
