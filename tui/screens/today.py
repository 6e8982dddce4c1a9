"""What do I do now? Today's lines of the plan, what was left open, and what lies ahead."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from msgspec import Struct
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from banks.views.kept_views import StartupSnapshot, files_of, keep_snapshots, startup_snapshot
from banks.views.open_sittings import OpenSitting
from banks.views.today import LineKind, TodayLine, TodayView
from domain.errors import ResieveError
from domain.questions import slug
from domain.responses import AnyRecord, Purpose
from domain.text import counted
from tui.actions import Action
from tui.base_app import DRILL_FORM
from tui.base_screen import READING, AppScreen
from tui.dates import days_to_exam, long_day, short_day
from tui.dialogs import ChoiceDialog, PickDialog, TextDialog, given
from tui.plan_words import (
    PAPER_CHOICES,
    final_choices,
    final_question,
    paper_words,
    pass_words,
    worth_words,
)
from tui.screens.launch import begin, go_on, print_sheet, take_paper
from tui.widgets.upcoming import beside, headline, upcoming
from tui.widgets.virtual_list import VirtualList

if TYPE_CHECKING:
    from banks.planning.workload import PlanWorkload
    from banks.views.plan import FinalRevision
    from domain.evidence.differences import ScoreDifference
    from domain.evidence.intervals import Interval

_WIDE = 104
_BESIDE, _MARGINS = 45, 4
_AROUND = 11
"""Lines that the day's own must leave for what stands around them."""
_MOST_LINES = 14
"""Lines of a dialog in sight; more can be scrolled to."""
_AT_ONCE = 5_000
"""Up to so many questions are looked through before the screen is drawn, more in a thread."""


class FinalQuestion(Struct, frozen=True):
    """The line that asks how the last days of a short plan shall go."""

    days: int
    unreached: int
    left: int = 1


_OF_A_LINE = ("start", "start_other", "end", "enough", "by_chapter")
"""Actions that there are for the selected line alone."""


class ShortDayOffer(Struct, frozen=True):
    """The line that offers a short first day after an absence."""

    minutes: int
    left: int = 0


TodayItem = TodayLine | OpenSitting | FinalQuestion | ShortDayOffer


class TodayScreen(AppScreen):
    """Today's plan, and the way to everything else."""

    NAME = "today"
    HEADING = "Today"
    ABOUT = (
        "What to do now, by part of the day. Enter starts the selected line: on screen where the "
        "questions have their text, else with the printed bank beside you. What you left open "
        "is listed below and resumes where you stopped."
    )
    ACTIONS = (
        Action("start", "enter", "Start", "Start the selected line, or resume it."),
        Action("start_other", "o", "Other way", "Start it the other way: on paper, or on screen."),
        Action(
            "by_chapter",
            "c",
            "By chapter",
            "Show a pass by chapter, and what it leaves out.",
            footer=False,
        ),
        Action(
            "ahead",
            "greater_than_sign",
            "Next day",
            "Show the lines of the next day, to begin on them now.",
        ),
        DRILL_FORM,
        Action("take_short_day", "1", "Short day", "Take the short first day that is offered."),
        Action("enough", "z", "Enough", "End the selected sweep, or move or drop a paper."),
        Action(
            "print",
            "P",
            "Print",
            "Print the selected line as a sheet, to enter later.",
            footer=False,
        ),
        Action("undo", "u,backspace", "Undo", "Undo the last action.", footer=False),
        Action("end", "x", "End", "End the selected sitting for good; its responses stay."),
        Action(
            "read_through",
            "V",
            "Read through",
            "Read a finished sitting through, question by question.",
            footer=False,
        ),
        Action("app.visit('week')", "W", "Week", "Look back on the week.", footer=False),
        Action("came", "n", "What came", "Record what came in the exam, once it is over."),
        Action("set_up", "e", "Exam & time", "The exam day and the time you have."),
    )
    BACK = Action("back", "q", "Leave", "Leave resieve; everything is saved.", footer=False)
    CSS = """
    TodayScreen #headline { height: auto; padding: 1 2 0 2; }
    TodayScreen VirtualList { height: 1fr; margin: 1 0 0 0; }
    TodayScreen #ahead { height: auto; padding: 1 2; }
    TodayScreen #beside {
        width: 45; height: 1fr; display: none; padding: 1 2; border-left: solid $panel;
    }
    TodayScreen.wide #beside { display: block; }
    """

    _found: StartupSnapshot | None = None
    _is_ahead = _has_looked_back = False
    _ended_sitting = _result_words = ""
    """Of the line that was just drilled to its end."""
    _preselected = _absence_days = _item_count = 0
    _absence_cost: "Interval | None" = None
    """What the absence that just ended cost, in marks, once that is known."""

    def body(self) -> ComposeResult:
        """The day on the left; where everything stands on the right, if there is room."""
        with Horizontal():
            with Vertical():
                yield Static(READING, id="headline")
                yield VirtualList(empty="")
                yield Static("", id="ahead")
            yield Static("", id="beside")

    def on_resize(self) -> None:
        """A wide terminal shows the week and the tiers beside the day."""
        self.set_class(self.size.width >= _WIDE, "wide")
        self._draw_words()

    def on_mount(self) -> None:
        """Show the day as it was left, if it still is so, while the history is read."""
        if self.app.glance:
            self._show(self.app.glance)
        super().on_mount()

    def ready(self) -> None:
        """Show the day; on the very first run, ask what it needs."""
        if not self.library.is_set_up:
            self._first_run()
        elif self.library.question_count <= _AT_ONCE:
            self._look()
        else:
            waits = self._found is None or bool(self._result_words)
            self.in_background(self._look_behind, group="glance", loads=waits)
        if not self._has_looked_back:
            self._look_back()

    def _look_back(self) -> None:
        """Once a week the week's page comes first."""
        from banks.views.week import week_due

        self._has_looked_back = True
        if self.is_current and week_due(self.library):
            self.app.push_screen(self.app.new_screen("week"))

    def _look(self) -> None:
        from banks.planning.intents import begin_day

        try:
            workload = begin_day(self.library)
            snapshot = startup_snapshot(
                self.library, workload, ahead=self._is_ahead, may_choose=False
            )
        except ResieveError as problem:
            self._say(problem)
        else:
            self._show(snapshot)
            if snapshot.view.is_choosing:
                self.in_background(self._look_behind, group="glance")
            elif workload is not None and (days := snapshot.view.missed_days):
                self.in_background(partial(self._tell_absence, workload, days), group="absence")

    def _look_behind(self) -> None:
        from banks.planning.intents import begin_day

        files = files_of(self.library.folder)

        def keep(records: Sequence[AnyRecord]) -> None:
            nonlocal files
            self.app.call_from_thread(self.library.keep, records)
            files = files_of(self.library.folder)

        try:
            workload = begin_day(self.library, keep)
            for may_choose in (False, True):
                snapshot = startup_snapshot(
                    self.library, workload, ahead=self._is_ahead, may_choose=may_choose
                )
                self.hand_over(self._show, snapshot)
                if not snapshot.view.is_choosing:
                    break
            if not self.library.read_only and not self._is_ahead:
                keep_snapshots(self.library, files, snapshot)
            if workload is not None:
                self._tell_absence(workload, snapshot.view.missed_days)
        except ResieveError as problem:
            self.hand_over(self._say, problem)

    def _say(self, problem: ResieveError) -> None:
        self.query_one("#headline", Static).update(Content(str(problem)))

    def _show(self, snapshot: StartupSnapshot) -> None:
        view, left = snapshot.view, list(snapshot.left)
        was_choosing = self._found is not None and self._found.view.is_choosing
        name = "Ahead" if view.is_ahead else "Today"
        self.set_title(
            f"{name} · {long_day(view.day or view.today)}", days_to_exam(view.days_to_exam)
        )
        self._found = snapshot
        listed = self.query_one(VirtualList)
        question = (
            [FinalQuestion(view.days_to_exam, view.beyond)]
            if view.asks_final and not view.is_quiet
            else []
        )
        offer = [ShortDayOffer(view.short_day)] if view.short_day else []
        items: list[TodayItem] = [*question, *offer, *view.lines, *left]
        chosen = next((n for n, item in enumerate(items) if item.left), 0)
        if was_choosing and listed.selected != self._preselected and listed.item in items:
            chosen = items.index(listed.item)  # only the pass came, and another line was selected
        self._preselected = chosen
        self._item_count = len(items)
        self._draw_words()
        parts = {line.part for line in view.lines}
        blocks = {line.subject_title for line in view.lines if line.kind is LineKind.BLOCK}
        listed.styles.height = max(1, min(len(items), self.app.size.height - _AROUND))
        listed.show(items, partial(_line, parts=parts, blocks=blocks), selected=chosen)
        listed.focus()
        if self._result_words:
            self._follow_on(view)

    def _tell_absence(self, workload: "PlanWorkload", days: int) -> None:
        """In a thread: what an absence of so many planned days cost, once a day."""
        from banks.views.week import absence_cost

        if not days or days == self._absence_days:
            return
        self._absence_days = days
        self.hand_over(self._show_absence, absence_cost(self.library, workload, days))

    def _show_absence(self, cost: "Interval | None") -> None:
        self._absence_cost = cost
        self._draw_words()

    def _draw_words(self) -> None:
        """What stands around the lines, in the width there is."""
        if self._found is None:
            return
        view, width = self._found.view, self.app.size.width - _MARGINS
        width -= _BESIDE if self.has_class("wide") else 0
        self.query_one("#headline", Static).update(headline(view, width))
        self.query_one("#ahead", Static).update(
            upcoming(view, self._space(), width, self._absence_cost)
        )
        self.query_one("#beside", Static).update(beside(self._found, self.app.size.height - 4))

    def _space(self) -> int:
        """Lines there are for what lies ahead."""
        return self.app.size.height - self._item_count - 8

    def _first_run(self) -> None:
        self.query_one("#headline", Static).update(
            Content("Nothing is set up yet. Press e to begin: it takes two minutes.")
        )
        if not self.library.read_only and not self.app.has_greeted:
            self.app.has_greeted = True
            self.action_set_up()

    # starting

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only a sitting that was left can be ended; a mock paper is handed in instead. Once the
        exam is over there is no next day, but what came. Without a plan or questions only the way
        to them is offered.
        """
        view = self._found.view if self._found is not None else None
        is_empty = self.app.is_ready and not self.library.is_set_up
        if action == "came":
            return view is not None and view.days_to_exam < 0
        if action == "ahead":
            return not is_empty and (view is None or view.days_to_exam >= 0)
        if action == "take_short_day":
            return view is not None and bool(view.short_day)
        if action == DRILL_FORM.name:
            return not self.app.is_ready or self.library.question_count > 0
        if not self.is_mounted or action not in _OF_A_LINE:
            return True
        item = self.query_one(VirtualList).item
        if action == "start":
            return item is not None or not (is_empty or view)
        if action == "start_other":
            return isinstance(item, TodayLine) or not (is_empty or view)
        if action == "by_chapter":
            return isinstance(item, TodayLine) and item.kind is LineKind.PASS
        if action == "enough":
            return isinstance(item, TodayLine) and item.kind in (LineKind.SWEEP, LineKind.PAPER)
        return isinstance(item, OpenSitting) and item.purpose is not Purpose.PAPER

    def on_virtual_list_moved(self) -> None:
        """Show the keys that fit the selected line."""
        self.refresh_bindings()

    def on_virtual_list_picked(self) -> None:
        """Enter, or a click."""
        self.action_start()

    def action_start(self) -> None:
        """Start the selected line."""
        self.app.when_ready(partial(self._start, other_way=False))

    def action_start_other(self) -> None:
        """Start it the other way."""
        self.app.when_ready(partial(self._start, other_way=True))

    def _start(self, *, other_way: bool) -> None:
        if self.app.screen is not self:  # a second Enter, faster than the first one's screen
            return
        match self.query_one(VirtualList).item:
            case OpenSitting() as left:
                go_on(self.app, left)
            case TodayLine() as line:
                self._start_line(line, other_way=other_way)
            case FinalQuestion():
                self.in_background(self._read_final, group="final")
            case ShortDayOffer():
                self._shorten_day()

    def action_take_short_day(self) -> None:
        """Take the short first day, wherever the cursor is."""
        self.app.when_ready(self._shorten_day)

    def _shorten_day(self) -> None:
        from banks.planning.intents import shorten_day

        minutes = self._found.view.short_day if self._found else 0
        if not minutes:
            return
        try:
            shorten_day(self.library, minutes)
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.tell(f"Today has {minutes} minutes. u on Plan undoes it.")
        self.ready()

    def _read_final(self) -> None:
        """In a thread: what each way through the last days leaves out, and the difference."""
        from banks.planning.workload import PlanWorkload
        from banks.views.plan import final_revision
        from banks.views.plan_worth import PlanWorth

        workload = PlanWorkload(self.library)
        asked = final_revision(workload)
        if asked is not None:
            worth = PlanWorth(self.library, workload).of(asked.inputs)
            self.hand_over(self._ask_final, asked, worth)

    def _ask_final(self, asked: "FinalRevision", worth: "ScoreDifference | None") -> None:
        """Ask how the last days shall go; Escape leaves it open."""
        from banks.planning.intents import accept

        go_on, final = final_choices(asked)
        keys = dict(zip("vw", asked.offers.values(), strict=True))

        def answered(key: str) -> None:
            try:
                accept(self.library, keys[key])
            except ResieveError as problem:
                self.tell(problem)
            else:
                self.tell("Kept. u on Plan undoes it.")
            self.ready()

        choices = [("v", go_on), ("w", f"{final}; {worth_words(worth)}")]
        self.app.push_screen(ChoiceDialog(final_question(asked), choices), given(answered))

    def _start_line(self, line: TodayLine, *, other_way: bool) -> None:
        if line.kind is LineKind.PAPER:
            take_paper(self, line)
            return
        from tui.screens.drill import DayRun

        left = self._left_open(line)
        todo = [item.question for item in line.items if not item.done]
        day_run = DayRun(self._line_ended, self._result_words, self._ended_sitting)
        if left and not other_way:
            go_on(self.app, left, day_run)
        elif todo:
            begin(self.app, line.title, line.purpose, todo, other_way=other_way, day_run=day_run)
        else:
            key = self.key_of("ahead")
            self.tell(f"This line is done: choose another one, or {key} for the next day.")

    def _line_ended(self, sitting: str, words: str) -> None:
        """A line was drilled to its end: once Today is up again, the next one follows."""
        self._ended_sitting, self._result_words = sitting, words

    def _follow_on(self, view: TodayView) -> None:
        """Begin the next line that the day needs, which says what the one that ended came to."""
        following = next((line for line in view.planned if line.items and line.left), None)
        if following is not None:
            self._start_line(following, other_way=False)
        else:
            self.notify(self._result_words)
        self._ended_sitting = self._result_words = ""

    def _left_open(self, line: TodayLine) -> OpenSitting | None:
        """The sitting that was left and that this line goes on with, if there is one."""
        from banks.views.open_sittings import is_of_line, open_sittings

        for sitting in open_sittings(self.library):
            if is_of_line(self.library, sitting, line.purpose, line.questions):
                return sitting
        return None

    def action_print(self) -> None:
        """Print the selected line: it comes back as a sheet to enter."""
        self.app.when_ready(self._print)

    def _print(self) -> None:
        from banks.sittings.printed_sheets import print_lines

        line = self.query_one(VirtualList).item
        if not isinstance(line, TodayLine) or not line.left:
            self.tell("Select a line with questions left to print.")
            return
        name = f"{slug(line.title.replace('–', '-'))}-{self.library.today()}.pdf"
        print_sheet(self, name, lambda path: print_lines(self.library, [line], path))

    def action_by_chapter(self) -> None:
        """The selected pass, chapter by chapter."""
        self.app.when_ready(self._by_chapter)

    def _by_chapter(self) -> None:
        from banks.planning.visits import chosen_pass
        from tui.sweep_words import why_pass

        line = self.query_one(VirtualList).item
        if isinstance(line, TodayLine) and line.kind is LineKind.PASS:
            chosen = chosen_pass(self.library, self.library.today())
            listed = list(why_pass(line, chosen))
            title = f"{line.title}: {counted(line.count, 'question')}, {line.minutes:.0f} minutes"
            self.app.push_screen(
                PickDialog(title, listed, _cut, most_lines=_MOST_LINES, is_read_only=True)
            )

    def action_ahead(self) -> None:
        """The next day's lines, or today's again."""
        self._is_ahead = not self._is_ahead
        self.ready()

    def action_enough(self) -> None:
        """End the selected sweep."""
        self.app.when_ready(self._enough)

    def _enough(self) -> None:
        from banks.planning.intents import enough

        line = self.query_one(VirtualList).item
        if isinstance(line, TodayLine) and line.kind is LineKind.PAPER:
            words = f"{line.paper.capitalize()}, planned for {long_day(self._shown_day)}:"
            self.app.push_screen(ChoiceDialog(words, PAPER_CHOICES), given(self._change_paper))
        if isinstance(line, TodayLine) and line.kind is LineKind.SWEEP:
            try:
                title = enough(self.library, f"{line.bank}/{line.subject}")
            except ResieveError as problem:
                self.tell(problem)
            else:
                self.tell(f"The sweep of {title} is done. {self.key_of('undo')} undoes it.")
                self.ready()

    @property
    def _shown_day(self) -> date:
        """The day whose lines are listed."""
        assert self._found is not None
        return self._found.view.day or self._found.view.today

    def _change_paper(self, choice: str) -> None:
        """Move or drop the paper of the day shown, or plan none."""
        from banks.planning.intents import drop_paper, move_paper, papers_off

        try:
            if choice == "l":
                day = move_paper(self.library, self._shown_day)
                words = f"Moved to {long_day(day)}." if day else "No later day has room: left out."
            else:
                if choice == "d":
                    drop_paper(self.library, self._shown_day)
                else:
                    papers_off(self.library)
                words = "Left out." if choice == "d" else "No papers are planned any more."
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.notify(f"{words} {self.key_of('undo')} undoes it.")
            self.ready()

    def action_undo(self) -> None:
        """Undo what was done last, wherever that was."""
        self.app.when_ready(self._undo)

    def _undo(self) -> None:
        try:
            undone = self.library.undo()
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.tell(f"Undone: {undone.label}." if undone else "Nothing to undo.")
            self.ready()

    def action_end(self) -> None:
        """End the selected sitting."""
        self.app.when_ready(self._end)

    def _end(self) -> None:
        item = self.query_one(VirtualList).item
        if isinstance(item, OpenSitting):
            try:
                self.library.close_sitting(item.id)
            except ResieveError as problem:
                self.tell(problem)
            self.ready()

    def action_read_through(self) -> None:
        """Choose a sitting to read through."""
        from tui.screens.read_through import choose_sitting

        self.app.when_ready(partial(choose_sitting, self.app))

    def action_came(self) -> None:
        """Ask what came in the exam."""
        self.app.when_ready(self._ask_what_came)

    def _ask_what_came(self) -> None:
        from banks.views.exam import tell_topics

        def keep(text: str) -> None:
            try:
                count = tell_topics(self.library, text)
            except ResieveError as problem:
                self.tell(problem)
            else:
                self.tell(
                    f"{counted(count, 'topic')} recorded. `export --handover` passes them on."
                )

        question = "What came in the exam: subjects, chapters or your own words"
        hint = "Clouds; 2 Direction; a question on halos"
        self.app.push_screen(TextDialog(question, hint=hint), given(keep))

    def action_set_up(self) -> None:
        """The exam day and the time there is."""
        from tui.screens.start import StartScreen

        self.app.push_screen(StartScreen())


def _line(item: TodayItem, width: int, *, parts: set[str], blocks: set[str]) -> Content:
    """A line of the day; its part and its subject only where the day has several."""
    if isinstance(item, FinalQuestion):
        unreached = counted(item.unreached, "question")
        words = f"{counted(item.days, 'day')} left, {unreached} not reached: choose how to go on"
        return Content.styled(words, "bold $accent").truncate(width, ellipsis=True)
    if isinstance(item, ShortDayOffer):
        words = f"1  Begin with {item.minutes} minutes only; the rest is replanned"
        return Content.styled(words, "$accent").truncate(width, ellipsis=True)
    if isinstance(item, OpenSitting):
        return _left_open(item, width)
    part = f"{item.part:<9}" if len(parts) > 1 else ""
    numbers = item.numbers or _sweep_words(item)
    count = f"{item.count:>4} q {item.minutes:>4.0f} min "
    mark = "✓ done   " if not item.left else f"{item.done:>3} of {item.count:<3}"
    titles = {
        LineKind.SWEEP: f"Sweep {item.subject_title}",
        LineKind.PAPER: paper_words(item).capitalize(),
        LineKind.PASS: pass_words(item, with_count=False) if item.kind is LineKind.PASS else "",
        LineKind.FIRST_STUDY: f"First study {item.subject_title} · {item.chapter_title}",
    }
    block = " · ".join(filter(None, [item.subject_title * (len(blocks) > 1), item.chapter_title]))
    title = titles.get(item.kind, block)
    space = width - len(part) - len(numbers) - len(count) - len(mark) - 3
    name = Content(title).truncate(max(space, 8), ellipsis=True)
    gap = " " * max(1, space - name.cell_length + 1)
    return Content.assemble(
        (part, "$text-muted"),
        name,
        gap,
        numbers,
        " ",
        count,
        " ",
        (mark, "$success" if not item.left else "bold"),
    )


def _cut(words: str, width: int) -> Content:
    return Content(words).truncate(width, ellipsis=True)


def _sweep_words(line: TodayLine) -> str:
    """How many of a sweep's questions stand under lines of their own."""
    also = sum(item.also_open for item in line.items)
    untried = sum(item.untried for item in line.items)
    words = [f"{also} also open"] if also else []
    words += [f"{untried} untried: mark with the book open"] if untried else []
    return ", ".join(words)


def _left_open(item: OpenSitting, width: int) -> Content:
    done = item.total - item.left
    if item.needs_key:
        words, state = f"Answer key: {item.title}", f"{item.needs_key} without a key"
    elif item.is_sheet:
        words = f"Enter sheet of {short_day(item.day)}: {item.title}"
        state = f"{done} of {item.total}" if done else counted(item.total, "question")
    else:
        words = f"Resume: {item.title}"
        state = f"{done} of {item.total}, paused {short_day(item.day)}"
    name = Content(words).truncate(max(8, width - len(state) - 2), ellipsis=True)
    gap = " " * max(1, width - name.cell_length - len(state))
    return Content.assemble(name, gap, (state, "$text-muted"))
