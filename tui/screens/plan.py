"""The whole plan up to the exam, week by week; every change is tried out before it is kept."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import ClassVar, TypeVar

from msgspec import Struct
from msgspec.structs import replace
from textual.app import ComposeResult
from textual.content import Content
from textual.reactive import var
from textual.widgets import Static

from banks.planning.intents import accept
from banks.views.plan import (
    ComparedPattern,
    PlanOutlook,
    PlanTrial,
    PlanWeek,
    Worths,
)
from banks.views.today import remember_seen
from domain.errors import ResieveError
from domain.plan.changes import (
    with_day_minutes,
    with_day_off,
    with_neighbours_swapped,
    with_paper_moved,
    with_pin,
    with_reserve,
    with_week_off,
    without_paper,
    without_papers,
)
from domain.plan.inputs import PaperDay, PlanInputs
from domain.plan.parsing import format_minutes, parse_day_minutes, parse_minutes
from domain.plan.study_plan import StudyPlan
from domain.responses import PlanAccepted
from tui.actions import Action
from tui.base_screen import READING, AppScreen
from tui.dates import long_day, short_day
from tui.dialogs import ChoiceDialog, PickDialog, TextDialog
from tui.plan_words import (
    PAPER_CHOICES,
    fits_words,
    offer_words,
    pattern_words,
    worth_figure,
    worth_words,
)
from tui.widgets.calendar import (
    LEGEND,
    change_words,
    columns,
    day_words,
    exam_words,
    outlook_words,
    rounds_words,
    week_line,
)
from tui.widgets.virtual_list import Draw, VirtualList

T = TypeVar("T")
_MOST_CHOICES = 14
"""Lines of a choice in sight; more can be scrolled to."""
_TALL = 34
"""Lines of a screen that has room for all a day holds."""


class Offer(Struct, frozen=True):
    """Changed inputs that can be tried; `worth` is what they bring, "" while it is not known."""

    words: str
    inputs: PlanInputs
    worth: str


class PlanScreen(AppScreen):
    """The calendar to the exam. What is tried is shown at once; Enter keeps it, Escape drops it."""

    NAME = "plan"
    HEADING = "Plan"
    ABOUT = (
        "Every week to the exam: which subject is revised, which is swept, what is free. In round "
        "1 half of the subjects are revised and the others swept, by what is missed again and "
        "again; in round 2 they change roles. Arrows go to a day. Changes are previewed, with "
        "their effect on spare days, before you keep them: Enter keeps, Escape drops, u undoes "
        "the last one kept. A day may run a little over its minutes, so that chapters are cut as "
        "little as possible."
    )
    ACTIONS = (
        Action("keep", "enter", "Keep", "Keep what is being tried."),
        Action("step(-1)", "left,h", "", "A day back.", footer=False, palette=False),
        Action("step(1)", "right,l", "", "A day on.", footer=False, palette=False),
        Action("remedies", "f", "Fit", "What would make the plan fit, and other offers."),
        Action("compare", "C", "Compare", "Compare other patterns of work.", footer=False),
        Action("day_off", "x", "Off", "Mark the day off, or no longer off."),
        Action("week_off", "X", "Week off", "Mark the whole week off, or no longer off."),
        Action(
            "reserve",
            "r",
            "Reserve",
            "Make the spare day a reserve day.",
            footer=False,
        ),
        Action("minutes", "m", "Minutes", "Set this one day's minutes."),
        Action("week_minutes", "M", "Week", "Set the minutes of every week."),
        Action("swap(-1)", "left_square_bracket", "Earlier", "The subject one place earlier."),
        Action("swap(1)", "right_square_bracket", "Later", "The subject one place later."),
        Action("paper", "z", "Paper", "Move the day's paper, or leave it out.", footer=False),
        Action("pin", "p", "Pin", "Choose the subject whose block begins in this week."),
        Action("undo", "u", "Undo", "Undo the change kept last."),
        Action("set_up", "e", "Exam & time", "The exam day and all the time you have."),
    )
    CSS = """
    PlanScreen #whole { height: 3; padding: 0 1; }
    PlanScreen #columns { height: 1; color: $text-muted; }
    PlanScreen #tried { height: 1; color: $text-muted; }
    PlanScreen #day { height: 4; padding: 0 1; background: $surface; }
    """
    CHANGES: ClassVar[frozenset[str]] = frozenset(
        ("compare", "day_off", "week_off", "reserve", "minutes", "week_minutes", "swap", "pin")
    )

    weekday: var[int] = var(0)

    def __init__(self) -> None:
        super().__init__()
        self._loaded: PlanTrial | None = None
        self._outlook: PlanOutlook | None = None
        self._worths: Worths = {}

    def body(self) -> ComposeResult:
        """The whole, the weeks, what is tried, the day."""
        yield Static(READING, id="whole")
        yield Static("", id="columns")
        yield VirtualList(empty="")
        yield Static("", id="tried")
        yield Static("", id="day")

    def on_resize(self) -> None:
        """The columns' headings stand where the width has them."""
        self.query_one("#columns", Static).update(Content(columns(self.size.width)))
        self.query_one("#day", Static).styles.height = self._day_lines
        if self._loaded:
            self._show_day()

    @property
    def _day_lines(self) -> int:
        """The lines for the day under the cursor."""
        return 4 if self.size.height < _TALL else 10

    # reading

    def ready(self) -> None:
        """Read banks and log in a thread, then show the plan that is kept."""
        self.in_background(self._read, loads=self._loaded is None)

    def _read(self) -> None:
        try:
            trial = PlanTrial(self.library)
        except ResieveError as problem:
            self.hand_over(self._show_problem, problem)
        else:
            self.hand_over(self._show_kept, trial)
            remember_seen(self.library, trial.plan)
            outlook = trial.outlook()
            self.hand_over(self._show_outlook, trial, outlook)
            self.hand_over(self._show_worths, trial, trial.worths(outlook.offers))

    def _show_outlook(self, trial: PlanTrial, outlook: PlanOutlook) -> None:
        """What takes longer to find comes when it is there."""
        if trial is self._loaded:
            self._outlook = outlook
            self._show()

    def _show_worths(self, trial: PlanTrial, worths: Worths) -> None:
        """What the offers bring comes last."""
        if trial is self._loaded:
            self._worths = worths

    def _weigh(self, trial: PlanTrial, plan: StudyPlan) -> None:
        """In a thread: what the plan that is tried brings."""
        words = worth_words(trial.worth.difference(plan))
        self.hand_over(self._show_worth, trial, plan, words)

    def _show_worth(self, trial: PlanTrial, plan: StudyPlan, words: str) -> None:
        if trial is self._loaded and plan is trial.plan and trial.is_tried:
            self._show_whole(f"{words[0].upper()}{words[1:]}.")

    def _show_problem(self, problem: ResieveError) -> None:
        self._loaded = None
        key = self.key_of("set_up")
        words = f"{problem}\nPress {key} to say when the exam is and how much time you have."
        self.query_one("#whole", Static).update(Content(words))
        self.query_one(VirtualList).show([], self._draw)
        self.refresh_bindings()

    def _show_kept(self, trial: PlanTrial) -> None:
        if self._loaded is None:
            self.weekday = trial.kept.today.weekday()
        elif self._loaded.is_tried:
            return
        self._loaded, self._outlook, self._worths = trial, None, {}
        self._show()
        self.query_one(VirtualList).focus()

    def _show(self) -> None:
        """Draw the plan, kept or tried; the cursor stays where the change was made."""
        trial, rows = self.trial, self.query_one(VirtualList)
        weeks, plan = trial.weeks, trial.plan
        rows.show(weeks, self._draw, selected=rows.selected)
        self.set_title("Plan", exam_words(plan, trial.kept.today))
        self._show_whole()
        if trial.is_tried:
            self.in_background(partial(self._weigh, trial, plan), group="worth")
        tried = change_words(trial.difference) if trial.is_tried else Content(LEGEND)
        self.query_one("#tried", Static).update(tried)
        self.refresh_bindings()

    def _show_whole(self, worth: str = "") -> None:
        trial = self.trial
        outlook = outlook_words(trial.kept, trial.plan, self._outlook)
        lines = [rounds_words(trial.plan), outlook, *([Content(worth)] if worth else [])]
        self.query_one("#whole", Static).update(Content("\n").join(lines))

    # the cursor

    @property
    def trial(self) -> PlanTrial:
        """The plan and what is tried on it; asked for only once that was read."""
        assert self._loaded is not None
        return self._loaded

    @property
    def week(self) -> PlanWeek:
        """The week under the cursor; asked for only where there is a plan."""
        week = self._selected
        assert week is not None
        return week

    @property
    def _selected(self) -> PlanWeek | None:
        week: PlanWeek | None = self.query_one(VirtualList).item
        return week

    def _draw(self, week: PlanWeek, width: int) -> Content:
        return week_line(week, width, self.weekday if week is self._selected else None)

    def on_virtual_list_moved(self) -> None:
        """Another week."""
        self._show_day()

    def watch_weekday(self) -> None:
        """Another day of the week."""
        if self.is_mounted:
            self._show_day()

    def _show_day(self) -> None:
        self.query_one(VirtualList).redraw()
        if self._selected is not None and self._loaded:
            plan, titles = self._loaded.plan, self._loaded.kept.titles
            words = day_words(self._selected, self.weekday, plan, titles, self._day_lines)
            self.query_one("#day", Static).update(words)

    def action_step(self, days: int) -> None:
        """A day on or back; past the week's end into the next."""
        rows = self.query_one(VirtualList)
        there = rows.selected * 7 + self.weekday + days
        if 0 <= there < len(rows.items) * 7:
            rows.selected, self.weekday = divmod(there, 7)

    # trying out

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keep what is tried, fit what doesn't; nothing to change without a plan."""
        if action == "keep":
            return self._loaded is not None and self._loaded.is_tried
        if action == "remedies":
            return self._outlook is not None
        if action == "paper":
            return self._loaded is not None and self._paper is not None
        return action not in self.CHANGES or self._loaded is not None

    def _try(self, change: Callable[[PlanInputs], PlanInputs]) -> None:
        """Change the inputs that are tried, and show the plan they give."""
        try:
            self.trial.change(change)
        except ResieveError as problem:
            self.tell(problem)
        else:
            self._show()

    def action_day_off(self) -> None:
        """The day under the cursor, off or not."""
        day = self.week.day(self.weekday)
        self._try(lambda inputs: with_day_off(inputs, day))

    def action_week_off(self) -> None:
        """The week under the cursor, off or not."""
        day = self.week.monday
        self._try(lambda inputs: with_week_off(inputs, day))

    def action_reserve(self) -> None:
        """The spare day under the cursor, named as reserve or not."""
        day = self.week.day(self.weekday)
        self._try(lambda inputs: with_reserve(inputs, day))

    def action_minutes(self) -> None:
        """Ask for the day's minutes."""
        planned, day = self.week.days[self.weekday], self.week.day(self.weekday)
        value = "+".join(map(str, planned.parts)) if planned else ""
        self._ask(
            f"Minutes on {short_day(day)}, part by part as 30+60. Empty: as every week.",
            value,
            lambda inputs, text: with_day_minutes(inputs, day, parse_day_minutes(text)),
        )

    def action_week_minutes(self) -> None:
        """Ask for the minutes of every week."""
        self._ask(
            "Minutes on each weekday, part by part.",
            format_minutes(self.trial.inputs.minutes),
            lambda inputs, text: replace(inputs, minutes=parse_minutes(text, inputs.minutes)),
        )

    def _ask(
        self, question: str, value: str, change: Callable[[PlanInputs, str], PlanInputs]
    ) -> None:
        def answered(text: str) -> None:
            self._try(lambda inputs: change(inputs, text))

        self.app.push_screen(TextDialog(question, value), _if_given(answered))

    def action_swap(self, step: int) -> None:
        """The subject under the cursor past its neighbour."""
        plan, subject = self.trial.plan, self.week.subject_on(self.weekday)
        if subject:
            self._try(lambda inputs: with_neighbours_swapped(inputs, plan, subject, step))

    @property
    def _paper(self) -> PaperDay | None:
        """The paper of the day under the cursor."""
        if self._selected is None:
            return None
        day = self._selected.day(self.weekday)
        return next((paper for paper in self.trial.plan.paper_days if paper.day == day), None)

    def action_paper(self) -> None:
        """Ask what becomes of the day's paper, and try it."""
        paper, papers = self._paper, self.trial.plan.paper_days
        assert paper is not None

        def change(choice: str) -> None:
            match choice:
                case "l":
                    self._try(lambda inputs: with_paper_moved(inputs, papers, paper.day))
                    self._tell_where(papers)
                case "d":
                    self._try(lambda inputs: without_paper(inputs, papers, paper.day))
                case _:
                    self._try(without_papers)

        words = f"{paper.kind.capitalize()}, planned for {long_day(paper.day)}:"
        self.app.push_screen(ChoiceDialog(words, PAPER_CHOICES), _if_given(change))

    def _tell_where(self, before: Sequence[PaperDay]) -> None:
        """Name the day that a moved paper is tried on, and go there."""
        days = {paper.day for paper in before}
        moved = next((paper for paper in self.trial.plan.paper_days if paper.day not in days), None)
        if moved is None:
            self.tell("No later day has room: it is left out.")
            return
        weeks = self.trial.weeks
        self.query_one(VirtualList).selected = (moved.day - weeks[0].monday).days // 7
        self.weekday = moved.day.weekday()
        self.tell(f"{moved.kind.capitalize()} moved to {long_day(moved.day)}.")

    def action_pin(self) -> None:
        """Choose who begins in this week."""
        week, plan, titles = self.week, self.trial.plan, self.trial.kept.titles
        coming = {visit.subject for visit in plan.coming() if not visit.sweep}
        subjects = [subject for subject in plan.order if subject in coming]
        here = {turn.subject for turn in week.blocks if turn.pinned}
        freeing = dict.fromkeys(here, "  (pinned here: free it)")

        def line(subject: str, width: int) -> Content:
            words = titles[subject] + freeing.get(subject, "")
            return Content(words).truncate(width, ellipsis=True)

        def pin(name: str) -> None:
            self._try(lambda inputs: with_pin(inputs, plan, name, week.monday))

        beginning = next((turn.subject for turn in week.blocks if turn.subject in subjects), "")
        selected = subjects.index(beginning) if beginning else 0
        question = f"Which subject starts in the week of {short_day(week.monday)}?"
        self._pick(question, subjects, line, pin, selected)

    def _pick(
        self,
        question: str,
        items: Sequence[T],
        line: Draw[T],
        take: Callable[[T], None],
        selected: int = 0,
    ) -> None:
        dialog = PickDialog(question, items, line, selected=selected, most_lines=_MOST_CHOICES)
        self.app.push_screen(dialog, _if_given(take))

    def _offers(self) -> list[Offer]:
        """What may be accepted with one key: remedies of a short plan, advice, the own pace."""
        if self._loaded is None or self._outlook is None:
            return []
        words = offer_words(self._outlook, self._loaded.kept)
        return [
            Offer(words[name], inputs, self._worth_of(name))
            for name, inputs in self._outlook.offers.items()
        ]

    def _worth_of(self, name: str) -> str:
        """What an offer brings, once that is known."""
        return worth_figure(self._worths[name]) if name in self._worths else ""

    def action_remedies(self) -> None:
        """Choose an offer, and try it."""
        offers, kept = self._offers(), self.trial.kept.plan
        if not offers:
            self.tell(f"{fits_words(kept)} Nothing needs to change.")
            return
        question = "Each of these makes the plan fit, the last as far as it can:"
        if kept.feasible:
            question = "On offer:"
        self._choose_offer(question, offers)

    def _choose_offer(self, question: str, offers: Sequence[Offer]) -> None:
        """Choose one, with what it brings in the score, and try it."""

        def take(offer: Offer) -> None:
            self._try(lambda _: offer.inputs)

        dialog = PickDialog(question, offers, _offer_line, in_full=lambda offer: offer.words)
        self.app.push_screen(dialog, _if_given(take))

    def action_compare(self) -> None:
        """Compare patterns, and try the one chosen."""
        trial = self.trial

        def show(patterns: list[ComparedPattern]) -> None:
            offers = [
                Offer(pattern_words(pattern), pattern.pattern.inputs, worth_figure(pattern.worth))
                for pattern in patterns
            ]
            self._choose_offer("Against the plan that is kept, in the exam's score:", offers)

        self.in_background(lambda: self.hand_over(show, trial.patterns()), group="patterns")

    # keeping

    def on_virtual_list_picked(self) -> None:
        """Enter."""
        self.action_keep()

    def action_keep(self) -> None:
        """Keep what is tried."""
        if self._loaded and self._loaded.is_tried:
            self._save(lambda: accept(self.library, self.trial.inputs))

    def action_undo(self) -> None:
        """Take the last kept change back; what is only tried is dropped first."""
        if self._loaded and self._loaded.is_tried:
            self.action_back()
        else:
            self._save(self._undo)

    def _undo(self) -> None:
        newest = self.library.newest
        if newest and any(isinstance(record, PlanAccepted) for record in newest.records):
            self.library.undo()
        else:
            self.tell("Nothing to undo here.")

    def _save(self, save: Callable[[], object]) -> None:
        try:
            save()
        except ResieveError as problem:
            self.tell(problem)
        else:
            if self._loaded:
                self._loaded.drop()
            self.ready()

    def action_back(self) -> None:
        """Drop what is tried, else leave."""
        if self._loaded and self._loaded.is_tried:
            self._loaded.drop()
            self._show()
        else:
            super().action_back()

    def action_set_up(self) -> None:
        """The form with everything the plan needs."""
        from tui.screens.start import StartScreen

        self.app.push_screen(StartScreen())


def _offer_line(offer: Offer, width: int) -> Content:
    """What is on offer, and on the right what it brings."""
    room = max(8, width - len(offer.worth) - 2)
    words = Content(offer.words).truncate(room, ellipsis=True, pad=True)
    return Content.assemble(words, "  ", (offer.worth, "bold"))


def _if_given(take: Callable[[T], None]) -> Callable[[T | None], None]:
    """A dialog's callback that does nothing where the dialog was left without an answer."""
    return lambda given: None if given is None else take(given)
