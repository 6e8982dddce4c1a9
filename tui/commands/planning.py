"""`plan` and `today`: the days to the exam, and what to do now."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tui.commands.frame import Command, Context, iso_date, json_option
from tui.counting import counted
from tui.dates import day_near

if TYPE_CHECKING:
    from datetime import date

    from banks.library import Library
    from banks.views.day import TodayLine, TodayView
    from banks.views.plan import PlanView
    from domain.plan.inputs import PlanInputs
    from domain.plan.result import Piece, PlannedDay

INPUTS = ("exam", "start", "minutes", "roles", "off", "rounds", "seconds", "bank", "times")
"""The options that change the plan; without any, `plan` only shows it."""
FIELDS = {"bank": "banks", "times": "starts"}
"""The fields of the plan's inputs that are called otherwise than their options."""


def _plan_options(parser: ArgumentParser) -> None:
    parser.add_argument("--exam", type=iso_date, metavar="D", help="the day of the exam")
    parser.add_argument("--start", type=iso_date, metavar="D", help="the first day")
    parser.add_argument("--minutes", metavar="M", help='such as "mon-fri 30+60, sat 300, sun 0"')
    parser.add_argument("--roles", metavar="R", help='such as "mon-fri revision, sat sweep"')
    parser.add_argument("--off", metavar="D,D..D", help="all the days off, in place of those set")
    parser.add_argument("--rounds", type=int, metavar="N", help="how often the bank is revised")
    parser.add_argument("--seconds", type=float, metavar="S", help="a question, until measured")
    parser.add_argument("--bank", action="append", metavar="B", help="plan only this bank")
    parser.add_argument(
        "--times", metavar="T,T", help='when the parts of a day begin: "6:30, 19:00"'
    )
    parser.add_argument("--calendar", type=Path, metavar="FILE", help="write an .ics file")
    parser.add_argument("--alarm", type=int, metavar="MIN", help="minutes before each event in it")
    json_option(parser)


def _plan(context: Context, arguments: Namespace) -> int:
    from banks.planning.accepting import accept
    from banks.views.plan import plan_view

    changing = any(getattr(arguments, name) is not None for name in INPUTS)
    library = context.library(read_only=not changing)
    if changing:
        accept(library, _changed(library, arguments))
    view = plan_view(library)
    if arguments.calendar:
        _write_calendar(library, view, arguments)
    if arguments.json:
        context.json(plan_json(view))
    else:
        for line in _plan_lines(view):
            context.say(line)
    return 0


def _changed(library: "Library", arguments: Namespace) -> "PlanInputs":
    """The plan's inputs with what the options say. Raises InputError."""
    from msgspec.structs import replace

    from banks.lookup import find_bank
    from domain.plan.wording import parse_minutes, parse_off, parse_roles, parse_times

    before = library.settings.plan
    read = {
        "minutes": lambda text: parse_minutes(text, before.minutes),
        "roles": lambda text: parse_roles(text, before.roles),
        "off": parse_off,
        "times": parse_times,
        "bank": lambda names: tuple(find_bank(library, name).id for name in names),
    }
    given = {
        FIELDS.get(name, name): read.get(name, lambda value: value)(value)
        for name in INPUTS
        if (value := getattr(arguments, name)) is not None
    }
    return replace(before, **given)


def _write_calendar(library: "Library", view: "PlanView", arguments: Namespace) -> None:
    from tzlocal import get_localzone_name

    from banks.exporters.calendar import CalendarOptions, save, to_calendar

    options = CalendarOptions(get_localzone_name(), library.now(), arguments.alarm)
    save(to_calendar(view.plan, view.inputs, view.titles, options), arguments.calendar)


# for programs


def plan_json(view: "PlanView") -> dict[str, Any]:
    """The plan as programs read it. A day shared by two subjects is there once for each."""
    plan = view.plan
    return {
        "feasible": plan.feasible,
        "exam": plan.exam,
        "rounds": plan.rounds,
        "days": [entry for day in plan.days for entry in _entries(day, view.titles)],
        "shortfall_minutes": round(plan.shortfall_minutes, 1),
        "remedies": [
            {"remedy": advice.words, "slack_days": advice.slack_days} for advice in view.advice
        ],
    }


def _entries(day: "PlannedDay", titles: dict[str, str]) -> Iterator[dict[str, Any]]:
    if not day.pieces:
        yield _entry(day, None, [])
    for subject, pieces in groupby(day.pieces, key=lambda piece: piece.subject):
        yield _entry(day, titles[subject], [_part(piece, titles) for piece in pieces])


def _entry(day: "PlannedDay", subject: str | None, parts: list[dict[str, Any]]) -> dict[str, Any]:
    number = day.round or None
    return {"date": day.day, "role": day.use, "round": number, "subject": subject, "parts": parts}


def _part(piece: "Piece", titles: dict[str, str]) -> dict[str, Any]:
    return {
        "chapter": titles.get(piece.chapter),
        "from": piece.numbers[0] if piece.numbers else None,
        "to": piece.numbers[-1] if piece.numbers else None,
        "questions": piece.questions,
        "minutes": round(piece.minutes, 1),
    }


# for people


def _plan_lines(view: "PlanView") -> Iterator[str]:
    plan = view.plan
    days = (plan.exam - view.today).days
    yield f"Exam on {plan.exam:%a %d %b %Y}" + (f", in {days} days." if days > 0 else ".")
    for span in plan.rounds:
        dates = f"{span.first_day:%d %b} to {span.last_day:%d %b}" if span.first_day else "no days"
        yield f"Round {span.round}: {dates}, {counted(span.slack_days, 'day')} in hand"
    if plan.feasible:
        yield f"Everything fits: {plan.days_needed} of {plan.days_there_are} days, " + (
            f"{plan.slack_days} in hand."
        )
    else:
        yield f"It doesn't fit: {plan.shortfall_minutes:.0f} minutes find no day before the exam."
        yield from (
            f"  would fit: {advice.words} ({counted(advice.slack_days, 'day')} in hand)"
            for advice in view.advice
        )
        if not view.advice:
            yield "  No single change makes it fit. The weakest and heaviest subjects come first."
    yield from _outlook(view)
    for _, week in groupby(plan.days, key=lambda day: day.day.isocalendar()[:2]):
        yield _week_line(list(week), view.titles)


def _outlook(view: "PlanView") -> Iterator[str]:
    if view.plan.feasible and view.has_a_week:
        yield f"If the next seven days were lost, {_lost_week(view)}."
    if view.share_done is not None:
        yield f"Of the minutes planned so far you did {view.share_done:.0%}."
    for finish in view.finishes:
        yield (
            f"Round {finish.round} at that rate: done {_when(view, finish.likely)}, "
            f"1 in 2 {_range(view, finish.half)}, 9 in 10 {_range(view, finish.most)}."
        )


def _lost_week(view: "PlanView") -> str:
    left = view.without_a_week
    if left is None:
        return "the plan would not fit"
    if left >= view.plan.slack_days:
        return "it would still fit, with blocks and sweeps closer together"
    return f"{counted(left, 'day')} would be in hand"


def _range(view: "PlanView", days: "tuple[date | None, date | None]") -> str:
    return f"between {_when(view, days[0])} and {_when(view, days[1])}"


def _when(view: "PlanView", day: "date | None") -> str:
    return day_near(day, view.plan.exam) if day else "later than can be told"


def _week_line(week: list["PlannedDay"], titles: dict[str, str]) -> str:
    runs = groupby(week, key=lambda day: (day.use.value, day.subjects))
    parts = [_run_words(use, subjects, list(days), titles) for (use, subjects), days in runs]
    return f"{week[0].day:%d %b}  " + ", ".join(parts)


def _run_words(
    use: str, subjects: tuple[str, ...], days: list["PlannedDay"], titles: dict[str, str]
) -> str:
    when = f"{days[0].day:%a}" + (f"-{days[-1].day:%a}" if len(days) > 1 else "")
    if not subjects:
        return f"{when} {use}"
    verb = "sweep " if use == "sweep" else ""
    named = " and ".join(titles[subject] for subject in subjects)
    return f"{when} {verb}{named} ({sum(day.questions for day in days)})"


# today


def _today(context: Context, arguments: Namespace) -> int:
    from banks.views.today import today_view
    from domain.errors import InputError

    view = today_view(context.library(read_only=True))
    if not view.is_set_up:
        raise InputError("there is no plan yet; `resieve plan --exam YYYY-MM-DD` makes one")
    if arguments.json:
        context.json(today_json(view))
    else:
        for line in _today_lines(view):
            context.say(line)
    return 0


def today_json(view: "TodayView") -> dict[str, Any]:
    """Today's plan as programs read it."""
    sweep = view.next_sweep
    return {
        "date": view.today,
        "exam": view.exam,
        "days_to_exam": view.days_to_exam,
        "role": view.use,
        "round": view.round,
        "subject": view.subject_title or None,
        "lines": [_line_json(line) for line in view.lines],
        "next_sweep": {"date": sweep.day, "subject": sweep.subject_title} if sweep else None,
        "feasible": view.feasible,
        "slack_days": view.slack_days,
        "shortfall_minutes": round(view.shortfall_minutes, 1),
        "changed": view.changed,
        "waiting": view.waiting.waiting if view.waiting else None,
        "waiting_change": view.waiting.change if view.waiting else None,
        "settled": view.waiting.settled if view.waiting else None,
    }


def _line_json(line: "TodayLine") -> dict[str, Any]:
    return {
        "part": line.part,
        "subject": line.subject_title,
        "chapter": line.chapter_title or None,
        "from": line.first or None,
        "to": line.last or None,
        "questions": line.count,
        "done": line.done,
        "minutes": round(line.minutes, 1),
    }


def _today_lines(view: "TodayView") -> Iterator[str]:
    from tui.dates import days_to_exam
    from tui.tier_reasons import waiting_words

    far = days_to_exam(view.days_to_exam)
    if view.days_to_exam <= 0:
        yield f"{view.today:%a %d %b %Y}: {far}; the plan is over."
        return
    yield f"{view.today:%a %d %b %Y}: {far}, round {view.round}"
    if not view.lines:
        yield {"slack": "A day in hand: nothing is planned."}.get(view.use, "A day of rest.")
    for line in view.lines:
        what = "sweep" if line.is_sweep else f"{line.chapter_title} {line.first}-{line.last}"
        yield (
            f"{line.part:8} {line.subject_title} · {what}: "
            f"{line.done} of {line.count} done, {line.minutes:.0f} minutes"
        )
    if view.next_work and not view.lines:
        ahead = view.next_work
        yield f"Next: {ahead.subject_title}, {ahead.use.value}, {ahead.day:%a %d %b}"
    if view.next_sweep:
        yield f"Next sweep: {view.next_sweep.subject_title}, {view.next_sweep.day:%a %d %b}"
    if view.waiting:
        yield waiting_words(view.waiting)[:1].upper() + waiting_words(view.waiting)[1:]
    yield from view.changed
    if view.feasible and not view.changed:
        yield f"{view.slack_days} days in hand."


COMMANDS = [
    Command("plan", "Plan the rounds up to the exam, or show the plan.", _plan_options, _plan),
    Command("today", "Show today's plan.", json_option, _today),
]
