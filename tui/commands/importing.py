"""`import`, `outline`, `key`: questions and keys from files and text into a bank."""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from domain.errors import InputError, UsageError
from domain.text import counted
from tui.commands.frame import Command, Context, json_option, place_options

if TYPE_CHECKING:
    from banks.importers.common import Finding
    from banks.intake.file_import import ImportOptions, Preview
    from banks.intake.past_marks import PastMarks
    from banks.library import Library

_SHOWN = 20


def _import_options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "files",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="file to import; the format is detected; - reads standard input",
    )
    parser.add_argument("--bank", default="", metavar="NAME", help="existing or new bank")
    parser.add_argument(
        "--subject", default="", metavar="S", help="used when the file does not say"
    )
    parser.add_argument(
        "--chapter", default="", metavar="C", help="used when the file does not say"
    )
    parser.add_argument(
        "--edition",
        default="",
        metavar="NAME",
        help="the file is a complete new edition: questions missing from it are retired",
    )
    parser.add_argument(
        "--columns",
        default="",
        metavar="F=C,…",
        help="what each column holds, by number, header or path of a member: "
        '"stem=1,a=2,b=3,key=Solution"',
    )
    parser.add_argument(
        "--kind",
        choices=["questions", "marks", "outline"],
        help="what it holds (default: detected)",
    )
    parser.add_argument(
        "--words",
        default="",
        metavar="W=M,…",
        help='what your own words in marks mean: "OK=right,?=right unsure,hm=wrong mixed up"; '
        "remembered for the bank",
    )
    parser.add_argument(
        "--dates", choices=["day-first", "month-first"], help="the order in dates like 03/04/2027"
    )
    parser.add_argument(
        "--key-from", type=int, choices=[0, 1], help="numeric answer keys count from 0 or from 1"
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="show what would happen; write nothing"
    )
    parser.add_argument(
        "--encoding", default="", metavar="E", help="text encoding (default: detected)"
    )
    parser.add_argument(
        "--layout", type=int, default=1, metavar="N", help="read a printed text another way: 2, 3 …"
    )
    parser.add_argument(
        "--renumber",
        action="store_true",
        help="the file holds other questions: number them after those in the bank",
    )
    parser.add_argument(
        "--force",
        action="store_true",
        help="import even if probably misread, or if most texts of a chapter are replaced",
    )
    json_option(parser)


def _import(context: Context, arguments: Namespace) -> int:
    wish = _wish(arguments)
    library = context.library(read_only=arguments.dry_run)
    files = [(path, _bytes(path)) for path in arguments.files]
    previews, replanned = _bring(
        library, files, wish, dry_run=arguments.dry_run, force=arguments.force
    )
    is_held = any(map(_doubts, previews)) and not arguments.force
    status = 1 if is_held or any(preview.skipped for preview in previews) else 0
    if arguments.json:
        documents = [_document(preview) for preview in previews]
        context.json(documents[0] if len(documents) == 1 else documents)
        return status
    for preview in previews:
        _say(context, preview, dry_run=arguments.dry_run or is_held)
        _say_doubts(context, preview)
    if replanned:
        context.say(replanned)
    if is_held and any(preview.misread for preview in previews):
        context.warn("nothing was written; use --force to import it all the same")
    elif is_held:
        context.warn(
            "nothing was written; --force retires the old texts with their history, --renumber "
            "adds the file's questions after them"
        )
    return status


def _doubts(preview: "Preview | PastMarks") -> list[str]:
    """Why the file isn't imported without being told to."""
    from banks.intake.file_import import Preview

    doubts = [f"{preview.name}: {preview.misread}."] if preview.misread else []
    if not isinstance(preview, Preview):
        return doubts
    return doubts + [
        f"{chapter.title}: {counted(chapter.replaced, 'question')} have different text in the bank."
        for chapter in preview.changes.replaced
    ]


def _say_doubts(context: Context, preview: "Preview | PastMarks") -> None:
    for doubt in _doubts(preview):
        context.say(doubt)
    if preview.misread:
        for sample in preview.samples:
            context.say(f"  {sample}")


def _bytes(path: Path) -> bytes:
    """A file's bytes; those of standard input for `-`."""
    from banks.importers import detect

    if str(path) == "-":
        return detect.read_stream(sys.stdin.buffer, "standard input")
    return detect.read_bytes(path)


def _bring(
    library: "Library",
    files: "list[tuple[Path, bytes]]",
    wish: "ImportOptions",
    *,
    dry_run: bool,
    force: bool,
) -> "tuple[list[Preview | PastMarks], str]":
    """Look at all files before anything is written; then write all of it, unless there are doubts
    and nothing forces it. Gives what was seen, and how that changed the plan in words.
    """
    from banks.intake.file_import import Preview, apply_import, preview_import
    from banks.views.plan import changed_by
    from tui.plan_words import replanned_words

    banks = dict(library.banks)
    seen: list[Preview | PastMarks] = []
    for path, data in files:
        preview = preview_import(library, banks, data, path.name, wish)
        if isinstance(preview, Preview):
            banks[preview.bank.id] = preview.bank
        seen.append(preview)
    replanned = ""
    if not dry_run and (force or not any(map(_doubts, seen))):
        replanned = replanned_words(changed_by(library, lambda: apply_import(library, seen)))
        replanned = replanned or " ".join(_offers_to_count(library, seen))
    return seen, replanned


def _offers_to_count(library: "Library", seen: "list[Preview | PastMarks]") -> Iterator[str]:
    """Of each bank with new questions that is not planned, how it would be."""
    from banks.intake.file_import import Preview
    from banks.planning.workload import banks_that_count
    from banks.views.plan import effect_of_counting
    from tui.plan_words import counting_words

    counting = banks_that_count(library)
    previews = [preview for preview in seen if isinstance(preview, Preview)]
    grown = {p.bank.id: p.bank.title for p in previews if p.changes.counts()["added"]}
    for bank, title in grown.items():
        if bank not in counting and (change := effect_of_counting(library, bank)):
            how = f"`resieve bank --take-up {bank}` takes it up"
            yield counting_words(title, change, counts=False, how=how)


def _wish(arguments: Namespace) -> "ImportOptions":
    from banks.intake.file_import import FileKind, ImportOptions

    return ImportOptions(
        bank=arguments.bank,
        subject=arguments.subject,
        chapter=arguments.chapter,
        edition=arguments.edition,
        renumbers=arguments.renumber,
        kind=FileKind(arguments.kind) if arguments.kind else None,
        columns=_columns(arguments.columns),
        words=_words(arguments.words, arguments.dates),
        key_base=arguments.key_from,
        layout=max(arguments.layout - 1, 0),
        encoding=arguments.encoding,
    )


def _columns(text: str) -> dict[str, int | str] | None:
    """ "stem=1,key=Solution" → field and 0-based position or name. Raises UsageError."""
    from banks.intake.file_import import KIND_FIELDS

    known = {field for fields in KIND_FIELDS.values() for field in fields}
    columns: dict[str, int | str] = {}
    for part in filter(str.strip, text.split(",")):
        field, _, column = (piece.strip() for piece in part.partition("="))
        if field not in known or not column or column == "0":
            names = ", ".join(sorted(name for name in known if not name.startswith("note_")))
            problem = f"--columns {part.strip()!r}: not FIELD=COLUMN, as stem=1 or key=Solution"
            raise UsageError(f"{problem}, with a field of: {names}")
        columns[field] = int(column) - 1 if column.isdecimal() else column
    return columns or None


def _words(text: str, dates: str | None) -> dict[str, str]:
    """ "OK=right" → what a word means, whichever column it stands in. Raises UsageError."""
    from banks.importers.marks_reader import known_meaning, meaning_fields, word_key

    meanings = {"date": dates.replace("-", " ")} if dates else {}
    for part in filter(str.strip, text.split(",")):
        word, _, meaning = (piece.strip() for piece in part.rpartition("="))
        try:
            ours = known_meaning(meaning)
        except InputError as problem:
            raise UsageError(f"--words {part.strip()!r}: {problem}") from None
        meanings |= {word_key(field, word): ours for field in meaning_fields(ours)}
    return meanings


def _document(preview: "Preview | PastMarks") -> dict[str, Any]:
    from banks.intake.file_import import Preview

    if isinstance(preview, Preview):
        head: dict[str, Any] = {"bank": preview.bank.id, "format": preview.format}
        head |= {"encoding": preview.encoding}
        counts = preview.changes.counts()
        head |= {"to_check": len(preview.to_check)} if preview.to_check else {}
    else:
        head = {"bank": preview.bank, "format": "marks", "encoding": preview.encoding}
        counts = {"added": preview.added, "updated": 0, "unchanged": preview.known, "retired": 0}
        head |= {"unknown": preview.unknown} if preview.unknown else {}
    head |= {"misread": preview.misread} if preview.misread else {}
    findings = {"skipped": preview.skipped, "warnings": preview.warnings}
    return head | counts | findings


def _title(preview: "Preview | PastMarks") -> str:
    return preview.bank if isinstance(preview.bank, str) else preview.bank.title


def _say(context: Context, preview: "Preview | PastMarks", *, dry_run: bool) -> None:
    from banks.intake.file_import import Preview

    document = _document(preview)
    counts = ", ".join(
        f"{document[name]:,} {name}" for name in ("added", "updated", "unchanged", "retired")
    )
    if dry_run:
        context.say(
            f"Dry run, nothing written: {counts} in {_title(preview)} ({document['format']})."
        )
    else:
        context.say(f"Imported into {_title(preview)} ({document['format']}): {counts}.")
    if isinstance(preview, Preview) and preview.layouts:
        context.say(f"Layout: {preview.layouts[0]}.")
    if isinstance(preview, Preview) and preview.to_check:
        numbers = ", ".join(
            question.code or str(question.number) for question in preview.to_check[:_SHOWN]
        )
        context.say(f"Check against the book: {len(preview.to_check):,} ({numbers})")
    _say_changes(context, preview)
    _say_unknown(context, preview)
    _say_findings(context, "Not imported", preview.skipped)
    _say_findings(context, "Warnings", preview.warnings)


def _say_changes(context: Context, preview: "Preview | PastMarks") -> None:
    from banks.intake.file_import import Preview
    from banks.intake.import_changes import ChangeKind

    if not isinstance(preview, Preview):
        return
    for what in (
        ChangeKind.KEY_CHANGED,
        ChangeKind.MOVED,
        ChangeKind.RETIRED,
        ChangeKind.WITHDRAWN,
    ):
        numbers = [
            str(change.before.number) for change in preview.changes.of(what) if change.before
        ]
        if numbers:
            more = f" and {len(numbers) - _SHOWN} more" if len(numbers) > _SHOWN else ""
            context.say(f"  {what}: {', '.join(numbers[:_SHOWN])}{more}")


def _say_unknown(context: Context, preview: "Preview | PastMarks") -> None:
    from banks.intake.file_import import Preview

    for field, words in {} if isinstance(preview, Preview) else preview.unknown.items():
        shown = ", ".join(f"{word} ({count:,})" for word, count in words.most_common(_SHOWN))
        remedy = "--dates" if field == "date" else '--words "WORD=right unsure,…"'
        context.say(f"Not understood as {field}: {shown}; say what is meant with {remedy}")


def _say_findings(context: Context, heading: str, findings: "list[Finding]") -> None:
    if not findings:
        return
    context.say(f"{heading}: {len(findings):,}")
    for finding in findings[:_SHOWN]:
        where = f"line {finding.line}: " if finding.line else ""
        context.say(f"  {where}{finding.reason}")
    if len(findings) > _SHOWN:
        context.say(f"  … and {len(findings) - _SHOWN:,} more (all of them with --json)")


def _outline_options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "file", type=Path, metavar="FILE", help="subject,chapter,questions[,weight]"
    )
    parser.add_argument("--bank", required=True, metavar="NAME", help="name of the bank")
    parser.add_argument(
        "--options",
        type=int,
        choices=range(2, 9),
        metavar="N",
        help="options per printed question, 2 to 8 (default: 4)",
    )
    json_option(parser)


def _outline(context: Context, arguments: Namespace) -> int:
    from banks.importers import detect
    from banks.intake.file_import import ImportOptions, apply_import, preview_outline
    from banks.views.plan import changed_by
    from tui.plan_words import replanned_words

    library = context.library()
    data = detect.read_bytes(arguments.file)
    wish = ImportOptions(bank=arguments.bank)
    preview = preview_outline(library.banks, data, arguments.file.name, wish, arguments.options)
    change = changed_by(library, lambda: apply_import(library, [preview]))
    if arguments.json:
        context.json(_document(preview) | _shape(preview))
        return 0
    shape = _shape(preview)
    context.say(
        f"{preview.bank.title}: {shape['subjects']} subjects, {shape['chapters']} chapters, "
        f"{shape['questions']:,} questions."
    )
    _say(context, preview, dry_run=False)
    if change:
        context.say(replanned_words(change))
    return 0


def _shape(preview: "Preview") -> dict[str, int]:
    bank = preview.bank
    active = bank.index.active_count
    chapters = sum(len(subject.chapters) for subject in bank.subjects)
    return {"subjects": len(bank.subjects), "chapters": chapters, "questions": active}


def _key_options(parser: ArgumentParser) -> None:
    place_options(parser, needed=True)
    parser.add_argument(
        "text",
        nargs="+",
        metavar="TEXT",
        help='answer key as printed: "1 b 2 c", "bca dcb" (spaces group); - reads standard input',
    )
    parser.add_argument(
        "--from", type=int, default=1, dest="first", metavar="N", help="number of the first letter"
    )
    json_option(parser)


def _key(context: Context, arguments: Namespace) -> int:
    from banks.intake.keying import key_in
    from banks.lookup import find_place

    library = context.library()
    location = find_place(library, arguments.bank, arguments.subject, arguments.chapter)
    text = sys.stdin.read() if arguments.text == ["-"] else " ".join(arguments.text)
    keyed = key_in(location, text, arguments.first)
    if not keyed.counts()["total"]:
        reasons = "; ".join(problem.reason for problem in keyed.problems[:3])
        raise InputError(f'no answer key found ({reasons}); expected, for example, "1 b 2 c 3 a"')
    library.save_bank(keyed.bank, [*keyed.new, *keyed.changed], label="the answer key")
    if arguments.json:
        context.json(
            {
                "bank": location.bank.id,
                "chapter": location.chapter.title,
                **keyed.counts(),
                "problems": keyed.problems,
            }
        )
    else:
        counts = keyed.counts()
        context.say(
            f"{location.chapter.title}: {counted(counts['new'], 'key')} new, {counts['changed']} "
            f"changed, {counts['unchanged']} as before; {counts['without']} without a key."
        )
    for problem in () if arguments.json else keyed.problems:
        context.warn(problem.reason)
    return 1 if keyed.problems else 0


COMMANDS = [
    Command("import", "Import questions, marks or outlines from files.", _import_options, _import),
    Command(
        "outline",
        "Describe a printed bank: chapters and their question counts.",
        _outline_options,
        _outline,
    ),
    Command("key", "Enter a chapter's answer key.", _key_options, _key),
]
