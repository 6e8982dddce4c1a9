"""The commands that keep a store safe: check, backup, restore, merge."""

from argparse import ArgumentParser, Namespace
from pathlib import Path

from domain.text import counted
from tui.commands.frame import Command, Context, json_option


def _check(context: Context, arguments: Namespace) -> int:
    from banks.maintenance.check import check

    if arguments.restore_missing:
        _restore_missing(context, arguments)
    report = check(context.folder, context.clock()())
    if arguments.json:
        context.json({"well": report.is_well, "report": report})
        return 0 if report.is_well else 1
    for finding in report.findings:
        mark = "wrong" if finding.wrong else "note "
        context.say(f"{mark}  {finding.file}: {finding.problem}")
        context.say(f"       → {finding.remedy}")
    wrong = sum(finding.wrong for finding in report.findings)
    context.say(
        f"{context.folder}: {counted(report.banks, 'bank')}, "
        f"{counted(report.questions, 'question')}, "
        f"{counted(report.records, 'record')}; "
        f"newest daily backup: {report.newest_backup or 'none'}; "
        + (f"{wrong} wrong" if wrong else "no problems found")
    )
    return 0 if report.is_well else 1


def _check_options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--restore-missing",
        action="store_true",
        help="first restore records missing from the log but present in a daily backup",
    )
    json_option(parser)


def _restore_missing(context: Context, arguments: Namespace) -> None:
    from banks.maintenance.check import restore_missing

    records = restore_missing(context.store())
    context.closing.close()  # the check reads what is on disk
    if not arguments.json:
        context.say(f"{counted(records, 'record')} restored")


def _backup_options(parser: ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="archive to write")


def _backup(context: Context, arguments: Namespace) -> int:
    from banks.maintenance.backup import members, write_backup
    from banks.store.filesystem import System
    from domain.errors import InputError

    if not (context.folder / "store.json").exists():
        raise InputError(f"{context.folder}: holds no store to back up")
    if arguments.file.exists():
        raise InputError(f"{arguments.file}: already exists; nothing was overwritten")
    context.may_write = True
    write_backup(context.folder, arguments.file, System())
    context.say(f"{arguments.file}: {counted(len(members(context.folder)), 'file')} copied")
    return 0


def _restore_options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "file", type=Path, metavar="FILE", help="archive written by `resieve backup`"
    )


def _restore(context: Context, arguments: Namespace) -> int:
    from banks.maintenance.backup import restore

    context.may_write = True
    aside = restore(context.folder, arguments.file)
    context.say(f"{context.folder}: restored from {arguments.file}; what was there is in {aside}")
    return 0


def _merge_options(parser: ArgumentParser) -> None:
    parser.add_argument("other", type=Path, metavar="STORE", help="folder of the other store")
    json_option(parser)


def _merge(context: Context, arguments: Namespace) -> int:
    from banks.maintenance.merge import merge

    merged = merge(context.store(), arguments.other)
    if arguments.json:
        context.json(merged)
        return 0
    for line in (*merged.conflicts, *merged.notices):
        context.say(line)
    context.say(
        f"{counted(merged.records, 'record')} and {counted(merged.questions, 'question')} came in; "
        f"on {counted(len(merged.conflicts), 'question')} the stores differ"
    )
    return 0


COMMANDS = [
    Command(
        "check", "Check the store; report what is wrong and how to fix it.", _check_options, _check
    ),
    Command("backup", "Back up the whole store to one file.", _backup_options, _backup),
    Command("restore", "Restore the store from a backup.", _restore_options, _restore),
    Command("merge", "Merge another machine's store into this one.", _merge_options, _merge),
]
