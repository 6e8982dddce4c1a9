"""`mark`: paper work into the log."""

from argparse import ArgumentParser, Namespace
from math import inf
from typing import TYPE_CHECKING

from msgspec.structs import replace

from domain.errors import InputError, UsageError
from domain.responses import Purpose
from tui.commands.frame import Command, Context, day_option, json_option, place_options

if TYPE_CHECKING:
    from datetime import date

    from banks.contents import Location
    from banks.library import Given, Library, Outcome
    from domain.responses import Response

_MARKS = {
    "wrong": "answered wrong",
    "sure-wrong": "wrong though you were sure",
    "unsure": "right but unsure",
    "blank": "left blank",
    "right": "answered right",
    "mixed-up": "options mixed up: right but unsure, or beside --wrong",
    "unknown": "didn't know: left blank, or beside --wrong",
}


def purpose_named(word: str) -> Purpose:
    """The purpose meant by its first word or all of it. Raises UsageError."""
    for purpose in Purpose:
        if word.lower() in (purpose.value, purpose.name.lower(), purpose.value.split()[0]):
            return purpose
    known = ", ".join(purpose.name.lower() for purpose in Purpose)
    raise UsageError(f"--purpose {word!r}: not a purpose; choose from {known}")


def _options(parser: ArgumentParser) -> None:
    place_options(parser, needed=True)
    for mark, words in _MARKS.items():
        parser.add_argument(f"--{mark}", default="", metavar="N,…", help=f'{words}: "3,7,12-15"')
    parser.add_argument("--rest", choices=["right"], help="all questions not listed are right")
    parser.add_argument(
        "--responses",
        metavar="TEXT",
        help="letters you chose; a capital means unsure, a space means blank",
    )
    parser.add_argument(
        "--from", type=int, dest="first", metavar="N", help="number of the first letter"
    )
    parser.add_argument(
        "--purpose",
        metavar="P",
        help="revision, study, sweep, pass, paper, free (default: that of the day's line)",
    )
    parser.add_argument(
        "--seconds",
        type=float,
        default=0.0,
        metavar="S",
        help="seconds it all took, shared equally by the questions marked",
    )
    parser.add_argument(
        "--date", type=day_option, metavar="D", help="day on which it was done (default: today)"
    )
    parser.add_argument(
        "--correct", action="store_true", help="replace that day's earlier marks of these questions"
    )
    json_option(parser)


def _mark(context: Context, arguments: Namespace) -> int:
    from banks.lookup import find_place
    from banks.sittings.printed_sitting import usual_purpose

    purpose = purpose_named(arguments.purpose) if arguments.purpose else None
    _check_together(arguments)
    library = context.library()
    location = find_place(library, arguments.bank, arguments.subject, arguments.chapter)
    given = _given(location, arguments)
    if given and arguments.seconds:
        each = arguments.seconds / len(given)
        given = [replace(answered, seconds=each) for answered in given]
    if purpose is None:
        day = arguments.date or library.today()
        purpose = usual_purpose(library, [answered.question for answered in given], day)
    earlier = _marked_that_day(library, given, arguments.date)
    outcomes = library.record(
        given, purpose, day=arguments.date, replacing=earlier if arguments.correct else ()
    )
    if earlier and not arguments.correct:
        count = len({response.question for response in earlier})
        context.warn(
            f"{count} of these were already marked that day; both count (--correct replaces)"
        )
    _say(context, location, outcomes, as_json=arguments.json)
    return 0


def _check_together(arguments: Namespace) -> None:
    """Which options go together. Raises UsageError."""
    if not 0 <= arguments.seconds < inf:
        raise UsageError(f"--seconds {arguments.seconds:g}: expected the seconds it took")
    by_hand = [mark for mark in _MARKS if _listed(arguments, mark)]
    if arguments.responses is None:
        if not by_hand and not arguments.rest:
            raise UsageError("nothing to mark: use --wrong, --rest right or --responses")
        if arguments.first is not None:
            raise UsageError("--from needs --responses")
    elif arguments.rest or by_hand not in ([], ["unsure"]):
        raise UsageError("--responses cannot be combined with other marks than --unsure")


def _listed(arguments: Namespace, mark: str) -> str:
    return str(getattr(arguments, mark.replace("-", "_")))


def _given(location: "Location", arguments: Namespace) -> "list[Given]":
    from banks.lookup import by_number
    from banks.sittings.typed_marks import from_letters, from_numbers, listed

    questions = by_number(location.bank, location.chapter)
    if not questions:
        raise InputError(f"{location.chapter.title}: has no questions; nothing was recorded")
    if arguments.responses is None:
        marks = {mark: _listed(arguments, mark) for mark in _MARKS}
        return from_numbers(questions, marks, arguments.rest)
    unsure = listed(questions, arguments.unsure, "unsure")
    first = min(questions) if arguments.first is None else arguments.first
    if first not in questions:
        raise InputError(f"--from {first}: there is no such question; nothing was recorded")
    return from_letters(
        questions, arguments.responses, location.bank.option_count, first=first, unsure=unsure
    )


def _marked_that_day(
    library: "Library", given: "list[Given]", day: "date | None"
) -> "list[Response]":
    names = [answered.question for answered in given]
    return library.responses_on(names, day or library.today())


def _say(
    context: Context, location: "Location", outcomes: "list[Outcome]", *, as_json: bool
) -> None:
    from collections import Counter

    tally = Counter(outcome.verdict.value for outcome in outcomes)
    climbed = sum(outcome.after.tier > max(outcome.before.tier, 0) for outcome in outcomes)
    if as_json:
        context.json({"recorded": len(outcomes), "verdicts": tally, "promoted": climbed})
        return
    parts = ", ".join(f"{count} {word}" for word, count in tally.items())
    context.say(f"{location.subject.title} · {location.chapter.title}: {parts}; {climbed} promoted")


COMMANDS = [Command("mark", "Record work done on paper.", _options, _mark)]
