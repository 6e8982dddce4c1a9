"""`bank` and `first-study`: which banks count, and what of them was studied already."""

from argparse import ArgumentParser, Namespace
from typing import TYPE_CHECKING

from domain.errors import UsageError
from domain.text import counted
from tui.commands.frame import Command, Context, json_option

if TYPE_CHECKING:
    from banks.library import Library
    from banks.planning.first_study import StudyState


MOST_HOURS = 1000


def _bank_options(parser: ArgumentParser) -> None:
    change = parser.add_mutually_exclusive_group()
    change.add_argument("--take-up", metavar="B", help="a bank that counts in the plan from now on")
    change.add_argument("--set-aside", metavar="B", help="a bank that no longer counts; it is kept")
    json_option(parser)


def _bank(context: Context, arguments: Namespace) -> int:
    from banks.lookup import find_bank
    from banks.planning.intents import count_bank
    from banks.views.headings import bank_states

    named = arguments.take_up or arguments.set_aside
    library = context.library(read_only=not named)
    if named:
        count_bank(library, find_bank(library, named).id, counts=bool(arguments.take_up))
    banks = bank_states(library)
    if arguments.json:
        context.json({"banks": banks})
        return 0
    for bank in banks:
        state = "counts" if bank.counts else "set aside"
        context.say(f"{bank.title}: {counted(bank.questions, 'question')}, {state}")
    if not banks:
        context.say("No bank yet; create one with `resieve outline` or `resieve import`.")
    return 0


def _study_options(parser: ArgumentParser) -> None:
    parser.add_argument("--bank", metavar="B", help="bank; may be omitted if there is only one")
    parser.add_argument("--subject", metavar="S", help="the subject's title")
    parser.add_argument("--chapter", metavar="C", help="only this chapter, by title or number")
    parser.add_argument(
        "--done",
        action="store_true",
        help="it is studied; the subject can be revised from today on",
    )
    parser.add_argument(
        "--hours",
        type=float,
        metavar="H",
        help="what its study in so many hours would have to bring beside passes",
    )
    json_option(parser)


def _first_study(context: Context, arguments: Namespace) -> int:
    from banks.lookup import find_bank, find_chapter, find_subject
    from banks.planning.first_study import say_studied, study_states

    if arguments.done and not arguments.subject:
        raise UsageError("--done needs --subject")
    if arguments.chapter and not arguments.subject:
        raise UsageError("--chapter needs --subject")
    library = context.library(read_only=not arguments.done)
    bank = find_bank(library, arguments.bank)
    subject = find_subject(bank, arguments.subject) if arguments.subject else None
    chapter = find_chapter(subject, arguments.chapter) if subject and arguments.chapter else None
    if arguments.hours is not None:
        return _weigh_study(
            context, library, f"{bank.id}/{subject.id}" if subject else "", arguments
        )
    if arguments.done and subject:
        say_studied(library, bank.id, subject.id, chapter.id if chapter else "")
    states = [
        state
        for state in study_states(library, bank)
        if (subject is None or state.subject == subject.title)
        and (chapter is None or state.chapter == chapter.title)
    ]
    if arguments.json:
        context.json({"chapters": states})
        return 0
    for state in states:
        context.say(f"{state.subject} · {state.chapter}: {_study_words(state)}")
    return 0


def _weigh_study(context: Context, library: "Library", subject: str, arguments: Namespace) -> int:
    """What the first study of a subject would have to bring."""
    from banks.views.sweeping import first_study_worth
    from tui.sweep_words import study_worth_words

    if not subject:
        raise UsageError("--hours needs --subject")
    if not 0 < arguments.hours <= MOST_HOURS:
        raise UsageError(f"--hours: expected more than 0 and at most {MOST_HOURS}")
    worth = first_study_worth(library, subject, arguments.hours)
    if arguments.json:
        context.json({"worth": worth})
    else:
        for words in study_worth_words(worth):
            context.say(words)
    return 0


def _study_words(state: "StudyState") -> str:
    words = f"{state.tried} of {counted(state.questions, 'question')} tried"
    if state.said_done:
        words += f"; studied by {state.said_done}"
    if state.revised_from:
        words += f"; revised from {state.revised_from} on"
    return words


COMMANDS = [
    Command("bank", "Show the banks, and which of them count in the plan.", _bank_options, _bank),
    Command(
        "first-study",
        "Say what is studied already, without marking it question by question.",
        _study_options,
        _first_study,
    ),
]
