"""`export`: questions, marks and disputed keys out of the store, in a file of the candidate's."""

from argparse import ArgumentParser, Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from domain.errors import InputError, UsageError
from domain.text import counted
from tui.commands.frame import Command, Context, json_option

if TYPE_CHECKING:
    from banks.exporters.disputes import Disputed
    from banks.exporters.question_rows import Histories
    from banks.library import Library
    from domain.questions import Bank

FORMATS = {
    "csv": ".csv",
    "json": ".json",
    "jsonl": ".jsonl",
    "xlsx": ".xlsx",
    "md": ".md",
    "qti-2.2": ".zip",
    "qti-3.0": ".zip",
}
"""Format → the ending of its files; the first format with an ending is the one it means."""

_PARTS = ("marks", "disputes", "notes", "diary", "handover")
"""Options for a part of what there is, each with formats of its own."""
_NO_HISTORY = ("qti-2.2", "qti-3.0")


def _options(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="file to write; - writes standard output")
    parser.add_argument(
        "--format", choices=FORMATS, help="default: by the file's ending; .zip is qti-2.2"
    )
    parser.add_argument("--bank", metavar="B", help="bank; may be omitted if there is only one")
    parser.add_argument(
        "--subject",
        action="append",
        default=[],
        metavar="S",
        help="only this subject; may be repeated",
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument(
        "--history", action="store_true", help="include the history, with tier and signs"
    )
    what.add_argument("--marks", action="store_true", help="only the responses, as CSV")
    what.add_argument(
        "--disputes", action="store_true", help="only the disputed answer keys, as CSV or Markdown"
    )
    what.add_argument("--notes", action="store_true", help="only your notes, as CSV")
    what.add_argument(
        "--diary",
        action="store_true",
        help="questions, missed, settled and minutes of each study day, over all banks, as CSV",
    )
    what.add_argument(
        "--handover",
        action="store_true",
        help="for whoever comes after you, as JSON: the bank, disputed keys and what came;"
        " nothing of your history",
    )
    parser.add_argument("--force", action="store_true", help="overwrite an existing file")
    json_option(parser)


def _export(context: Context, arguments: Namespace) -> int:
    from banks.lookup import find_bank, find_subject

    if arguments.json and arguments.file == "-":
        raise UsageError("--json and - can't both have standard output")
    chosen = _format(arguments)
    path = Path(arguments.file)
    if arguments.file != "-" and path.exists() and not arguments.force:
        raise InputError(f"{path}: already exists; use --force to overwrite")
    library = context.library(read_only=True)
    if arguments.diary:
        bank, (content, count), things = None, _diary(library), "study days"
    else:
        bank = find_bank(library, arguments.bank)
        subjects = [find_subject(bank, name).id for name in arguments.subject]
        content, count, things = _content(library, bank, subjects, chosen, arguments)
    if arguments.file == "-":
        context.binary(content)
        return 0
    from banks.exporters.question_rows import write_file

    write_file(path, content)
    context.may_write = True
    if arguments.json:
        of_bank = {"bank": bank.id} if bank else {}
        context.json({"file": str(path), "format": chosen, **of_bank, things: count})
    else:
        written = counted(count, things.removesuffix("s"))
        whose = bank.title if bank else "all banks"
        context.say(f"{path}: {written} of {whose} written as {chosen}")
    return 0


def _format(arguments: Namespace) -> str:
    ending = Path(arguments.file).suffix.lower()
    by_ending = next((name for name, known in FORMATS.items() if known == ending), None)
    chosen = arguments.format or by_ending
    if arguments.diary and (arguments.bank or arguments.subject):
        raise UsageError("the diary is one over all banks; leave --bank and --subject out")
    if any(getattr(arguments, part) for part in _PARTS):
        fitting = ("csv", "md") if arguments.disputes else ("csv",)
        fitting = ("json",) if arguments.handover else fitting
        chosen = chosen or fitting[0]
        if chosen not in fitting:
            raise UsageError(f"this can be written as {' or '.join(fitting)}, not as {chosen}")
    if chosen is None:
        raise UsageError(f"{arguments.file}: choose the format with --format {', '.join(FORMATS)}")
    if arguments.history and chosen in _NO_HISTORY:
        raise UsageError(f"{chosen} cannot hold a history; csv, json, jsonl, xlsx and md can")
    return chosen


def _content(
    library: "Library", bank: "Bank", subjects: list[str], chosen: str, arguments: Namespace
) -> tuple[bytes, int, str]:
    """The file's bytes, and how many of what they hold."""
    from banks.exporters.question_rows import book_order

    histories: Histories = {}
    if arguments.marks or arguments.history:
        from banks.views.headings import marked_histories

        histories = marked_histories(library, bank)
    if arguments.marks:
        from banks.exporters.bank_writers import to_marks

        placed = [each.question.id for each in book_order(bank, subjects)]
        content = to_marks(bank, histories, subjects)
        return content, sum(len(histories[each].marks) for each in placed), "marks"
    if arguments.notes:
        from banks.exporters.disputes import notes_to_csv
        from banks.views.headings import notes

        return *notes_to_csv(bank, notes(library), subjects), "notes"
    if arguments.handover:
        return _handover(library, bank), sum(1 for _ in book_order(bank, subjects)), "questions"
    if arguments.disputes:
        from banks.exporters import disputes

        disputed = _disputed(library, bank, subjects)
        as_page = chosen == "md"
        content = (
            disputes.to_markdown(disputed, bank.title) if as_page else disputes.to_csv(disputed)
        )
        return content, len(disputed), "disputes"
    content = _questions(library, bank, subjects, chosen, histories)
    return content, sum(1 for _ in book_order(bank, subjects)), "questions"


def _diary(library: "Library") -> tuple[bytes, int]:
    """The diary as CSV, the oldest day first, and its days."""
    from banks.exporters.bank_writers import csv_bytes
    from banks.views.evidence_log import evidence_log
    from banks.views.progress import DiaryDay, diary

    days = diary(evidence_log(library))[::-1]
    columns = DiaryDay.__struct_fields__
    rows = ([str(getattr(day, column)) for column in columns] for day in days)
    return csv_bytes([columns, *rows]), len(days)


def _handover(library: "Library", bank: "Bank") -> bytes:
    from banks.exporters.bank_writers import to_handover
    from banks.exporters.disputes import in_words
    from banks.views.exam import exam_topics

    try:
        disputes = [in_words(dispute) for dispute in _disputed(library, bank)]
    except InputError:  # none
        disputes = []
    return to_handover(bank, disputes, exam_topics(library))


def _disputed(library: "Library", bank: "Bank", subjects: Sequence[str] = ()) -> "list[Disputed]":
    from banks.exporters.disputes import disputed

    return disputed(bank, library.history, subjects)


def _questions(
    library: "Library", bank: "Bank", subjects: list[str], chosen: str, histories: "Histories"
) -> bytes:
    if chosen.startswith("qti"):
        from banks.exporters.qti_writer import VERSION_2_2, VERSION_3_0, to_package

        version = VERSION_3_0 if chosen == "qti-3.0" else VERSION_2_2
        return to_package(bank, version, _figures(library, bank), subjects)
    from banks.exporters.bank_writers import WRITERS

    return WRITERS[chosen](bank, histories, subjects)


def _figures(library: "Library", bank: "Bank") -> dict[str, bytes]:
    """The pictures that are there, by name."""
    names = {figure.file for question in bank.questions.values() for figure in question.figures}
    paths = {name: library.figure_path(bank.id, name) for name in sorted(names)}
    return {name: path.read_bytes() for name, path in paths.items() if path.is_file()}


COMMANDS = [Command("export", "Write questions, marks or disputes to a file.", _options, _export)]
