"""`triage`, `report` and `sweep`: where the questions and the candidate stand, and what to take."""

from argparse import ArgumentParser, Namespace
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from domain.errors import UsageError
from domain.questions import bank_of
from domain.responses import Purpose, Reason
from domain.text import counted
from domain.tiers import TIER_BY_WORD, Tier
from tui.commands.frame import Command, Context, json_option

if TYPE_CHECKING:
    from collections.abc import Collection

    from banks.library import Library
    from banks.views.evidence import Evidence, Readiness
    from banks.views.sweeping import SweepPick, SweepView
    from banks.views.triage import Filter, Row


def tiers_named(words: str | None) -> frozenset[Tier]:
    """The tiers in "harder,hardest". Raises UsageError for a word that is none."""
    named = [word.strip().lower() for word in (words or "").split(",") if word.strip()]
    for word in named:
        if word not in TIER_BY_WORD:
            raise UsageError(f"--tier {word!r}: not a tier; choose from {', '.join(TIER_BY_WORD)}")
    return frozenset(TIER_BY_WORD[word] for word in named)


_NO_QUESTIONS = "No questions yet: `resieve import FILE` adds some."


def _triage_options(parser: ArgumentParser) -> None:
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

    if not (arguments.sheet or arguments.json):
        chosen = (
            arguments.bank, arguments.subject, arguments.tier, arguments.missed, arguments.waiting,
            arguments.reason, arguments.sure_wrong, arguments.text,
        )  # fmt: skip
        make = partial(_triage_words, arguments=arguments)
        context.say(context.view("triage", str, make, repr(chosen)))
        return 0
    library = context.library(read_only=not arguments.sheet)
    rows = triage.by_urgency(triage.rows(library, _triage_filter(library, arguments)))
    if arguments.sheet:
        _write_triage_sheet(library, rows, arguments)
        if not arguments.json:
            context.say(f"{arguments.sheet}: {counted(len(rows), 'question')} to look up")
            return 0
    if arguments.json:
        listed = [_triage_row(library, row) for row in rows]
        context.json({"counts": triage.counts(rows), "questions": listed})
    return 0


def _triage_words(library: "Library", arguments: Namespace) -> str:
    """One line per question; where nothing can be listed, why."""
    from banks.views import triage
    from tui.tier_reasons import signs_words

    @cache
    def state(tier: Tier, signs: str, is_waiting: bool) -> str:  # few differ
        words = ", ".join(filter(None, [signs, "waiting" if is_waiting else ""]))
        return f"{tier.word:8} {words:17}"

    rows = triage.by_urgency(triage.rows(library, _triage_filter(library, arguments)))
    if not rows:
        return "No such questions." if library.question_count else _NO_QUESTIONS
    return "\n".join(
        f"{state(row.standing.tier, signs_words(row.standing), row.is_waiting)}  "
        f"{row.location.subject.title} · {row.location.chapter.title} · {row.number}"
        for row in rows
    )


def _write_triage_sheet(library: "Library", rows: list["Row"], arguments: Namespace) -> None:
    from banks.exporters.sheets.question_sheet import Order
    from banks.sittings.printed_sheets import print_list

    print_list(
        library,
        arguments.sheet,
        "Waiting" if arguments.waiting else "Triage",
        Purpose.SWEEP,
        [row.id for row in rows],
        order=Order[arguments.order.upper()],
    )


def _triage_filter(library: "Library", arguments: Namespace) -> "Filter":
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


def _triage_row(library: "Library", row: "Row") -> dict[str, Any]:
    from banks.views.triage import explanation
    from tui.tier_reasons import trail_words, why_words

    standing, explained = row.standing, explanation(library, row.id)
    return {
        "bank": row.location.bank.id,
        "subject": row.location.subject.title,
        "chapter": row.location.chapter.title,
        "number": row.number,
        "tier": standing.tier.word,
        "signs": standing.signs,
        "missed_days": standing.missed_days,
        "clean_days": standing.clean_days,
        "settled": standing.settled,
        "waiting": row.is_waiting,
        "last_answered": standing.last.isoformat() if standing.last else None,
        "why": [
            why_words(explained),
            *(f"{day}: {words}" for day, words in trail_words(explained)),
        ],
    }


def _report_options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--html", type=Path, metavar="FILE", help="write a self-contained HTML page"
    )
    json_option(parser)


def _report(context: Context, arguments: Namespace) -> int:
    from banks.views.confusions import Confusion, confusions
    from banks.views.evidence import Evidence, evidence

    if not (arguments.html or arguments.json):
        for line in _in_words(context.view("evidence", Evidence, evidence)):
            context.say(line)
        return 0
    report, mixed_up = context.view(
        "report",
        tuple[Evidence, tuple[Confusion, ...]],
        lambda library: (evidence(library), confusions(library)),
    )
    if arguments.html:
        from banks.exporters.report_page import save

        save(report, mixed_up, arguments.html)
    if arguments.json:
        context.json({**_as_json(report), "mixed_up": mixed_up})
    return 0


def _as_json(evidence: "Evidence") -> dict[str, Any]:
    """The evidence, with the score to tell first: null, and why, until there is enough."""
    from msgspec.structs import asdict

    from tui.score_words import predicted_reason

    score = evidence.score
    return {
        "predicted": score.predicted, "predicted_reason": predicted_reason(score) or None,
        **asdict(evidence),
    }  # fmt: skip


def _in_words(evidence: "Evidence") -> list[str]:
    if not evidence.questions:
        return [_NO_QUESTIONS]
    from banks.views.evidence import full_titles
    from tui.score_words import guessing_words, own_record_words, score_sentences
    from tui.sweep_words import hour_figure
    from tui.tier_reasons import elsewhere_words, waiting_words

    lines = [
        f"{evidence.tried} of {evidence.questions} questions tried, "
        f"{evidence.responses} responses; {waiting_words(evidence.waiting)}",
        *filter(None, [elsewhere_words(evidence.elsewhere)]),
        *score_sentences(evidence.score),
        guessing_words(evidence.guessing.break_even, evidence.guessing.random),
        *filter(None, [own_record_words(evidence.calibration)]),
        evidence.memory.sentence,
    ]
    titles = full_titles(evidence)
    wide = max(map(len, titles.values()), default=0)
    for subject in sorted(evidence.subjects, key=lambda subject: -(subject.hour or 0)):
        line = f"{titles[subject.subject]:{wide}}  {_ready_words(subject.ready)}"
        if subject.hour is not None:
            line += f"   one more hour: {hour_figure(subject.hour)} marks"
        lines.append(line)
        lines += [
            f"  {chapter.title:{max(0, wide - 2)}}  {_ready_words(chapter.ready)}"
            for chapter in evidence.chapters
            if chapter.subject == subject.subject
        ]
    return lines


def _ready_words(ready: "Readiness") -> str:
    """ "84.1 of 180 marks expected   waiting 31   settled 12"."""
    expected = f"{ready.expected:.1f}" if ready.expected is not None else "–"
    return (
        f"{expected:>6} of {ready.best:5.1f} marks expected   waiting {ready.waiting:>4,}   "
        f"settled {ready.settled:>4,}"
    )


def _sweep_options(parser: ArgumentParser) -> None:
    parser.add_argument("--minutes", type=float, metavar="N", help="minutes you have")
    parser.add_argument(
        "--enough",
        action="store_true",
        help="pick nothing: end the planned sweep of --subject that is due or under way",
    )
    parser.add_argument("--bank", metavar="B", help="the bank the subject is in")
    parser.add_argument("--subject", metavar="S", help="only this subject")
    parser.add_argument("--tier", metavar="T,…", help="only these tiers (default: all)")
    parser.add_argument(
        "--sheet", type=Path, metavar="FILE", help="write a worksheet: .txt .md .html or .pdf"
    )
    parser.add_argument(
        "--order", choices=["book", "hardest"], default="book", help="order on the worksheet"
    )
    parser.add_argument(
        "--paper", choices=["a4", "letter"], default="a4", help="page size of the worksheet"
    )
    json_option(parser)


def _sweep(context: Context, arguments: Namespace) -> int:
    from banks.views.sweeping import SweepView, sweep_request
    from tui.sweep_words import gain_words, left_out_words, pick_words

    if arguments.enough:
        return _enough(context, arguments)
    if arguments.minutes is None:
        raise UsageError("--minutes: how many do you have? (--enough ends a planned sweep)")
    if not 0 < arguments.minutes <= 1440:
        raise UsageError(f"--minutes: more than 0, at most 1440, not {arguments.minutes:g}")
    tiers = tiers_named(arguments.tier) or ()
    make = partial(_chosen, arguments=arguments, tiers=tiers)
    if arguments.sheet:
        library = context.library()
        sweep = make(library)
        _write_sweep_sheet(library, sweep, arguments)
        if not arguments.json:
            context.say(f"{arguments.sheet}: {len(sweep.picks)} questions to look up")
    else:
        request = sweep_request(arguments.minutes, "", tiers)
        if arguments.bank or arguments.subject:
            request += repr((arguments.bank, arguments.subject))
        sweep = context.view("sweep", SweepView, make, request)
    if arguments.json:
        context.json({
            "minutes": sweep.minutes, "expected_score": sweep.gain,
            "seconds": sweep.seconds, "questions": [_pick(pick) for pick in sweep.picks],
            "left_out": {
                reason: {"questions": omission.questions, "expected_score": omission.gain}
                for reason, omission in sweep.left_out.items()
            },
            "pool": sweep.pool,
        })  # fmt: skip
        return 0
    for pick in sweep.picks:
        context.say(f"{pick.subject} · {pick.chapter} · {pick.question.number}: {pick_words(pick)}")
    chosen = f"{len(sweep.picks)} of {sweep.pool} questions, {sweep.seconds / 60:.0f} minutes"
    context.say("; ".join(filter(None, (chosen, gain_words(sweep)))))
    if words := left_out_words(sweep):
        context.say(words)
    return 0


def _enough(context: Context, arguments: Namespace) -> int:
    from banks.planning.intents import enough

    if not arguments.subject:
        raise UsageError("--enough needs --subject")
    library = context.library()
    title = enough(library, _subject_key(library, arguments))
    if arguments.json:
        context.json({"ended": title})
    else:
        context.say(f"The sweep of {title} is done; u on Today undoes it.")
    return 0


def _chosen(library: "Library", *, arguments: Namespace, tiers: "Collection[Tier]") -> "SweepView":
    from banks.views.sweeping import sweep

    return sweep(library, arguments.minutes, _subject_key(library, arguments), tiers)


def _write_sweep_sheet(library: "Library", view: "SweepView", arguments: Namespace) -> None:
    from banks.exporters.sheets.question_sheet import PAPER, Order
    from banks.sittings.printed_sheets import print_list
    from domain.responses import Purpose

    print_list(
        library,
        arguments.sheet,
        f"Sweep, {view.minutes:g} min",
        Purpose.SWEEP,
        [pick.question.id for pick in view.picks],
        order=Order[arguments.order.upper()],
        page_size=PAPER[arguments.paper],
    )


def _subject_key(library: "Library", arguments: Namespace) -> str:
    if not arguments.subject:
        return ""
    from banks.lookup import find_bank, find_subject

    bank = find_bank(library, arguments.bank)
    return f"{bank.id}/{find_subject(bank, arguments.subject).id}"


def _pick(pick: "SweepPick") -> dict[str, Any]:
    return {
        "bank": bank_of(pick.question.id), "subject": pick.subject,
        "chapter": pick.chapter, "number": pick.question.number, "tier": pick.tier.word,
        "signs": pick.signs, "settled": pick.settled, "days": pick.days, "seconds": pick.seconds,
    }  # fmt: skip


COMMANDS = [
    Command("triage", "List questions by tier, hardest first.", _triage_options, _triage),
    Command(
        "report", "Show what is ready, waiting or settled, and the score.", _report_options, _report
    ),
    Command(
        "sweep", "Pick the questions worth the most in the time you have.", _sweep_options, _sweep
    ),
]
