"""The plan drawn: a line a week, the words of a day, and what the whole comes to."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from itertools import groupby

from rich.cells import cell_len
from textual.content import Content

from banks.views.plan import PlanOutlook, PlanTurn, PlanView, PlanWeek
from banks.views.today import part_name
from domain.plan.changes import PlanDifference
from domain.plan.inputs import DAYS_A_WEEK, Use
from domain.plan.study_plan import EntryKind, PlanEntry, PlanPart, StudyDay, StudyPlan
from domain.text import counted
from tui.dates import long_day
from tui.plan_words import attendance_words, entry_words, fits_words, plain_day, trial_words
from tui.widgets.virtual_list import GUTTER

MARKS = {
    Use.REVISION: ("B", "bold $primary"),
    Use.SWEEP: ("S", "bold $accent"),
    Use.SLACK: ("·", ""),
    Use.REST: ("–", "$text-muted"),
    Use.OFF: ("x", "$warning"),
    Use.FINAL: ("F", "bold $primary"),
}
LEGEND = " B block, S sweep, P paper, · spare, r reserve, – rest, x off, ! over, * pinned"
_LEFT = 30
"""Cells that a week's date, round and seven days take."""
_EDGES = GUTTER + 1
"""Cells that a list's gutter and scrollbar take."""
_WITH_COUNTS = 96
"""The width from which on the questions and the week's idle minutes stand beside the titles."""
_IDLE = 9
"""Cells that a week's idle minutes take."""
_NOTABLE = 5
"""Minutes over, or idle, from which on they are told of a day."""


def week_line(week: PlanWeek, width: int, chosen: int | None) -> Content:
    """One week; `chosen` is the weekday under the cursor."""
    rounds = "R" + "/".join(map(str, week.rounds)) if week.rounds else ""
    for_blocks, for_sweeps = _titles_room(width)
    counts = width >= _WITH_COUNTS
    block = _turns(week.blocks, for_blocks - 2, counts)
    sweep = _turns(week.sweeps, for_sweeps, counts)
    idle = f"{week.room - week.minutes:>{_IDLE}.0f}" if counts else ""
    begins = f"{week.monday.day:>2} {week.monday:%b}  "
    return Content.assemble(
        (begins, "$text-muted"),
        (f"{rounds:<5}", "bold"),
        *_days(week, chosen),
        f"  {block:{for_blocks}}{sweep:{for_sweeps}}",
        (idle, "$text-muted"),
    )


def columns(width: int) -> str:
    """The headings over the weeks on a screen of so many cells."""
    width -= _EDGES
    for_blocks, for_sweeps = _titles_room(width)
    days = " ".join("MTWTFSS")
    idle = f"{'idle min':>{_IDLE}}" if width >= _WITH_COUNTS else ""
    titles = f"{'Revised':{for_blocks}}{'Swept':{for_sweeps}}"
    return f"{'':{GUTTER + 14}}{days}   {titles}{idle}".rstrip()


def _titles_room(width: int) -> tuple[int, int]:
    """Cells for the titles of blocks and of sweeps."""
    room = max(0, width - _LEFT - (_IDLE if width >= _WITH_COUNTS else 0))
    return room * 3 // 5, room - room * 3 // 5


def _days(week: PlanWeek, chosen: int | None) -> Iterator[Content | tuple[str, str]]:
    """A mark per day; between two of them stand the chosen one's brackets, or that a day is over
    its minutes.
    """
    for weekday in range(DAYS_A_WEEK + 1):
        yesterday = week.days[weekday - 1] if weekday else None
        if chosen in (weekday - 1, weekday):
            yield ("[" if weekday == chosen else "]", "bold")
        else:
            yield ("!" if yesterday and yesterday.over_minutes >= _NOTABLE else " ", "")
        if weekday < DAYS_A_WEEK:
            yield _mark(week, weekday)


def _mark(week: PlanWeek, weekday: int) -> tuple[str, str]:
    if week.exam == weekday:
        return "E", "bold $error"
    day = week.days[weekday]
    if day is None:
        return " ", ""
    if any(entry.reserve for entry in day.entries):
        return "r", ""
    if day.kind is EntryKind.SWEEP:
        return MARKS[Use.SWEEP]
    if day.kind is EntryKind.BLOCK:
        return MARKS[Use.REVISION]
    if day.kind is EntryKind.PAPER:
        return "P", "bold $accent"
    return MARKS[day.role] if day.role in _FREE_ROLES else MARKS[Use.SLACK]


_FREE_ROLES = (Use.REST, Use.OFF, Use.FINAL)


def _turns(turns: tuple[PlanTurn, ...], width: int, counts: bool) -> str:
    """Titles, with their questions where whole ones leave room; else all are cut alike."""
    titles = [f"{'*' if turn.pinned else ''}{turn.title}" for turn in turns]
    ends = [f" {turn.questions}" for turn in turns]
    room = width - 2 * (len(turns) - 1)
    if not counts or sum(map(cell_len, titles + ends)) > room:
        ends = [""] * len(turns)
    longest = max(map(cell_len, titles), default=0)
    while longest > 1 and sum(min(longest, cell_len(title)) for title in titles) > room:
        longest -= 1
    cut = (Content(title).truncate(longest, ellipsis=True).plain for title in titles)
    words = ", ".join(title + end for title, end in zip(cut, ends, strict=True))
    return Content(words).truncate(max(0, width), ellipsis=True).plain


def day_words(
    week: PlanWeek, weekday: int, plan: StudyPlan, titles: Mapping[str, str], most_lines: int
) -> Content:
    """What a day is for, part by part, chapter by chapter where there are lines for it."""
    when = long_day(week.day(weekday))
    if week.exam == weekday:
        return Content.styled(f"{when} · the exam", "bold")
    day = week.days[weekday]
    if day is None:
        return Content.styled(f"{when} · outside the plan", "$text-muted")
    if not any(entry.parts for entry in day.entries):
        words = entry_words(day.entries[0], titles) if day.entries else "free"
        idle = f", {sum(day.parts)} idle minutes" if sum(day.parts) else ""
        return Content.styled(f"{when} · {words}{idle}", "bold")
    heading = Content.styled(f"{when}{_rounds(day)} · {_minutes(day)}", "bold")
    work = sorted(
        ((part.part, *_part(entry, part, titles)) for entry in day.entries for part in entry.parts),
        key=lambda listed: listed[0],
    )
    parts = [
        (part_name(len(day.parts), number), [(words, what) for _, words, what in listed])
        for number, listed in groupby(work, key=lambda listed: listed[0])
    ]
    if len(work) < most_lines:
        lines = [
            f"{'' if number else name:<8} {_joined([each])}"
            for name, listed in parts
            for number, each in enumerate(listed)
        ]
    else:
        lines = [f"{name:<8} {_joined(listed)}" for name, listed in parts]
    lines += _swept_first(day, plan, titles)
    return Content("\n").join([heading, *map(Content, lines[: most_lines - 1])])


def _swept_first(day: StudyDay, plan: StudyPlan, titles: Mapping[str, str]) -> Iterator[str]:
    """Why a subject is swept that had no block yet."""
    swept = {entry.subject for entry in day.visits if entry.kind is EntryKind.SWEEP}
    for scheduled in plan.visits:
        visit = scheduled.visit
        if day.rounds == (1,) and visit.round == 2 and visit.subject in swept and not visit.sweep:
            revised = f"{titles[visit.subject]} is revised from {plain_day(scheduled.first)} on"
            yield f"Half of the subjects are swept first; {revised}."


def _rounds(day: StudyDay) -> str:
    return f" · round {'/'.join(map(str, day.rounds))}" if day.rounds else ""


def _minutes(day: StudyDay) -> str:
    room = sum(day.parts)
    if not any(entry.is_visit or entry.paper for entry in day.entries):
        return "spare, reserved" if any(entry.reserve for entry in day.entries) else "spare"
    words = f"{counted(day.questions, 'question')}, {day.minutes:.0f} of {room} minutes"
    if day.over_minutes >= 1:
        return f"{words}, {day.over_minutes:.0f} over"
    idle = room - sum(entry.minutes for entry in day.entries)
    return words + (f", {idle:.0f} idle" if idle >= _NOTABLE else "")


def _part(entry: PlanEntry, part: PlanPart, titles: Mapping[str, str]) -> tuple[str, str]:
    """What a part of an entry is of, and its numbers in the book, "" where it has none."""
    words = entry_words(entry, titles)
    if part.chapter is None:
        count = f", {counted(part.questions, 'question')}" if part.questions else ""
        return words + count, ""
    return words, f"{titles[part.chapter]} {part.numbers[0]}–{part.numbers[-1]}"


def _joined(listed: Sequence[tuple[str, str]]) -> str:
    """Parts on one line; a subject is named once for all its chapters."""
    subjects = groupby(listed, key=lambda part: part[0])
    joined = [(words, ", ".join(what for _, what in parts if what)) for words, parts in subjects]
    return "; ".join(f"{words}: {what}" if what else words for words, what in joined)


def exam_words(plan: StudyPlan, today: date) -> str:
    """When the exam is, and what is spare until then."""
    days = (plan.exam - today).days
    spare = counted(plan.slack_days, "spare day")
    return f"Exam {plan.exam:%a} {plain_day(plan.exam)}, {days} days · {spare}"


def rounds_words(plan: StudyPlan) -> Content:
    """Each round's days and spare days, side by side."""
    words = []
    for span in plan.rounds:
        days = "not before the exam"
        if span.first_day and span.last_day:
            days = f"{plain_day(span.first_day)} – {plain_day(span.last_day)}"
        words.append(
            Content.assemble(
                (f"R{span.round} ", "bold"), f"{days}, ", (f"{span.slack_days} spare", "bold")
            )
        )
    return Content("    ").join(words)


def outlook_words(view: PlanView, plan: StudyPlan, outlook: PlanOutlook | None) -> Content:
    """Whether the plan shown fits, and where the candidate's own days lead.

    `view` is of the plan that is kept; the plan shown may be one that is tried in its place. The
    outlook comes a moment later.
    """
    fits = fits_words(plan, at_own_pace=view.at_own_pace, with_spare=False)
    if outlook is None or plan is not view.plan:
        return Content(fits)
    hint = ""
    if outlook.levers:
        hint = " f: what would help"
    elif outlook.pace or outlook.advice:
        hint = " f: offers"
    if not plan.feasible:
        return Content.assemble((fits, "bold $warning"), hint)
    return Content(f"{fits} {attendance_words(outlook, plan)}{hint}")


def change_words(change: PlanDifference) -> Content:
    """What is being tried, before and after."""
    return Content.assemble((" Trying: ", "bold $accent"), trial_words(change))
