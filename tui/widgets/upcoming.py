"""What stands around today's lines: what the day is for, what lies ahead, and the week."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from banks.views.kept_views import StartupSnapshot, WeekDay
from banks.views.results import DayResult
from banks.views.today import DayAhead, LineKind, TodayLine, TodayView
from domain.plan.inputs import LAST_DAYS, Use
from domain.plan.study_plan import EntryKind
from domain.text import counted, listed
from domain.tiers import SubjectCounts, Tier, WaitingState
from tui.dates import long_day, short_day
from tui.plan_words import (
    FREE,
    change_sentences,
    last_days_words,
    needs_words,
    pass_words,
    rest_words,
    welcome_words,
)
from tui.tier_reasons import plain_waiting_words, waiting_words
from tui.widgets.text_block import hanging, stacked
from tui.widgets.tiers import STYLES, tier_mark

if TYPE_CHECKING:
    from domain.evidence.intervals import Interval

_BAR, _BESIDE_BAR = 30, 34
_LABEL, _WHAT, _WORK = 16, 44, 15
_WEEK_BAR, _TIER_BAR = 14, 18
_SUBJECT = 24
_WAITS, _SETTLED = 8, 8
_VERBS = {EntryKind.BLOCK: "Revise", EntryKind.SWEEP: "Sweep"}
_WORK_OF = {
    LineKind.BLOCK: "revise",
    LineKind.SWEEP: "sweep",
    LineKind.FIRST_STUDY: "study",
    LineKind.PASS: "pass",
    LineKind.PAPER: "",
}


def headline(view: TodayView, width: int) -> Content:
    """What the day is for, and how far it is done."""
    emptied = [f"The sweep of {title} had no questions left: done." for title in view.emptied]
    passes = [line for line in view.lines if line.kind is LineKind.PASS]
    begun = [line for line in passes if line.done or line.is_final]
    lines = view.planned or begun
    if not lines:
        rest = Content.styled("\n".join([*emptied, rest_words(view)]), "bold")
        return stacked([rest, result_text(view.result) if view.result else None])
    count, done = sum(line.count for line in lines), sum(line.done for line in lines)
    minutes = sum(line.minutes * line.left / line.count for line in lines if line.count)
    first = _work_words(view.planned) if view.planned else pass_words(begun[0])
    where = f"   round {view.round} of {view.rounds}" if view.rounds and view.planned else ""
    if where and done >= count and view.ends_round:
        where += " done"
    left = f"  {done} of {count} done, {minutes:.0f} min left"
    if done >= count:
        left = f"  All {count} done for today"
        left += "; > shows the next day" if view.planned else ""
    if view.also_done:
        left += f"; {view.also_done} more answered"
    size = max(8, min(_BAR, width - max(len(left), _BESIDE_BAR)))
    full = round(size * done / count)
    bar = Content.assemble(("━" * full, "$success"), ("╌" * (size - full), "$text-muted"))
    title = Content.styled(first, "bold").truncate(max(_BAR, width - len(where)), ellipsis=True)
    heading = Content.assemble(title, (where, "$text-muted"))
    result = result_text(view.result) if done >= count and view.result else None
    return stacked([heading, bar + Content(left), result])


def _work_words(lines: Sequence[TodayLine]) -> str:
    """What the plan needs done: "Revise Wind and Maps, sweep Clouds"."""
    titles: dict[LineKind, dict[str, None]] = {}
    for line in lines:
        titles.setdefault(line.kind, {})[line.subject_title or line.paper] = None
    words = ", ".join(
        " ".join(filter(None, [_WORK_OF[kind], listed(named)])) for kind, named in titles.items()
    )
    return words[:1].upper() + words[1:]


def result_text(result: DayResult) -> Content:
    """What a day came to, on one line."""
    share = result.right_first / result.questions
    words = [f"{counted(result.questions, 'question')}, {share:.0%} right at first"]
    if result.tried_before:
        words[0] += f" ({result.right_before / result.tried_before:.0%} last time)"
    if result.seconds >= 60:
        reading = f" + {result.reading / 60:.0f} reading" if result.reading >= 60 else ""
        words.append(f"{result.seconds / 60:.0f}{reading} min")
    words.append(f"{counted(result.signs, 'new sign')}")
    words.append(f"{result.settled:,} settled")
    return Content.styled(" · ".join(words), "$text-muted")


def upcoming(view: TodayView, height: int, width: int, cost: "Interval | None" = None) -> Content:
    """The next sweep day, the spare days, what has changed; above it the days to come.

    `cost` is that of an absence, in marks.
    """
    figures = [] if view.is_quiet else _figures(view, width)
    below = [line for figure in figures for line in figure.split("\n")]
    for sentence in _news(view, cost):
        below += Content.styled(sentence, "$text-accent").wrap(width)
    shown = max(0, height - len(below) - 1)
    if view.days_to_exam <= LAST_DAYS:
        shown = min(shown, 1)
    days = [_coming(day, width) for day in view.coming[:shown]]
    return Content("\n").join([*days, Content(), *below] if days else below)


def _figures(view: TodayView, width: int) -> Iterator[Content]:
    """The next sweep day, what is waiting and settled, whether the plan fits."""
    yield from _next_sweep(view.next_sweep, width)
    if view.waiting:
        yield _waiting(view.waiting, width)
    if view.days_to_exam > 0:
        yield _line("Plan", _fits(view), width)
    if view.over > 1 and not view.is_ahead:
        yield _line("Today", f"{counted(round(view.over), 'minute')} over its time", width)


def _news(view: TodayView, cost: "Interval | None") -> list[str]:
    """What is new since the plan was last seen; nothing on a day of rest."""
    if last := last_days_words(view):
        return [last]
    if view.role in (Use.REST, Use.OFF) or view.days_to_exam <= 0:
        return []
    words = list(change_sentences(view.change)) if view.change else []
    if view.away_days:
        words.insert(0, welcome_words(view, cost))
    return words


def _coming(day: DayAhead, width: int) -> Content:
    work = f"{day.questions:>4} q {day.minutes:>4.0f} min" if day.questions else ""
    what = FREE.get(day.role, "free")
    if day.questions:
        what = f"{_VERBS[day.kind].lower()} {day.subject_title}"
    space = max(8, min(_WHAT, width - _LABEL - _WORK))
    shown = Content(what).truncate(space, ellipsis=True, pad=True)
    return Content.assemble((f"{short_day(day.day):<{_LABEL}}", "$text-muted"), shown, work)


def _fits(view: TodayView) -> str:
    """Whether the plan fits and what it needs for that."""
    if view.role is Use.FINAL:
        return f"final revision; {counted(view.beyond, 'question')} have no visit"
    if not view.feasible:
        return f"{counted(view.beyond, 'question')} not reached; Plan (f3) lists what would help"
    return f"{needs_words(view.attendance or 0)} · {counted(view.slack_days, 'spare day')}"


def _waiting(state: WaitingState, width: int) -> Content:
    """What waits and is settled; without the change of the week where that would cut a figure."""
    words = waiting_words(state)
    return Content(words if len(words) <= width else plain_waiting_words(state))


def _next_sweep(coming: DayAhead | None, width: int) -> tuple[Content, ...]:
    if coming is None:
        return ()
    words = f"{long_day(coming.day)} · {coming.subject_title}"
    return (_line("Next sweep day", words, len(words) + _LABEL).truncate(width, ellipsis=True),)


def _line(label: str, words: str, width: int) -> Content:
    return hanging(Content.styled(f"{label:<{_LABEL}}", "$text-muted"), Content(words), width)


def beside(snapshot: StartupSnapshot, height: int) -> Content:
    """On a wide terminal: this week day by day, and where the questions stand, by subject."""
    if not snapshot.subjects:
        return Content()
    tiers = list(_tiers(snapshot.subjects))
    room = height - len(snapshot.week) - len(tiers) - 7
    lines = [Content.styled("This week", "bold"), *_week(snapshot), Content()]
    if snapshot.view.is_quiet:
        return Content("\n").join(lines)
    lines += [Content.styled("Where the questions stand", "bold"), *tiers, Content()]
    lines += _subjects(snapshot.subjects, room) if room > 1 else []
    return Content("\n").join(lines)


def _week(snapshot: StartupSnapshot) -> Iterator[Content]:
    """A bar per day, all to one scale: full for what is done, dashed for what is planned."""
    most = max(*(day.done + day.left for day in snapshot.week), 1)
    for day in snapshot.week:
        full = round(_WEEK_BAR * day.done / most)
        dashed = max(0, round(_WEEK_BAR * (day.done + day.left) / most) - full)
        bar = Content.assemble(("━" * full, "$success"), ("╌" * dashed, "$text-muted"))
        is_today = day.day == snapshot.view.today
        yield Content.assemble(
            (f"{day.day:%a}  ", "bold" if is_today else "$text-muted"),
            bar.pad_right(_WEEK_BAR - bar.cell_length + 2) if day.done or day.left else "",
            (_work_of(day, snapshot.view), "" if is_today else "$text-muted"),
        )


def _work_of(day: WeekDay, view: TodayView) -> str:
    if day.done and day.left:
        return f"{day.done:,} of {day.done + day.left:,}"
    if day.done or day.left:
        return f"{day.done or day.left:,}"
    return "–" if day.day < view.today else FREE.get(day.role, "free")


def _tiers(subjects: Sequence[SubjectCounts]) -> Iterator[Content]:
    total = sum(subject.counts.total for subject in subjects)
    for tier in Tier:
        count = sum(getattr(subject.counts, tier.word) for subject in subjects)
        bar = "━" * (round(_TIER_BAR * count / total) if total else 0)
        yield tier_mark(tier, pad=True) + Content.styled(f" {count:>7,}  {bar}", STYLES[tier])


def _subjects(subjects: Sequence[SubjectCounts], room: int) -> Iterator[Content]:
    """The subjects in which most is waiting, as many as there is room for."""
    yield Content.styled(
        f"{'Subject':{_SUBJECT}}{'waiting':>{_WAITS}}{'settled':>{_SETTLED}}", "$text-muted"
    )
    most = sorted(subjects, key=lambda subject: -subject.counts.waiting)
    for subject in most[: room - 1]:
        title = Content(subject.title).truncate(_SUBJECT, ellipsis=True, pad=True)
        waiting, settled = subject.counts.waiting, subject.counts.settled
        yield title.append(f"{waiting:>{_WAITS},}{settled:>{_SETTLED},}")
