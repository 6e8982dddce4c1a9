"""How did the week go, and what comes next? Shown once a week before Today."""

from collections.abc import Iterator

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content

from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.views.plan import OWN_PACE, PlanOutlook, PlanView, plan_outlook, plan_view
from banks.views.week import LostMarks, WeekView, WeekVisit, absence_cost, remember_week, week_view
from domain.errors import ResieveError
from domain.evidence.intervals import Interval
from domain.plan.inputs import LAST_DAYS, PlanInputs
from domain.plan.study_plan import EntryKind
from domain.text import counted, listed
from tui.actions import Action
from tui.base_screen import READING, SCROLL, AppScreen
from tui.dates import days_to_exam, short_day, time_words
from tui.dialogs import TextDialog
from tui.plan_words import absence_marks, finish_words, offer_words
from tui.tier_reasons import waiting_count_words
from tui.widgets.text_block import TextBlock, hanging

_LABEL = 10
_MOST_OFFERS = 3
_ABSENCE_DAYS = 3
"""So many planned days in a row without work are an absence, and are told kindly."""


class WeekScreen(AppScreen):
    """The week that is over, and at most one decision for the next one."""

    NAME = "week"
    HEADING = "Week"
    ABOUT = (
        "The seven days that are over beside their plan, what was missed and why, and the visits "
        "of the next seven. Nothing here has to be decided: Enter goes on."
    )
    ACTIONS = (
        Action("go_on", "enter", "Go on", "Go on to today's plan."),
        *(
            Action(
                f"take({number})", str(number), f"Take {number}", "Take this offer.", footer=False
            )
            for number in range(1, _MOST_OFFERS + 1)
        ),
        Action("write", "e", "Own line", "Write a line to yourself that stands here every week."),
        *SCROLL,
    )
    CSS = """
    WeekScreen VerticalScroll { padding: 1 2 0 2; scrollbar-size-vertical: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._view: WeekView | None = None
        self._kept: PlanView | None = None
        self._outlook: PlanOutlook | None = None
        self._cost: Interval | None = None
        self._taken = ""

    def body(self) -> ComposeResult:
        """One page."""
        with VerticalScroll():
            yield TextBlock(READING, id="week")

    def ready(self) -> None:
        """Read the week in a thread, then what could be decided."""
        self.in_background(self._read, loads=self._view is None)

    def _read(self) -> None:
        workload = PlanWorkload(self.library)
        view, kept = week_view(self.library, workload), plan_view(workload)
        self.hand_over(self._show, view, kept)
        remember_week(self.library, view.first)
        outlook = plan_outlook(workload, kept.plan)
        self.hand_over(self._show, view, kept, outlook)
        if view.longest_gap >= _ABSENCE_DAYS:
            cost = absence_cost(self.library, workload, view.longest_gap)
            self.hand_over(self._show, view, kept, outlook, cost)

    def _show(
        self,
        view: WeekView,
        kept: PlanView,
        outlook: PlanOutlook | None = None,
        cost: Interval | None = None,
    ) -> None:
        self._view, self._kept, self._outlook, self._cost = view, kept, outlook, cost
        days = (view.exam - kept.today).days
        self.set_title(
            f"The week of {short_day(view.first)} to {short_day(view.last)}", days_to_exam(days)
        )
        self.query_one("#week", TextBlock).show(self._page)

    def _page(self, width: int) -> Content:
        view = self._view
        if view is None:
            return Content("")
        parts = [
            *done_lines(view, width, self._cost),
            *self._finish(width),
            Content(),
            *ahead_lines(view.ahead),
            *self._decision(width),
            *self._own_line(view.own_line, width),
        ]
        return Content("\n").join(parts)

    def _finish(self, width: int) -> Iterator[Content]:
        if self._outlook and self._outlook.finishes and self._view and not self._is_last_week:
            words = finish_words(self._outlook.finishes[-1], self._view.exam)
            yield _labelled("Finish", words, width)

    @property
    def _is_last_week(self) -> bool:
        view, kept = self._view, self._kept
        return bool(view and kept and (view.exam - kept.today).days <= LAST_DAYS)

    def _offers(self) -> list[tuple[str, PlanInputs]]:
        """The two or three changes of the one decision there may be, in words."""
        outlook, kept = self._outlook, self._kept
        if outlook is None or kept is None:
            return []
        if outlook.levers:
            levers = [*outlook.levers[: _MOST_OFFERS - 1], outlook.levers[-1]]
            names = list(dict.fromkeys(lever.accept for lever in levers))
        else:
            names = [OWN_PACE] if outlook.pace else []
            if outlook.advice and not outlook.at_attendance.feasible:
                names.append(outlook.advice.accept)
        words, inputs = offer_words(outlook, kept), outlook.offers
        return [(words[name], inputs[name]) for name in names]

    def _decision(self, width: int) -> Iterator[Content]:
        offers = self._offers()
        if self._taken:
            yield Content()
            yield Content(f"Taken: {self._taken.rstrip('.')}. u on Plan undoes it.")
        if not offers or self._kept is None:
            return
        yield Content()
        heading = "On offer:" if self._kept.plan.feasible else "The plan is short; on offer:"
        yield Content.styled(heading, "bold")
        for number, (words, _) in enumerate(offers, 1):
            yield hanging(Content.styled(f"  {number}  ", "bold $accent"), Content(words), width)

    def _own_line(self, line: str, width: int) -> Iterator[Content]:
        yield Content()
        if line:
            yield hanging(Content.styled("Your line  ", "$muted"), Content(line), width)
        else:
            yield Content.styled(
                f"{self.key_of('write')} writes a line of your own: when …, then …", "$muted"
            )

    def action_go_on(self) -> None:
        """Leave the page."""
        self.action_back()

    def action_take(self, number: int) -> None:
        """Accept an offer; undone like any act."""
        offers = self._offers()
        if number > len(offers):
            return
        words, inputs = offers[number - 1]
        try:
            accept(self.library, inputs)
        except ResieveError as problem:
            self.tell(problem)
        else:
            self._taken = words
            self.ready()

    def action_write(self) -> None:
        """Ask for the candidate's own line."""
        question = "A line to yourself: when …, then … Empty: none."
        line = self._view.own_line if self._view else ""
        self.app.push_screen(TextDialog(question, line), self._keep_line)

    def _keep_line(self, line: str | None) -> None:
        if line is None or self._view is None:
            return
        try:
            self.library.change_settings(own_line=line.strip())
        except ResieveError as problem:
            self.tell(problem)
        else:
            self._view = replace(self._view, own_line=line.strip())
        self.query_one("#week", TextBlock).show(self._page)


def done_lines(view: WeekView, width: int, cost: Interval | None = None) -> Iterator[Content]:
    """What was done of the week's plan, what an absence cost, what is waiting, what was missed."""
    yield Content.styled(_done(view), "bold")
    yield Content(_in_all(view))
    if view.longest_gap >= _ABSENCE_DAYS:
        words = absence_words(view.longest_gap, cost, view.gap_before)
        yield from Content(words).wrap(max(width, 8))
    yield Content()
    yield _labelled("Waiting", waiting_count_words(view.waiting), width)
    change = f" ({abs(view.settled):,} {'more' if view.settled > 0 else 'fewer'} than a week ago)"
    settled = f"{view.waiting.settled:,}{change if view.settled else ''}"
    yield _labelled("Settled", settled, width)
    if view.lost:
        yield _labelled("Missed", missed_words(view.lost, view.exam_questions), width)


def absence_words(days: int, cost: Interval | None, days_before: int = 0) -> str:
    """What planned days in a row without work came to, kindly; `days_before` of them lie before
    the week, which may have been worked whole.
    """
    when = f" ({days_before} before this week)" if days_before else ""
    if days_before == days:
        when = " before this week"
    lost = f" cost {absence_marks(cost)}" if cost else ""
    away = f"{counted(days, 'planned day')} in a row without work"
    return f"{away}{when}{lost}: replanned, no need to catch up."


def _done(view: WeekView) -> str:
    if not view.planned:
        return "No visit was planned."
    return f"{view.done:,} of {counted(view.planned, 'planned question')} done"


def _in_all(view: WeekView) -> str:
    """The days with work, and all that was answered on them."""
    days = counted(view.days_kept, "day")
    time = f" in {time_words(view.minutes)}" if round(view.minutes) else ""
    planned = f", {view.days_planned} planned" if view.planned else ""
    return f"Work on {days}{planned}; {counted(view.answered, 'question')} answered{time}."


def missed_words(lost: tuple[LostMarks, ...], exam_questions: int) -> str:
    """ "12 misread (15 marks) and 1 slip; in brackets what 100 such questions would cost": no marks
    where `exam_questions` is 0 or they are less than one.
    """
    costs = [round(each.marks) if exam_questions else 0 for each in lost]
    words = listed(
        f"{each.responses:,} {each.reason.value if each.reason else 'without a reason'}"
        + (f" ({counted(cost, 'mark')})" if cost else "")
        for each, cost in zip(lost, costs, strict=True)
    )
    if not any(costs):
        return words
    return f"{words}; in brackets what {exam_questions:,} such questions would cost"


def ahead_lines(visits: tuple[WeekVisit, ...]) -> Iterator[Content]:
    """The visits of the next seven days."""
    yield Content.styled("The next seven days", "bold")
    if not visits:
        yield Content("  No visits; only spare days")
    for visit in visits:
        days = short_day(visit.first)
        if visit.last != visit.first:
            days += f" – {short_day(visit.last)}"
        verb = "sweep" if visit.kind is EntryKind.SWEEP else "revise"
        count = (
            counted(visit.questions, "question")
            if visit.questions
            else "nothing missed twice so far"
        )
        yield Content.assemble(
            (f"  {days:<25}", "$muted"), f"{verb} {visit.subject_title}, {count}"
        )


def _labelled(label: str, words: str, width: int) -> Content:
    return hanging(Content.styled(f"{label:<{_LABEL}}", "$muted"), Content(words), width)
