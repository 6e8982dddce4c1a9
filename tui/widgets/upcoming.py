"""The words around today's lines: what the day is for, and what lies ahead."""

from textual.content import Content

from banks.views.day import Ahead, TodayView
from domain.plan.days import Use
from tui.dates import long_day, short_day
from tui.tier_reasons import waiting_words

_BAR, _BESIDE_BAR = 30, 34
_LABEL, _WHAT, _WORK = 16, 44, 15
_FOR = {
    Use.REVISION: "Revise",
    Use.SWEEP: "Sweep",
}
_FREE = {
    Use.REVISION: "free",
    Use.SWEEP: "free",
    Use.SLACK: "in hand",
    Use.REST: "rest",
    Use.OFF: "off",
}


def headline(view: TodayView, width: int) -> Content:
    """What the day is for, and how far it is done."""
    if not view.lines:
        return Content.assemble((_rest_words(view), "bold"))
    first = f"{_FOR.get(view.use, '')} {view.subject_title}".strip()
    where = f"   round {view.round} of {view.rounds}" if view.rounds else ""
    size = max(8, min(_BAR, width - _BESIDE_BAR))
    done = round(size * view.done / view.count) if view.count else 0
    bar = Content.assemble(("━" * done, "$success"), ("╌" * (size - done), "$text-muted"))
    left = f"  {view.done} of {view.count} done, {view.minutes_left:.0f} minutes left"
    if view.done >= view.count:
        left = f"  all {view.count} done: the day is yours"
    return Content.assemble((first, "bold"), (where, "$text-muted"), "\n", bar, left)


def _rest_words(view: TodayView) -> str:
    if view.days_to_exam < 0:
        return "The plan is over. Press x for the day of another exam."
    if view.days_to_exam == 0:
        return "The plan ends here. All the best."
    if view.use is Use.REST:
        return "A day of rest. Nothing is planned."
    return "A day in hand. Nothing is planned; a sweep or a free drill is yours to choose."


def upcoming(view: TodayView, height: int, width: int) -> Content:
    """The next sweep day, the days in hand, what has changed; above it the days to come."""
    below = [
        *_next_sweep(view.next_sweep, width),
        *([_line("In hand", _slack(view))] if view.days_to_exam > 0 else []),
        *([Content(waiting_words(view.waiting)).truncate(width)] if view.waiting else []),
        *(Content.styled(sentence, "$text-accent") for sentence in view.changed),
    ]
    days = [_coming(day, width) for day in view.coming][: max(0, height - len(below) - 1)]
    return Content("\n").join([*days, Content(), *below] if days else below)


def _coming(day: Ahead, width: int) -> Content:
    work = f"{day.questions:>4} q {day.minutes:>4.0f} min" if day.questions else ""
    what = f"{_FOR[day.use].lower()} {day.subject_title}" if day.questions else _FREE[day.use]
    space = max(8, min(_WHAT, width - _LABEL - _WORK))
    shown = Content(what).truncate(space, ellipsis=True, pad=True)
    return Content.assemble((f"{short_day(day.day):<{_LABEL}}", "$text-muted"), shown, work)


def _slack(view: TodayView) -> str:
    if not view.feasible:
        short = f"{view.shortfall_minutes:,.0f} minutes short"
        return f"none, {short}; the plan (p) lists what would make it fit"
    if view.over > 1:
        return f"{_days(view.slack_days)}; today runs {view.over:.0f} minutes over"
    return _days(view.slack_days)


def _days(count: int) -> str:
    return f"{count} study day" + ("" if count == 1 else "s")


def _next_sweep(coming: Ahead | None, width: int) -> tuple[Content, ...]:
    if coming is None:
        return ()
    words = f"{long_day(coming.day)} · {coming.subject_title}"
    return (_line("Next sweep day", words).truncate(width, ellipsis=True),)


def _line(label: str, words: str) -> Content:
    return Content.assemble((f"{label:<{_LABEL}}", "$text-muted"), words)
