"""`mark`: paper work into the log."""

from argparse import ArgumentParser, Namespace
from datetime import date

from domain.errors import UsageError
from domain.responses import Purpose
from tui.commands.frame import Command, Context, json_option, place_options

_MARKS = ("wrong", "unsure", "blank", "right")


def purpose_named(word: str) -> Purpose:
    """The purpose meant by its first word or all of it. Raises UsageError."""
    for purpose in Purpose:
        if word.lower() in (purpose.value, purpose.name.lower(), purpose.value.split()[0]):
            return purpose
    known = ", ".join(purpose.name.lower() for purpose in Purpose)
    raise UsageError(f"--purpose {word!r}: not a purpose; there are {known}")


def _options(parser: ArgumentParser) -> None:
    place_options(parser, needed=True)
    for mark in _MARKS:
        parser.add_argument(f"--{mark}", default="", metavar="N,…", help=f'{mark}: "3,7,12-15"')
    parser.add_argument("--rest", choices=["right"], help="all questions not named are right")
    parser.add_argument("--responses", metavar="TEXT", help="letters as chosen, small: unsure")
    parser.add_argument("--from", type=int, default=1, dest="first", metavar="N")
    parser.add_argument(
        "--purpose", default="revision", metavar="P", help="revision, study, sweep…"
    )
    parser.add_argument("--date", type=date.fromisoformat, metavar="D", help="the day it was done")
    json_option(parser)


def _mark(context: Context, arguments: Namespace) -> int:
    from collections import Counter

    from banks.lookup import by_number, find_place
    from banks.marks import from_letters, from_numbers, numbers

    purpose = purpose_named(arguments.purpose)
    marks = {mark: getattr(arguments, mark) for mark in _MARKS}
    if arguments.responses is None and not any(marks.values()) and not arguments.rest:
        raise UsageError("say what to mark: --wrong, --rest right or --responses")
    if arguments.responses is not None and (_graded_by_hand(marks) or arguments.rest):
        raise UsageError("--responses goes without --wrong, --blank, --right and --rest")
    library = context.library()
    try:
        place = find_place(library, arguments.bank, arguments.subject, arguments.chapter)
        questions = by_number(place.bank, place.chapter)
        if arguments.responses is None:
            given = from_numbers(questions, marks, arguments.rest)
        else:
            unsure = numbers(arguments.unsure, questions, "--unsure")
            given = from_letters(
                questions, arguments.responses, arguments.first, place.bank.option_count, unsure
            )
        outcomes = library.record(given, purpose, day=arguments.date)
        tally = Counter(outcome.verdict.value for outcome in outcomes)
        climbed = sum(outcome.after.tier > max(outcome.before.tier, 0) for outcome in outcomes)
    finally:
        library.close()
    if arguments.json:
        context.json({"recorded": len(outcomes), "verdicts": tally, "promoted": climbed})
    else:
        parts = ", ".join(f"{count} {word}" for word, count in tally.items())
        context.say(f"{place.subject.title} · {place.chapter.title}: {parts}; {climbed} promoted")
    return 0


def _graded_by_hand(marks: dict[str, str]) -> bool:
    return any(numbers for mark, numbers in marks.items() if mark != "unsure")


COMMANDS = [Command("mark", "Put paper work into the log.", _options, _mark)]
