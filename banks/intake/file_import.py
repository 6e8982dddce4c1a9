"""Bringing a file in: what it would do, to be looked at, and then doing it, all or nothing."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from msgspec.structs import replace as struct_replace

from banks.importers import detect
from banks.importers.columns import Columns
from banks.importers.common import Finding, Hints, misread, samples
from banks.importers.marks_reader import are_marks, parse_marks
from banks.importers.outline import is_outline, parse_outline
from banks.intake.import_changes import ChangeKind, ImportChanges
from banks.intake.past_marks import PastMarks, past_marks, record_past
from banks.intake.reconcile import reconcile
from banks.library import Library
from domain.errors import InputError
from domain.questions import Bank, Question, free_name, slug
from domain.text import tidy

Progress = Callable[[float], None]


@dataclass(frozen=True, kw_only=True)
class ImportOptions:
    """What the candidate wants done with a file.

    `bank` is a name, of a bank there is or a new one ("": the only one there is, or one named
    after the file). `edition`: the file is the whole of a new edition of that name, and what is
    not in it is withdrawn. `renumbers`: its questions are others than the bank's, and come after
    them in their chapters.
    """

    bank: str = ""
    subject: str = ""
    chapter: str = ""
    edition: str = ""
    renumbers: bool = False
    columns: dict[str, int] | None = None
    header: bool | None = None
    key_base: int | None = None
    layout: int = 0
    encoding: str = ""


@dataclass(frozen=True, kw_only=True)
class Preview:
    """What an import would do. Nothing is written yet.

    `misread` says why the file was probably not understood. `layouts` are the ways a printed text
    can be read, the chosen one first; `samples` are three questions as they were understood.
    """

    name: str
    format: str
    encoding: str
    changes: ImportChanges
    base: Bank
    misread: str = ""
    layouts: tuple[str, ...] = ()
    samples: tuple[str, ...] = ()

    @property
    def to_check(self) -> list[Question]:
        """The questions to compare with the print before they are trusted."""
        changed = self.changes.of(*ChangeKind)
        return [one.after for one in changed if one.after and one.after.to_check]

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
    if are_marks(data):
        bank = chosen_bank(library.banks, wish.bank, Path(name).stem)
        return past_marks(library, bank, parse_marks(data, Hints(name=name)))
    if is_outline(data):
        return preview_outline(banks, data, name, wish.bank)
    return preview_data(banks, data, name, wish, progress)


def preview_data(
    banks: dict[str, Bank],
    data: bytes,
    name: str,
    wish: ImportOptions,
    progress: Progress | None = None,
) -> Preview:
    """What importing these bytes into one of these banks would do."""
    hints = Hints(
        name=name,
        subject=wish.subject,
        chapter=wish.chapter,
        columns=wish.columns or {},
        header=wish.header,
        key_base=wish.key_base,
        layout=wish.layout,
        encoding=wish.encoding,
        progress=_part(progress, 0.0, 0.7),
    )
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
        changes=changes,
        base=bank,
        misread=misread(parsed),
        layouts=parsed.layouts,
        samples=tuple(samples(parsed)),
    )


def preview_outline(
    banks: dict[str, Bank], data: bytes, name: str, bank_name: str, options: int | None = None
) -> Preview:
    """What the shape of a printed bank would add. Raises InputError when no row is usable.

    `options`: how many options a printed question has (None: as the bank has it).
    """
    outline = parse_outline(data, Hints(name=name))
    bank = chosen_bank(banks, bank_name, Path(name).stem)
    counted = bank if options is None else replace(bank, option_count=options)
    changes = reconcile(counted, outline.parsed, weights=outline.weights)
    return Preview(
        name=name,
        format=outline.parsed.format,
        encoding=outline.parsed.encoding,
        changes=changes,
        base=bank,
    )


def columns_of(data: bytes, name: str) -> Columns | None:
    """What the columns of a table of questions hold; None for whatever else a file may be."""
    is_other = are_marks(data) or is_outline(data)
    return None if is_other else detect.columns(data, name)


def apply_import(library: Library, seen: Sequence[Preview | PastMarks]) -> None:
    """Do what was looked at: each bank is saved once, whole. Raises StoreError if one was not.

    Several previews of one bank must have been made on top of one another; the last one counts.
    """
    previews = [one for one in seen if isinstance(one, Preview)]
    label = f"the import of {', '.join(dict.fromkeys(one.name for one in previews)) or 'marks'}"
    with library.one_act(label):
        _apply(library, previews, seen, label)


def _apply(
    library: Library, previews: list[Preview], seen: Sequence[Preview | PastMarks], label: str
) -> None:
    for one in previews:
        for name, content in one.changes.figures.items():
            library.store.save_figure(one.bank.id, name, content)
    for bank_id, last in {one.bank.id: one for one in previews}.items():
        touched = [
            name for one in previews if one.bank.id == bank_id for name in one.changes.touched()
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
