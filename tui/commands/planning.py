"""`plan` and `today`: the days to the exam, and what to do now."""

import os
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterator
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from domain.errors import InputError, ResieveError
from domain.text import counted, listed
from tui.commands.frame import Command, Context, day_option, json_option

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.plan import PlanReport, PlanView, TodayReport, Worths
    from banks.views.today import LineItem, TodayLine, TodayView
    from domain.evidence.differences import ScoreDifference
    from domain.plan.inputs import PlanInputs
    from domain.plan.levers import PlanLever
    from domain.plan.study_plan import PlanEntry, PlanPart, StudyDay

INPUTS = (
    "exam", "start", "minutes", "roles", "off", "rounds", "seconds", "bank", "times", "open_from",
    "sweep_only", "passes", "papers", "final_revision", "reserve", "take_reserve",
)  # fmt: skip
"""The options that change the plan; without any of them, nor `--accept`, `plan` only shows it."""
FIELDS = {"bank": "banks", "times": "starts"}
"""The fields of the plan's inputs that are called otherwise than their options."""


def _plan_options(parser: ArgumentParser) -> None:
    add = parser.add_argument
    add("--exam", type=day_option, metavar="D", help="day of the exam")
    add("--start", type=day_option, metavar="D", help="first day")
    add("--minutes", metavar="M", help='such as "mon-fri 30+60, sat 300, sun 0"')
    add("--roles", metavar="R", help='such as "mon-fri revision, sat sweep"')
    add("--off", metavar="D,D..D", help="all days off, replacing those set before")
    add("--rounds", type=int, metavar="N", help="how often the bank is revised")
    add("--seconds", type=float, metavar="S", help="seconds per question to plan with")
    add("--bank", metavar="B,…", help="the banks that count")
    add("--times", metavar="T,T", help='when the parts of a day begin: "6:30, 19:00"')
    add("--open-from", action="append", metavar="S=D", help="a subject and from when to revise it")
    add("--sweep-only", metavar="S,…", help="subjects that get no block; empty for none")
    add("--passes", metavar="on|off|WEEKS", help="fill idle minutes, but keep so many spare weeks")
    add("--papers", choices=["on", "off"], help="plan sample papers and rehearsals")
    add("--final-revision", type=int, metavar="DAYS", help="days before the exam to ask; 0 never")
    add("--reserve", metavar="D,…", help="all reserve days, replacing those set before")
    add("--take-reserve", type=day_option, metavar="D", help="take a reserve day off")
    add("--accept", metavar="LEVER", help="accept one of the remedies listed for a short plan")
    add("--calendar", type=Path, metavar="FILE", help="write an .ics file")
    add("--alarm", type=int, metavar="MIN", help="minutes before each event in it")
    json_option(parser)


def _plan(context: Context, arguments: Namespace) -> int:
    from banks.planning.workload import plan_inputs
    from banks.views.plan import PlanReport, plan_report

    if arguments.calendar:
        _must_be_writable(arguments.calendar)
    is_changed = arguments.accept is not None or any(
        getattr(arguments, name) is not None for name in INPUTS
    )
    if is_changed:
        library = context.library()
        kept = plan_inputs(library)
        report = _change_plan(library, arguments)
        if kept.exam and kept.exam < report.view.today and not arguments.json:
            context.say(
                f"The exam of {kept.exam:%d %b %Y} is over: the rounds begin anew. If it was put "
                f"off, --start {kept.start} goes on from what is done."
            )
    else:
        report = context.view("plan", PlanReport, plan_report)
    if arguments.calendar:
        try:
            _write_calendar(context, report.view, arguments)
        except ResieveError as problem:
            if not is_changed:
                raise
            context.warn(f"the plan is accepted; its calendar was not written: {problem}")
    if arguments.json:
        context.json(plan_json(report))
    else:
        for line in _plan_lines(report):
            context.say(line)
    return 0


def _change_plan(library: "Library", arguments: Namespace) -> "PlanReport":
    """Accept what the options say; the plan as it is then. Raises InputError."""
    from banks.planning.intents import accept
    from banks.views.plan import plan_report

    if any(getattr(arguments, name) is not None for name in INPUTS):
        accept(library, _changed(library, arguments))
    if arguments.accept is not None:
        _accept_lever(library, arguments.accept)
    return plan_report(library)


def _accept_lever(library: "Library", name: str) -> None:
    """Accept a remedy, an advice or the own pace under the name by which it is offered."""
    from banks.planning.intents import accept
    from banks.planning.workload import PlanWorkload
    from banks.views.plan import plan_outlook
    from banks.views.plan_worth import PlanWorth

    workload = PlanWorkload(library)
    worth = PlanWorth(library, workload)
    offered = plan_outlook(workload, workload.plan(), worth).offers
    if name not in offered:
        known = ", ".join(offered) or "nothing"
        raise InputError(f"--accept {name}: is not offered now; on offer: {known}")
    accept(library, offered[name])


def _changed(library: "Library", arguments: Namespace) -> "PlanInputs":
    """The plan's inputs with what the options say. Raises InputError."""
    from msgspec.structs import replace

    from banks.lookup import find_bank
    from banks.planning.workload import inputs_to_change
    from domain.plan.changes import with_reserve_taken
    from domain.plan.parsing import (
        parse_minutes,
        parse_off,
        parse_passes,
        parse_roles,
        parse_times,
    )

    before = inputs_to_change(library)
    readers: dict[str, Callable[[Any], Any]] = {
        "minutes": lambda text: parse_minutes(text, before.minutes),
        "roles": lambda text: parse_roles(text, before.roles),
        "off": parse_off,
        "times": parse_times,
        "reserve": parse_off,
        "bank": lambda names: tuple(
            find_bank(library, name.strip()).id for name in names.split(",")
        ),
        "open_from": lambda pairs: _open_from(library, before, pairs),
        "sweep_only": lambda names: _subject_ids(library, before, names),
        "papers": lambda word: word == "on",
    }
    given = {
        FIELDS.get(name, name): readers.get(name, lambda value: value)(value)
        for name in INPUTS
        if name not in ("passes", "take_reserve")
        and (value := getattr(arguments, name)) is not None
    }
    if arguments.passes is not None:
        before = parse_passes(before, arguments.passes)
    inputs = replace(before, **given)
    if arguments.take_reserve is not None:
        inputs = with_reserve_taken(inputs, arguments.take_reserve)
    return inputs


def _subject_ids(library: "Library", inputs: "PlanInputs", names: str) -> tuple[str, ...]:
    """Subjects of the counting banks by title, as `<bank>/<subject>`."""
    from banks.planning.workload import planned_subject

    chosen = filter(None, map(str.strip, names.split(",")))
    return tuple(planned_subject(library, inputs, name) for name in chosen)


def _open_from(library: "Library", inputs: "PlanInputs", pairs: list[str]) -> tuple[Any, ...]:
    from domain.plan.inputs import SubjectOpens
    from domain.plan.parsing import parse_day

    opens = {held.subject: held.day for held in inputs.open_from}
    for pair in pairs:
        name, sign, day = pair.rpartition("=")
        if not sign:
            raise InputError(
                f"--open-from {pair}: a subject and a day are expected: Wind=2027-03-01"
            )
        from_day = parse_day(day)
        for subject in _subject_ids(library, inputs, name):
            opens[subject] = from_day
    return tuple(SubjectOpens(subject, day) for subject, day in opens.items())


def _must_be_writable(path: Path) -> None:
    """Raise InputError where no file can be put: before a plan is accepted, not after."""
    parents = (parent for parent in path.absolute().parents if parent.exists())
    folder = next(parents, path)
    if path.is_dir() or not folder.is_dir() or not os.access(folder, os.W_OK):
        raise InputError(f"{path}: no file can be written there; nothing was changed")


def _write_calendar(context: Context, view: "PlanView", arguments: Namespace) -> None:
    from tzlocal import get_localzone_name

    from banks.exporters.calendar import CalendarOptions, save, to_calendar

    options = CalendarOptions(get_localzone_name(), context.clock()(), arguments.alarm)
    save(to_calendar(view.plan, view.inputs, view.titles, options), arguments.calendar)


# for programs


def plan_json(report: "PlanReport") -> dict[str, Any]:
    """The plan as programs read it: an entry for each date and visit."""
    from tui.plan_words import advice_words, lever_words

    view, outlook, worths = report.view, report.outlook, report.worths
    plan = view.plan
    advice = [outlook.advice] if outlook.advice else []
    return {
        "feasible": plan.feasible,
        "at_own_pace": view.at_own_pace,
        "exam": plan.exam,
        "needs_attendance": plan.needs_attendance,
        "rounds": plan.rounds,
        "slack_days": plan.slack_days,
        "days": [_entry_json(entry, view) for entry in plan.entries],
        "beyond": [
            {
                "subject": view.titles[left.visit.subject],
                "round": left.visit.round,
                "questions": left.questions,
            }
            for left in plan.beyond
        ],
        "shortfall_minutes": round(plan.shortfall_minutes, 1),
        "remedies": [
            _lever_json(lever, lever_words(lever, view, view.titles), worths)
            for lever in outlook.levers
        ],
        "advice": [
            {"words": advice_words(offer), "command": _command(offer.accept)}
            | _worth_json(worths[offer.accept])
            for offer in advice
        ],
    }


def _lever_json(lever: "PlanLever", words: str, worths: "Worths") -> dict[str, Any]:
    return {
        "lever": lever.lever.value,
        "value": lever.value,
        "words": words,
        "command": lever.command,
        "days_difference": lever.days,
    } | _worth_json(worths[lever.accept])


def _worth_json(worth: "ScoreDifference | None") -> dict[str, Any]:
    """The expected difference in score and the certainty of its sign, null before there is a fit;
    `told` is false where it is too small or uncertain.
    """
    return {
        "score_difference": None if worth is None else round(worth.score, 1),
        "score_certainty": None if worth is None else round(worth.certainty, 3),
        "score_told": worth is not None and not worth.too_small,
    }


def _command(accept: str) -> str:
    return f"resieve plan --accept {accept}"


def _entry_json(entry: "PlanEntry", view: "PlanView") -> dict[str, Any]:
    return {
        "date": entry.day,
        "role": entry.role,
        "round": entry.round,
        "subject": view.titles.get(entry.subject or ""),
        "kind": entry.kind.value,
        "over_minutes": round(entry.over_minutes, 1),
        "reserve": entry.reserve,
        "parts": [_part_json(part, view) for part in entry.parts],
    }


def _part_json(part: "PlanPart", view: "PlanView") -> dict[str, Any]:
    return {
        "chapter": view.titles.get(part.chapter or ""),
        "from": part.numbers[0] if part.numbers else None,
        "to": part.numbers[-1] if part.numbers else None,
        "questions": part.questions,
        "minutes": round(part.minutes, 1),
    }


# for people


def _plan_lines(report: "PlanReport") -> Iterator[str]:
    from tui.plan_words import (
        attendance_words,
        final_question,
        finish_words,
        fits_words,
        lost_week_words,
        offer_words,
        worth_words,
    )

    view, outlook, worths = report.view, report.outlook, report.worths
    plan = view.plan
    days = (plan.exam - view.today).days
    yield f"Exam on {plan.exam:%a %d %b %Y}" + (f", in {days} days." if days > 0 else ".")
    for span in plan.rounds:
        when = f"{span.first_day:%d %b} to {span.last_day:%d %b}" if span.first_day else "no days"
        yield f"Round {span.round}: {when}, {counted(span.slack_days, 'spare day')}"
    yield fits_words(plan, at_own_pace=view.at_own_pace)
    yield attendance_words(outlook, plan)
    if outlook.final_revision:
        yield final_question(outlook.final_revision)
    for name, words in offer_words(outlook, view).items():
        worth = f"; {worth_words(worths[name])}" if name in worths else ""
        yield f"  {words.rstrip('.')}{worth}: --accept {name}"
    if plan.feasible and days > 7:
        yield lost_week_words(view, outlook)
    if outlook.share_done is not None:
        yield f"Of the minutes planned so far you did {outlook.share_done:.0%}."
    for finish in outlook.finishes:
        yield finish_words(finish, plan.exam)
    days_by_week = groupby(plan.days(view.inputs), key=lambda day: day.day.isocalendar()[:2])
    for _, week in days_by_week:
        yield _week_line(list(week), view)


def _week_line(week: list["StudyDay"], view: "PlanView") -> str:
    runs = groupby(week, key=lambda day: _day_words(day, view))
    parts = [_run_words(words, list(days)) for words, days in runs]
    return f"{week[0].day:%d %b}  " + ", ".join(parts)


def _day_words(day: "StudyDay", view: "PlanView") -> str:
    from tui.plan_words import FREE, entry_words

    entries = day.visits or day.entries[:1]
    if not entries:
        return FREE.get(day.role, "free")
    return listed(entry_words(entry, view.titles) for entry in entries)


def _run_words(words: str, days: list["StudyDay"]) -> str:
    when = f"{days[0].day:%a}" + (f"-{days[-1].day:%a}" if len(days) > 1 else "")
    questions = sum(day.questions for day in days)
    over = sum(day.over_minutes for day in days)
    counts = f" ({questions})" if questions else ""
    return f"{when} {words}{counts}" + (f", {over:.0f} min over" if over >= 1 else "")


# today


def _today_options(parser: ArgumentParser) -> None:
    parser.add_argument("--ahead", action="store_true", help="the next day's lines")
    parser.add_argument("--sheet", type=Path, metavar="FILE", help="print the lines: .txt .md …")
    parser.add_argument("--line", type=int, metavar="N", help="only line N of the day, from 1")
    json_option(parser)


def _today(context: Context, arguments: Namespace) -> int:
    from banks.views.plan import TodayReport

    if arguments.line is not None and not arguments.sheet:
        raise InputError("--line goes with --sheet")
    make = partial(_report_of_day, ahead=arguments.ahead)
    if arguments.sheet:
        library = context.library()
        _print_lines(context, library, make(library).view, arguments)
        return 0
    report = context.view("today", TodayReport, make, "ahead" if arguments.ahead else "")
    if arguments.json:
        context.json(today_json(report.view))
    else:
        for line in _today_lines(report):
            context.say(line)
    return 0


def _report_of_day(library: "Library", *, ahead: bool) -> "TodayReport":
    from banks.planning.workload import plan_inputs
    from banks.views.plan import today_report

    if not plan_inputs(library).is_set_up:
        raise InputError("there is no plan yet; `resieve plan --exam YYYY-MM-DD` makes one")
    return today_report(library, ahead=ahead)


def _print_lines(
    context: Context, library: "Library", view: "TodayView", arguments: Namespace
) -> None:
    from banks.sittings.printed_sheets import print_lines

    lines = [line for line in view.lines if line.items]
    if arguments.line is not None:
        if not 1 <= arguments.line <= len(view.lines):
            raise InputError(
                f"--line {arguments.line}: the day has {counted(len(view.lines), 'line')}"
            )
        lines = [view.lines[arguments.line - 1]]
    count = print_lines(library, lines, arguments.sheet)
    context.say(f"{arguments.sheet}: {counted(count, 'question')} to look up")


def today_json(view: "TodayView") -> dict[str, Any]:
    """Today's plan as programs read it: exactly what screen and sheet put up."""
    sweep = view.next_sweep
    return {
        "date": view.day or view.today,
        "exam": view.exam,
        "days_to_exam": view.days_to_exam,
        "role": view.role,
        "round": view.round or None,
        "subject": view.subject_title or None,
        "lines": [_line_json(line) for line in view.lines],
        "next_sweep": {"date": sweep.day, "subject": sweep.subject_title} if sweep else None,
        "feasible": view.feasible,
        "slack_days": view.slack_days,
        "shortfall_minutes": round(view.shortfall_minutes, 1),
        "over_minutes": round(view.over, 1),
        "waiting": view.waiting.waiting if view.waiting else None,
        "waiting_change": view.waiting.change if view.waiting else None,
        "settled": view.waiting.settled if view.waiting else None,
    }


def _line_json(line: "TodayLine") -> dict[str, Any]:
    first, last = line.span or (None, None)
    return {
        "kind": line.kind.value,
        "part": line.part,
        "bank": line.bank or None,
        "subject": line.subject_title or None,
        "chapter": line.chapter_title or None,
        "from": first,
        "to": last,
        "round": line.round,
        "offer": line.offer,
        "questions": line.count,
        "done": line.done,
        "minutes": round(line.minutes, 1),
        "items": [_item_json(item) for item in line.items],
    }


def _item_json(item: "LineItem") -> dict[str, Any]:
    return {
        "subject": item.subject,
        "chapter": item.chapter,
        "number": item.number,
        "done": item.done,
        "untried": item.untried,
        "also_open": item.also_open,
    }


def _today_lines(report: "TodayReport") -> Iterator[str]:
    from banks.views.today import LineKind
    from domain.plan.study_plan import EntryKind
    from tui.dates import days_to_exam
    from tui.plan_words import final_question, fits_words, last_days_words, pass_words, rest_words
    from tui.tier_reasons import waiting_words

    view = report.view
    far = days_to_exam(view.days_to_exam)
    if view.days_to_exam <= 0:
        over = "; the plan is over" if view.days_to_exam < 0 else ". All the best"
        yield f"{view.today:%a %d %b %Y}: {far}{over}."
        if view.days_to_exam < 0:
            yield "`paper outside` records your result, `exam --came` what was asked."
            yield "`plan --exam DAY` begins the rounds anew for another exam."
        return
    day = view.day or view.today
    yield f"{day:%a %d %b %Y}: {far}, round {view.round}"
    if not view.lines:
        yield f"{rest_words(view)}."
    for title in view.emptied:
        yield f"The sweep of {title} had no questions left: done."
    for line in view.lines:
        words = f"{line.part:8} {line.subject_title} · {_what(line)}"
        if line.kind is LineKind.PASS:
            words = f"{'':8} {pass_words(line)}"
        yield f"{words}: {line.done} of {line.count} done, {line.minutes:.0f} minutes"
    if view.next_work and not view.lines:
        ahead = view.next_work
        verb = "sweep" if ahead.kind is EntryKind.SWEEP else "revise"
        yield f"Next: {verb} {ahead.subject_title}, {ahead.day:%a %d %b}"
    if view.next_sweep:
        yield f"Next sweep: {view.next_sweep.subject_title}, {view.next_sweep.day:%a %d %b}"
    if view.over >= 1:
        yield f"The day is {counted(round(view.over), 'minute')} over."
    if last := last_days_words(view):
        yield last
    if view.is_quiet:
        return
    if view.waiting:
        yield waiting_words(view.waiting)[:1].upper() + waiting_words(view.waiting)[1:]
    if report.final_revision:
        yield f"{final_question(report.final_revision)} `resieve plan` compares."
    if report.plan:
        yield fits_words(report.plan)


def _what(line: "TodayLine") -> str:
    from tui.plan_words import paper_words

    if line.span is None:
        return paper_words(line) or line.kind.value
    return f"{line.chapter_title} {line.span[0]}-{line.span[1]}"


COMMANDS = [
    Command("plan", "Plan the rounds up to the exam, or show the plan.", _plan_options, _plan),
    Command("today", "Show today's plan.", _today_options, _today),
]
