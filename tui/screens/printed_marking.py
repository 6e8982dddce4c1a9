"""Marking in the printed bank; `domain.printed.marking_grid` says what each shortcut means."""

from collections.abc import Callable, Iterable
from contextlib import suppress
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.content import Content
from textual.events import Key, Resize
from textual.timer import Timer

from banks.sittings.printed_sitting import (
    MarkedGrid,
    PrintedSitting,
    QuestionRecord,
    list_scope,
)
from domain.errors import ResieveError, StoreError
from domain.printed.entry import JUDGEMENTS
from domain.printed.marking_grid import Act, MarkingGrid
from domain.questions import KEYED_LETTERS
from domain.responses import Purpose
from domain.text import counted
from tui.actions import Action
from tui.base_screen import OrderedKeysScreen
from tui.dates import short_day
from tui.dialogs import ChoiceDialog, TextDialog, given
from tui.save_in_background import attempt
from tui.widgets import marking_lines
from tui.widgets.grid import ROOM_FOR_LETTERS, ROOM_FOR_SIGNS, Face, NumberGrid
from tui.widgets.marking_lines import FreeRows, Side, Under
from tui.widgets.text_block import Column, SideBySide

if TYPE_CHECKING:
    from tui.screens.drill import DayRun

LETTERS_TYPED = KEYED_LETTERS + KEYED_LETTERS.upper()
TYPED = frozenset((*LETTERS_TYPED, *"0123456789", "minus", "comma"))
"""Keys that are typed as text and so can belong to no action."""


def _sign(name: str, key: str, label: str, description: str) -> Action:
    return Action(f"judge('{name}')", key, label, description, footer=False, palette=False)


ACTIONS = (
    _sign("right", "j", "Right", "Right: the number typed, or the question under the cursor."),
    _sign("wrong", "k,x", "Wrong", "Wrong, as 7k for question 7 and 12-15k for a range."),
    _sign("sure-wrong", "K", "Sure and wrong", "Wrong though you were sure."),
    _sign("unsure", "l", "Unsure", "Right but not sure; 40? for question 40."),
    _sign("mixed-up", "m", "Mixed up", "Right, but you mixed options up."),
    _sign("mixed-up-wrong", "M", "Mixed up, wrong", "Wrong, as you mixed options up."),
    _sign("unknown", "i", "Didn't know", "Left blank, as you didn't know."),
    _sign("unknown-wrong", "I", "Didn't know, wrong", "Guessed wrong, as you didn't know."),
    _sign("misread", "r", "Misread", "Wrong, as you misread it."),
    _sign("slip", "s", "Slip", "Wrong by a slip."),
    _sign("blank", "full_stop", "Blank", "Left blank, as in 9. for question 9."),
    Action(
        "end_number",
        "space",
        "End number",
        "Ends a number: that question is wrong.",
        footer=False,
        palette=False,
    ),
    Action(
        "rest",
        "enter",
        "Rest right",
        "Ends a number; without one, marks all that is left of this chapter right.",
    ),
    Action("undo", "u,backspace", "Undo", "Undo your last mark; repeat to undo more."),
    Action(
        "day(1)",
        "less_than_sign",
        "Day before",
        "The work was done a day earlier; marks made here so far move with it.",
    ),
    Action(
        "day(-1)", "greater_than_sign", "Day after", "The work was done a day later.", footer=False
    ),
    Action(
        "purpose", "p", "Purpose", "Say what the work was for; marks made here so far move with it."
    ),
    Action("timer", "colon", "Timer", "Start or pause the timer; marks share its time."),
    Action(
        "key",
        "y",
        "Answer key",
        "Type or paste this chapter's answer key, or correct it.",
        footer=False,
    ),
    Action("text", "ctrl+e", "Edit", "Edit this question's text or answer key.", footer=False),
    Action("open", "end", "Next open", "Go to the first question without a mark.", footer=False),
    Action("note", "n", "Note", "Write a note on this question.", footer=False),
    Action("move(-1)", "left", "Before", "One question back.", footer=False, palette=False),
    Action(
        "move(1)",
        "right",
        "Next",
        "One question on; 47 and → goes to 47.",
        footer=False,
        palette=False,
    ),
    Action("move(-10)", "up", "Up", "A row up.", footer=False, palette=False),
    Action("move(10)", "down", "Down", "A row down.", footer=False, palette=False),
    Action("first", "home", "First", "To the first question.", footer=False, palette=False),
    Action(
        "part(-1)",
        "pageup",
        "Chapter before",
        "To the chapter before, in a list of several.",
        footer=False,
        palette=False,
    ),
    Action(
        "part(1)",
        "pagedown",
        "Chapter after",
        "To the chapter after, in a list of several.",
        footer=False,
        palette=False,
    ),
)
_PURPOSES = (
    ("r", Purpose.REVISION, "Revision: counts for the subject's block"),
    ("s", Purpose.SWEEP, "Sweep: counts for the subject's sweep once it is due"),
    ("f", Purpose.STUDY, "First study: takes no part in the plan"),
    ("p", Purpose.PASS, "Pass: questions chosen for spare minutes"),
    ("d", Purpose.FREE, "Free drill"),
)

_WIDE = 112
"""From this width on the question under the cursor is shown beside the grid."""
_AROUND = 9
"""Lines of title, shortcuts and what stands under the grid."""
_FREE = 2
"""Lines that the grid leaves for what it is about, where it can."""


class PrintedMarkingScreen(OrderedKeysScreen):
    """A sitting over printed questions, marked by key."""

    NAME = "paper"
    HEADING = "Marking"
    ABOUT = (
        "Record what you did in the printed bank. Type a number to choose a question, or use "
        "the one under the cursor: 7k marks question 7, k alone the one under the cursor. A "
        "number ended by Space, comma or Enter is wrong; 12-15 is a range. Enter without a "
        "number marks the rest right. A number that is not here marks nothing and is named. In "
        "a chapter with an answer key, the letters a to h are responses, graded as you type; a "
        "capital means unsure, and 7b continues from question 7. Each cell shows what was "
        "before: its tier, then x if it was missed last time, ~ if it was unsure. Every mark on "
        "the screen is saved."
    )
    ACTIONS = ACTIONS
    TYPED = TYPED
    CSS = "PrintedMarkingScreen #cells { width: 80; max-width: 100%; }"

    def __init__(
        self,
        title: str,
        purpose: Purpose | None,
        questions: Iterable[str],
        sitting: str = "",
        days_back: int = 0,
        day_run: "DayRun | None" = None,
    ) -> None:
        super().__init__()
        self._day_run = day_run
        self._list = (title, purpose, tuple(questions), sitting, days_back)
        self._marked: MarkedGrid | None = None
        self._said = Content("")
        self._ticking: Timer | None = None
        self._enter = ""
        """What Enter does now, "" for nothing."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Nothing is asked for before there is something to mark."""
        return self._marked is not None or action == "back"

    def footer_label(self, action: Action) -> str:
        """Enter is named by what it does now."""
        return self._enter if action.name == "rest" else action.label

    @property
    def marked(self) -> MarkedGrid:
        """The marks on the questions; there are some to ask for once the screen is ready."""
        assert self._marked is not None
        return self._marked

    @property
    def grid(self) -> MarkingGrid:
        """What each key means, once the sitting has begun."""
        return self.marked.grid

    @property
    def sitting(self) -> PrintedSitting:
        """The sitting, once it has begun."""
        return self.marked.sitting

    def body(self) -> ComposeResult:
        """The grid with the question beside it; under it what was typed, the count, the ways."""
        with SideBySide():
            with Column(id="cells"):
                yield NumberGrid()
                yield FreeRows()
            yield Side()
        yield Under()

    def ready(self) -> None:
        """Begin the sitting, or come back to it from another screen."""
        self._cells = self.query_one(NumberGrid)
        self._fit(self.size.width, self.size.height)
        if self._marked is not None:
            self.marked.read_again()
            self._show_all()
            return
        scope = list_scope(self.library, *self._list)
        if not scope.questions:
            self.app.go_back()
            self.tell("There is no question to mark here.")
            return
        self._marked = MarkedGrid(PrintedSitting(self.library, scope))
        self._show_all()
        if self.grid.marks:
            self._say(f"Resumed: {len(self.grid.marks)} marked so far.")
        else:
            if self._day_run and self._day_run.result:
                self._say(self._day_run.result)
            self._ask_about_earlier(self.app.go_back)

    def on_resize(self, event: Resize) -> None:
        """A wide terminal shows the question beside the grid."""
        self._fit(event.size.width, event.size.height)
        if self._marked is not None:
            self._show()

    def _fit(self, width: int, height: int) -> None:
        self.query_one(Side).display = width >= _WIDE
        self.query_one(NumberGrid).fit(height - _AROUND - _FREE)

    def on_unmount(self) -> None:
        """A finished sitting is closed; one that is not stays open, to be gone on with."""
        if self._marked is not None and not self.library.read_only:
            with suppress(StoreError):  # it stays open then, and every screen says why
                self.sitting.leave()

    # the same questions twice on one day

    def _ask_about_earlier(self, otherwise: Callable[[], object]) -> None:
        """Ask what marks of the same day are to mean; `otherwise` is done if that isn't said."""
        earlier = self.sitting.earlier()
        if earlier is None:
            return

        def chosen(choice: str | None) -> None:
            if choice is None:
                otherwise()
            elif choice == "c":
                self.sitting.correct()
                self._marked = MarkedGrid(self.sitting)
                self._show_all()

        count = f"{earlier.count} of {len(self.grid.slots)} questions"
        day = f"on {short_day(self.sitting.day)}" if self.sitting.days_back else "today"
        self.app.push_screen(
            ChoiceDialog(
                f"{count} here are already marked {day}, the first at {earlier.since}.",
                [
                    ("c", "Correct: continue with those marks; new marks replace old ones"),
                    ("s", "Again: start afresh; both count"),
                ],
            ),
            chosen,
        )

    # keys

    def take(self, event: Key) -> bool:
        """Numbers, letters and signs as typed; the rest are bindings."""
        if self._marked is None:
            return False
        try:
            is_taken = self._take(event.character or "", event.key)
        except ResieveError as problem:
            self._warn(problem)
            return True
        if is_taken:
            self._show()
        return is_taken

    def _take(self, character: str, key: str) -> bool:
        grid = self.grid
        if character and character in LETTERS_TYPED:
            self._do(grid.respond(character))
        elif character.isascii() and character.isdigit():
            grid.digit(character)
        elif character == "-":
            grid.dash()
        elif character in (",", ";"):
            self._do(grid.end_number())
        elif character == "?" and grid.typed:
            self._do(grid.judge(JUDGEMENTS["unsure"]))
        else:
            return (key == "backspace" and grid.typed.erase()) or (key == "escape" and grid.clear())
        return True

    def action_judge(self, kind: str) -> None:
        """The candidate's own judgement."""
        self._ask(lambda: self.grid.judge(JUDGEMENTS[kind]))

    def action_end_number(self) -> None:
        """The end of a number."""
        self._ask(self.grid.end_number)

    def action_rest(self) -> None:
        """The end of a number, or: the rest right; once all is marked, the day's next line."""
        if self._day_run is None or self.grid.typed or self.grid.open_slots():
            self._ask(self.grid.enter)
            return
        words = marking_lines.result_words(self.marked.result())
        self._day_run.ended("", f"{self._list[0]}: {words.rstrip('.')}")
        self.app.go_back()

    def _ask(self, asked: Callable[[], Act | None]) -> None:
        """Do what the grid makes of a key; a problem is said and changes nothing."""
        try:
            self._do(asked())
        except ResieveError as problem:
            self._warn(problem)
        else:
            self._show()

    def _do(self, act: Act | None) -> None:
        """Put it on record; only then is it shown."""
        if act is None:
            if self.grid.is_asking:
                count = len(self.grid.open_slots(self.grid.part))
                self._said = Content(f"Nothing is marked yet. Enter again: all {count} right.")
            return
        done = self.marked.do(act)
        self._cells.redraw(act.slots)
        self._said = marking_lines.outcome_line(done.questions, done.marks, done.outcomes)
        self._show_title()
        if not self.grid.open_slots():
            self._tell_result()

    def action_undo(self) -> None:
        """Drop the number typed; without one undo what the last key marked."""
        if self.grid.typed.clear():
            self._show()
            return
        before = self._scope_words()
        try:
            slots = self.marked.undo()
        except ResieveError as problem:
            self._warn(problem)
            return
        if not slots:
            self._warn("Nothing to undo here.")
            return
        self._cells.redraw(slots)
        self._show_title()
        number = self.grid.slots[slots[0]].number
        what = f"{number}" if len(slots) == 1 else counted(len(slots), "mark")
        if self._scope_words() != before:
            what = f"marks are for {self._scope_words()} again"
        self._say(f"Undone: {what}.")

    # which day, and what for

    def action_day(self, step: int) -> None:
        """The day before, or after."""
        before = self.sitting.days_back

        def back() -> None:
            self._move(days_back=before)

        if self._move(days_back=before + step) and not self.sitting.correcting:
            self._ask_about_earlier(back)

    def action_purpose(self) -> None:
        """Ask what the work was for."""

        def chosen(choice: str | None) -> None:
            purpose = next((purpose for key, purpose, _ in _PURPOSES if key == choice), None)
            if purpose:
                self._move(purpose=purpose)

        self.app.push_screen(
            ChoiceDialog("What is this for?", [(key, words) for key, _, words in _PURPOSES]), chosen
        )

    def _move(self, *, purpose: Purpose | None = None, days_back: int | None = None) -> bool:
        try:
            moved = self.marked.move(purpose=purpose, days_back=days_back)
        except ResieveError as problem:
            self._warn(problem)
            return False
        along = f"; {counted(moved, 'mark')} moved" if moved else ""
        self._show_title()
        self._say(f"Marks are for {self._scope_words()}{along}.")
        return True

    def _scope_words(self) -> str:
        """What marks are for: "revision, Mon 23 Nov"."""
        return f"{self.sitting.purpose}, {short_day(self.sitting.day)}"

    # moving

    def action_move(self, step: int) -> None:
        """The cursor on or back."""
        self.grid.move(step)
        self._show()

    def action_part(self, step: int) -> None:
        """To another chapter of the list."""
        self.grid.move_part(step)
        self._show()

    def action_first(self) -> None:
        """To the first question."""
        self.grid.go(0)
        self._show()

    def action_open(self) -> None:
        """To the first question without a mark."""
        self.grid.go_open()
        self._show()

    def on_number_grid_pointed(self, message: NumberGrid.Pointed) -> None:
        """A click puts the cursor there."""
        self.grid.go(message.slot)
        self._show()

    # time, key, text

    def action_timer(self) -> None:
        """Start or pause."""
        self.sitting.stopwatch.toggle(self.library.now())
        if self._ticking is None:
            self._ticking = self.set_interval(1, self._show_title)
        self._show_title()

    def action_key(self) -> None:
        """The key of the chapter under the cursor."""
        from tui.screens.key_entry import KeyEntryScreen

        self.app.push_screen(KeyEntryScreen(self.marked.about(self.grid.pointed).location))

    def action_note(self) -> None:
        """A note on the question under the cursor, or on the number typed."""
        if self.grid.targets():
            self.grid.move(0)
        about = self.marked.about(self.grid.pointed)
        self.app.push_screen(
            TextDialog(f"Your note on {about.question.number}", about.note),
            given(
                lambda text: attempt(
                    self, lambda: self.library.note(about.question.id, text), self._show
                )
            ),
        )

    def action_text(self) -> None:
        """The text of the question under the cursor, or of the number typed."""
        from tui.screens.question_form import QuestionForm

        if self.grid.targets():
            self.grid.move(0)
        self.app.push_screen(QuestionForm(self.marked.about(self.grid.pointed).question.id))

    # what came of it

    def _tell_result(self) -> None:
        """All is marked: how it went against last time; what comes next is looked up behind."""
        self._say(marking_lines.result_words(self.marked.result()))
        self.in_background(self._look_ahead, group="next")

    def _look_ahead(self) -> None:
        from banks.views.today import today_view

        following = marking_lines.next_words(today_view(self.library, may_choose=False))
        self.hand_over(self._tell_next, following)

    def _tell_next(self, following: str) -> None:
        if not self.grid.open_slots():
            if self._day_run and following:
                following += " Enter goes on."
            self._say(marking_lines.result_words(self.marked.result(), following))

    # showing

    def _show_all(self) -> None:
        """The whole grid, and all around it."""
        parts = self.grid.parts
        headings = [part.title if len(parts) > 1 else "" for part in parts]
        numbers = [[question.number for question in part.questions] for part in parts]
        has_letters = any(question.answer_key for question in self.grid.slots)
        layouts = ROOM_FOR_LETTERS if has_letters else ROOM_FOR_SIGNS
        self._cells.show(list(zip(headings, numbers, strict=True)), self._face, layouts=layouts)
        self._show_title()
        self._show()

    def _show(self) -> None:
        """What the last key changed."""
        grid = self.grid
        targets = grid.targets()
        shown = targets[-1] if targets else grid.pointed
        self._cells.point(grid.cursor, targets, shown)
        about = self.marked.about(shown)
        self.query_one(Side).show(about, tell_key=shown in grid.marks)
        self._show_free_rows(about)
        self.query_one(Under).put(grid, about, self._said, self.key_of)
        enter = self._enter_now()
        if enter != self._enter:
            self._enter = enter
            self.refresh_bindings()

    def _enter_now(self) -> str:
        if self.grid.typed:
            return "End number"
        if self.grid.open_slots(self.grid.part):
            return "Rest right"
        return "Next" if self._day_run and not self.grid.open_slots() else ""

    def _show_free_rows(self, about: QuestionRecord) -> None:
        rows, days = self.query_one(FreeRows), self.marked.days(self.grid.part)
        today = self.library.today()
        if self.query_one(Side).display:
            rows.put(marking_lines.days_bars(days, today))
        else:
            text = marking_lines.question_lines(about, rows.size.width)
            rows.put([marking_lines.days_line(days, today), *text])

    def _show_title(self) -> None:
        sitting, watch = self.sitting, self.sitting.stopwatch
        seconds = int(watch.total(self.library.now()))
        clock = f"{seconds // 60}:{seconds % 60:02}" if seconds or watch.is_running else ""
        if clock and not watch.is_running:
            clock += " paused"
        back = f" ({counted(sitting.days_back, 'day')} ago)" if sitting.days_back else ""
        count = f"{len(self.grid.marks)} of {len(self.grid.slots)}"
        right = [f"{self._scope_words()}{back}", count, clock]
        self.set_title(sitting.scope.title, " · ".join(part for part in right if part))

    def _say(self, words: str) -> None:
        self._said = Content(words)
        self._show()

    def _warn(self, problem: ResieveError | str) -> None:
        """Say at once what does not fit, where the candidate is typing."""
        if isinstance(problem, StoreError):
            self.tell(problem)
            problem = "not saved, so not marked; press the key again to retry"
        self._said = Content.styled(f"! {problem}", "bold $error")
        self._show()
        self.app.bell()

    def _face(self, slot: int) -> Face:
        return marking_lines.face(self.grid.marks.get(slot), self.marked.pasts[slot])
