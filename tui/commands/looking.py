"""The commands that show what stands where: triage."""

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from domain.errors import UsageError
from domain.responses import Purpose, Reason
from domain.text import counted
from domain.tiers import TIER_BY_WORD, Tier
from tui.commands.frame import Command, Context, json_option

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.triage import Filter, Row


def tiers_named(words: str | None) -> frozenset[Tier]:
    """The tiers in "harder,hardest". Raises UsageError for a word that is none."""
    named = [word.strip().lower() for word in (words or "").split(",") if word.strip()]
    for word in named:
        if word not in TIER_BY_WORD:
            raise UsageError(f"--tier {word!r}: not a tier; choose from {', '.join(TIER_BY_WORD)}")
    return frozenset(TIER_BY_WORD[word] for word in named)


def _options(parser: ArgumentParser) -> None:
    parser.add_argument("--bank", metavar="B", help="only this bank")
    parser.add_argument("--subject", metavar="S", help="only this subject")
    parser.add_argument("--tier", metavar="T,…", help="only these tiers, such as harder,hardest")
    parser.add_argument(
        "--missed", type=int, default=0, metavar="N", help="missed on N days or more"
    )
    parser.add_argument(
        "--waiting",
        action="store_true",
        help="only waiting questions: tried, not settled, long unseen",
    )
    parser.add_argument(
        "--reason", type=Reason, choices=list(Reason), metavar="R",
        help=f"only where this was said of a response: {', '.join(Reason)}",
    )  # fmt: skip
    parser.add_argument(
        "--sure-wrong", action="store_true", help="only what was wrong though you were sure"
    )
    parser.add_argument(
        "--sheet", type=Path, metavar="FILE", help="to print: .txt .md .html or .pdf"
    )
    parser.add_argument("--order", choices=["book", "hardest"], default="book", help="on the sheet")
    parser.add_argument("--text", default="", metavar="T", help="only questions with this text")
    json_option(parser)


def _triage(context: Context, arguments: Namespace) -> int:
    from banks.views import triage

    library = context.library(read_only=not arguments.sheet)
    found = triage.by_urgency(triage.rows(library, _wanted(library, arguments)))
    if arguments.sheet:
        _write_sheet(library, found, arguments)
        if not arguments.json:
            context.say(f"{arguments.sheet}: {counted(len(found), 'question')} to look up")
            return 0
    if arguments.json:
        listed = [_row(library, row) for row in found]
        context.json({"counts": triage.counts(found), "questions": listed})
        return 0
    from tui.tier_reasons import signs_words

    for row in found:
        words = filter(None, [signs_words(row.standing), "waiting" if row.is_waiting else ""])
        context.say(
            f"{row.standing.tier.word:8} {', '.join(words):17}  "
            f"{row.location.subject.title} · {row.location.chapter.title} · {row.question.number}"
        )
    return 0


def _write_sheet(library: "Library", found: list["Row"], arguments: Namespace) -> None:
    from banks.exporters.sheets import Order
    from banks.sittings.printed_sheets import print_list

    print_list(
        library,
        arguments.sheet,
        "Waiting" if arguments.waiting else "Triage",
        Purpose.SWEEP,
        [row.question.id for row in found],
        order=Order[arguments.order.upper()],
    )


def _wanted(library: "Library", arguments: Namespace) -> "Filter":
    from banks.lookup import find_bank, find_subject
    from banks.views.triage import Filter

    bank = find_bank(library, arguments.bank) if arguments.bank else None
    subject = None
    if arguments.subject:
        bank = bank or find_bank(library, None)
        subject = find_subject(bank, arguments.subject)
    return Filter(
        bank=bank.id if bank else "",
        subject=subject.id if subject else "",
        tiers=tiers_named(arguments.tier),
        missed=arguments.missed,
        waiting=arguments.waiting,
        reason=arguments.reason,
        sure_wrong=arguments.sure_wrong,
        text=arguments.text,
    )


def _row(library: "Library", row: "Row") -> dict[str, Any]:
    from banks.views.triage import explanation
    from tui.tier_reasons import trail_words, why_words

    standing, found = row.standing, explanation(library, row.question.id)
    return {
        "bank": row.location.bank.id,
        "subject": row.location.subject.title,
        "chapter": row.location.chapter.title,
        "number": row.question.number,
        "tier": standing.tier.word,
        "signs": standing.signs,
        "missed_days": standing.missed_days,
        "clean_days": standing.clean_days,
        "settled": standing.settled,
        "waiting": row.is_waiting,
        "last_answered": standing.last.isoformat() if standing.last else None,
        "why": [why_words(found), *(f"{day}: {words}" for day, words in trail_words(found))],
    }


COMMANDS = [
    Command("triage", "List questions by tier, hardest first.", _options, _triage),
]
