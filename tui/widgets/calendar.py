"""The plan drawn: a line a week, the words of a day, and what the whole comes to."""

from datetime import date
from itertools import groupby

from textual.content import Content

from banks.views.plan import PlanView
from banks.views.plan_weeks import PlanWeek, Turn
from banks.views.today import part_name
from domain.plan.changes import Change
from domain.plan.days import Use
from domain.plan.finish import Finish
from domain.plan.result import Piece, Plan, PlannedDay
from tui.dates import day_near, long_day
from tui.widgets.virtual_list import GUTTER

MARKS = {
    Use.REVISION: ("B", "bold $primary"),
    Use.SWEEP: ("S", "bold $accent"),
    Use.SLACK: ("·", ""),
    Use.REST: ("–", "$text-muted"),
    Use.OFF: ("x", "$warning"),
}
LEGEND = " B block  S sweep  · in hand  – rest  x off  E exam  ! runs over  * pinned"
_WORDS = {
    Use.SLACK: "in hand: nothing is planned",
    Use.REST: "a day of rest",
    Use.OFF: "a day off",
}
_LEFT = 36
"""Cells that a week's date, round and seven days take."""
_EDGES = GUTTER + 1
"""Cells that a list's gutter and scrollbar take."""
_WITH_COUNTS = 96
"""The width from which on the questions stand beside the titles."""
_NOTABLE = 5
"""Minutes over from which on a day is marked."""


def week_line(week: PlanWeek, width: int, chosen: int | None) -> Content:
    """One week; `chosen` is the weekday under the cursor."""
    rounds = "R" + "/".join(map(str, week.rounds)) if week.rounds else ""
    days = Content.assemble(*(_cell(week, weekday, weekday == chosen) for weekday in range(7)))
    for_blocks, for_sweeps = _titles_room(width)
    counts = width >= _WITH_COUNTS
    block = _turns(week.blocks, for_blocks - 2, counts)
    sweep = _turns(week.sweeps, for_sweeps, counts)
    gap = " " * (for_blocks - block.cell_length)
    begins = f"{week.monday.day:>2} {week.monday:%b}  "
    return Content.assemble(
        (begins, "$text-muted"), (f"{rounds:<5}", "bold"), days, "  ", block, gap, sweep
    )


def columns(width: int) -> str:
    """The headings over the weeks on a screen of so many cells."""
    for_blocks, _ = _titles_room(width - _EDGES)
    days = " ".join(("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"))
    return f"{'':{GUTTER + 14}}{days}   {'Revised':{for_blocks}}Swept"


def _titles_room(width: int) -> tuple[int, int]:
    """Cells for the titles of blocks and of sweeps."""
    room = max(0, width - _LEFT)
    return room * 11 // 20, room - room * 11 // 20


def _cell(week: PlanWeek, weekday: int, chosen: bool) -> Content:
    mark, style = _mark(week, weekday)
    left, right = ("[", "]") if chosen else (" ", " ")
    day = week.days[weekday]
    over = day is not None and day.over >= _NOTABLE
    return Content.assemble((left, "bold"), (mark, style), (right if chosen or not over else "!"))


def _mark(week: PlanWeek, weekday: int) -> tuple[str, str]:
    if week.exam == weekday:
        return "E", "bold $error"
    day = week.days[weekday]
    return MARKS[day.use] if day else (" ", "")


def _turns(turns: tuple[Turn, ...], width: int, counts: bool) -> Content:
    """Titles, with their questions where there is room."""
    words = ", ".join(
        f"{'*' if turn.pinned else ''}{turn.title}" + (f" {turn.questions}" if counts else "")
        for turn in turns
    )
    return Content(words).truncate(max(0, width), ellipsis=True)


def day_words(week: PlanWeek, weekday: int, titles: dict[str, str]) -> Content:
    """What a day is for, part by part."""
    when = long_day(week.day(weekday))
    if week.exam == weekday:
        return Content.styled(f"{when} · the exam", "bold")
    day = week.days[weekday]
    if day is None:
        return Content.styled(f"{when} · outside the plan", "$text-muted")
    if not day.pieces:
        return Content.styled(f"{when} · {_WORDS.get(day.use, 'free')}", "bold")
    head = f"{when} · round {day.round} · {_minutes(day)}"
    lines = [Content.styled(head, "bold")]
    for part, pieces in groupby(day.pieces, key=lambda piece: piece.part):
        name = part_name(len(day.parts), part)
        lines.append(Content(f"{name:<8} {_pieces(list(pieces), titles)}"))
    return Content("\n").join(lines[:4])


def _minutes(day: PlannedDay) -> str:
    words = f"{day.questions} questions, {day.minutes:.0f} of {sum(day.parts)} minutes"
    return words + (f", {day.over:.0f} over" if day.over >= 1 else "")


def _pieces(pieces: list[Piece], titles: dict[str, str]) -> str:
    subjects = groupby(pieces, key=lambda piece: piece.subject)
    return "; ".join(
        f"{titles[subject]}: " + ", ".join(_piece(piece, titles) for piece in own)
        for subject, own in subjects
    )


def _piece(piece: Piece, titles: dict[str, str]) -> str:
    if not piece.numbers:
        return f"sweep {piece.questions} hard questions"
    return f"{titles[piece.chapter]} {piece.numbers[0]}–{piece.numbers[-1]}"


def exam_words(plan: Plan, today: date) -> str:
    """When the exam is, and what is in hand until then."""
    days = (plan.exam - today).days
    return f"Exam {plan.exam:%a} {plain_day(plan.exam)}, {days} days · {plan.slack_days} in hand"


def rounds_words(plan: Plan) -> Content:
    """Each round's days and slack, side by side."""
    words = []
    for span in plan.rounds:
        days = "not before the exam"
        if span.first_day and span.last_day:
            days = f"{plain_day(span.first_day)} – {plain_day(span.last_day)}"
        words.append(
            Content.assemble(
                (f"R{span.round} ", "bold"), f"{days}, ", (f"{span.slack_days} in hand", "bold")
            )
        )
    return Content("    ").join(words)


def outlook_words(view: PlanView, plan: Plan) -> Content:
    """Where the plan shown is heading: the finish and what a lost week costs, or what is missing.

    `view` is of the plan that is kept; the plan shown may be one that is tried in its place.
    """
    if not plan.feasible:
        short = f"{plan.shortfall_minutes:,.0f} minutes find no day before the exam."
        hint = " f: what would fit" if view.advice else " No single change makes it fit."
        return Content.assemble(("It doesn't fit: ", "bold $warning"), short, hint)
    if not view.plan.feasible:
        return Content.styled("It fits.", "bold $success")
    parts = []
    if view.finishes:
        parts.append(_finish_words(view.finishes[-1], plan.exam))
    left = view.without_a_week
    lost = "it would not fit" if left is None else f"{left} in hand"
    if left is not None and left >= view.plan.slack_days:
        lost = "fits, packed closer"
    if view.has_a_week:
        parts.append(f"a week lost: {lost}")
    return Content(" · ".join(parts))


def _finish_words(finish: Finish, exam: date) -> str:
    first, last = finish.most
    if finish.likely is None or first is None:
        return "at your pace so far it takes longer"
    until = day_near(last, exam) if last else "later"
    return f"likely done {day_near(finish.likely, exam)} (90 %: {plain_day(first)} – {until})"


def change_words(change: Change) -> Content:
    """What is being tried, before and after."""
    before, after = change.slack_days
    slack = f"{before} → {after} days in hand" if before != after else f"still {after} in hand"
    if change.feasible == (False, True):
        slack = f"it fits, {change.slack_days[1]} days in hand"
    elif not change.feasible[1]:
        slack = f"doesn't fit: {change.shortfall_minutes[1]:,.0f} minutes short"
    moves = {0: "", 1: ", one block or sweep moves"}.get(
        len(change.shifts), f", {len(change.shifts)} blocks and sweeps move"
    )
    ends = ""
    last_before, last_after = change.last_days
    if last_before and last_after and last_before != last_after:
        ends = f", ends {plain_day(last_before)} → {plain_day(last_after)}"
    return Content.assemble((" Trying: ", "bold $accent"), slack, moves, ends)


def plain_day(day: date) -> str:
    """4 Jan."""
    return f"{day.day} {day:%b}"
