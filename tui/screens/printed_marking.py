"""Marking in the printed bank; `domain.printed.marking_grid` says what each shortcut means."""

from collections.abc import Callable, Iterable

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Key, Resize
from textual.timer import Timer

from banks.sittings.printed_sitting import PrintedSitting, PrintedTable, list_scope
from domain.errors import ResieveError, StoreError
from domain.printed.marking_grid import Act, MarkingGrid
from domain.questions import LETTERS
from domain.responses import Purpose
from domain.text import counted
from domain.verdicts import Confidence, Verdict
from tui.actions import Action
from tui.dialogs import ChoiceDialog
from tui.ordered_keys import OrderedKeysScreen
from tui.widgets import paper_lines
from tui.widgets.grid import Face, NumberGrid
from tui.widgets.paper_lines import Side, Under

LETTERS_TYPED = LETTERS + LETTERS.upper()
TYPED = frozenset((*LETTERS_TYPED, *"0123456789", "minus", "comma"))
"""Keys that are typed as text and so can belong to no action."""
JUDGED = {
    "right": (Verdict.RIGHT, Confidence.SURE),
    "unsure": (Verdict.RIGHT, Confidence.UNSURE),
    "wrong": (Verdict.WRONG, Confidence.SURE),
    "blank": (Verdict.BLANK, Confidence.SURE),
}
"""What the candidate can judge themselves."""
ACTIONS = (
    Action("judge('right')", "j,r", "Right", "Right: the number typed, or under the cursor.",
           footer=False, palette=False),
    Action("judge('wrong')", "k,x,w", "Wrong", "Wrong: the number typed, or under the cursor.",
           footer=False, palette=False),
    Action("judge('unsure')", "l,R", "Unsure",
           "Right but not sure: the number typed (40? too), or under the cursor.",
           footer=False, palette=False),
    Action("space", "space", "Blank", "Left blank; after a number: ends it, and it is wrong.",
           footer=False, palette=False),
    Action("judge('blank')", "full_stop", "Blank", "Left blank, as in 9. for question 9.",
           footer=False, palette=False),
    Action("rest", "enter", "Rest right", "Mark every unmarked question of this chapter right."),
    Action("undo", "u,backspace", "Undo", "Undo your last mark; repeat to undo more."),
    Action("timer", "t", "Timer", "Start or pause the timer; marks share its time."),
    Action("text", "i", "Text", "Type in this question's text."),
    Action("key", "y", "Key", "Type or paste this chapter's answer key, or correct it."),
    Action("open", "end,n", "Next open", "Go to the first question without a mark."),
    Action("move(-1)", "left", "Before", "One question back.", footer=False, palette=False),
    Action("move(1)", "right", "Next", "One question on; 47 and → goes to 47.",
           footer=False, palette=False),
    Action("move(-10)", "up", "Up", "A row up.", footer=False, palette=False),
    Action("move(10)", "down", "Down", "A row down.", footer=False, palette=False),
    Action("first", "home", "First", "To the first question.", footer=False, palette=False),
    Action("part(-1)", "pageup", "Chapter before", "To the chapter before, in a list of several.",
           footer=False, palette=False),
    Action("part(1)", "pagedown", "Chapter after", "To the chapter after, in a list of several.",
           footer=False, palette=False),
)  # fmt: skip


_WIDE = 112
"""From this width on the question under the cursor is shown beside the grid."""


class PrintedMarkingScreen(OrderedKeysScreen):
    """A go over printed questions, marked by key."""

    NAME = "paper"
    HEADING = "Marking"
    ABOUT = (
        "Record what you did in the printed bank. Type a number to choose a question, or use "
        "the one under the cursor: 7x marks question 7, x alone the one under the cursor. A "
        "number followed by space, comma or Enter is marked wrong; 12-15 is a range. In a "
        "chapter with an answer key, the letters a to h are responses, graded as you type; a "
        "capital means unsure, and 7b continues from question 7. Every mark on the screen is "
        "saved."
    )
    ACTIONS = ACTIONS
    TYPED = TYPED

    def __init__(self, title: str, purpose: Purpose, questions: Iterable[str]) -> None:
        super().__init__()
        self._list = (title, purpose, tuple(questions))
        self._table: PrintedTable | None = None
        self._said = Content("")
        self._ticking: Timer | None = None

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Nothing is asked for before there is something to mark."""
        return self._table is not None or action == "back"

    @property
    def table(self) -> PrintedTable:
        """The marks on the chapter; there are some to ask for once the screen is ready."""
        assert self._table is not None
        return self._table

    @property
    def desk(self) -> MarkingGrid:
        """The desk, once the sitting has begun."""
        return self.table.desk

    @property
    def go(self) -> PrintedSitting:
        """The go, once it has begun."""
        return self.table.sitting

    def body(self) -> ComposeResult:
        """The grid with the question beside it; under it what was typed, the count, the ways."""
        with Horizontal():
            yield NumberGrid()
            yield Side()
        yield Under()

    def ready(self) -> None:
        """Begin the sitting, or come back to it from another screen."""
        self._grid = self.query_one(NumberGrid)
        if self._table is not None:
            self.table.lay_out()
            self._show_all()
            return
        scope = list_scope(self.library, *self._list)
        if not scope.questions:
            self.tell("there is no question to mark here")
            self.app.go_back()
            return
        self._table = PrintedTable(PrintedSitting(self.library, scope))
        self._show_all()
        if self.go.is_taken_up:
            self._say(f"Resumed: {len(self.desk.marks)} marked so far.")
        else:
            self._ask_about_earlier()

    def on_resize(self, event: Resize) -> None:
        """A wide terminal shows the question beside the grid."""
        self.query_one(Side).display = event.size.width >= _WIDE
        if self._table is not None:
            self._show()

    def on_unmount(self) -> None:
        """A finished go is closed; one that is not stays open, to be gone on with."""
        if self._table is not None and not self.library.read_only:
            self.go.leave()

    # the same chapter twice on one day

    def _ask_about_earlier(self) -> None:
        earlier = self.go.earlier()
        if earlier is None:
            return
        count = f"{earlier.count} of {len(self.desk.slots)} questions"
        self.app.push_screen(
            ChoiceDialog(
                f"{count} here are already marked today, the first at {earlier.since}.",
                [
                    ("c", "Correct: continue with those marks; new marks replace old ones"),
                    ("s", "Again: start afresh; both count"),
                ],
            ),
            self._begin_as,
        )

    def _begin_as(self, choice: str | None) -> None:
        if choice is None:
            self.app.go_back()
        elif choice == "c":
            self.go.correct()
            self._table = PrintedTable(self.go)
            self._show_all()

    # keys

    def take(self, event: Key) -> bool:
        """Numbers, letters and signs as typed; the rest are bindings."""
        if self._table is None:
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
        desk = self.desk
        if character and character in LETTERS_TYPED:
            self._do(desk.respond(character))
        elif character.isascii() and character.isdigit():
            desk.digit(character)
        elif character == "-":
            desk.dash()
        elif character in (",", ";"):
            self._do(desk.judge(Verdict.WRONG) if desk.typed else None)
        elif character == "?" and desk.typed:
            self._do(desk.judge(*JUDGED["unsure"]))
        else:
            return (key == "backspace" and desk.typed.erase()) or (key == "escape" and desk.clear())
        return True

    def action_judge(self, kind: str) -> None:
        """The candidate's own judgement."""
        self._ask(lambda: self.desk.judge(*JUDGED[kind]))

    def action_space(self) -> None:
        """The end of a number, or a blank."""
        self._ask(self.desk.space)

    def action_rest(self) -> None:
        """The end of a number, or: the rest right."""
        self._ask(self.desk.enter)

    def _ask(self, asked: Callable[[], Act | None]) -> None:
        """Do what the desk makes of a key; a problem is said and changes nothing."""
        try:
            self._do(asked())
        except ResieveError as problem:
            self._warn(problem)
        else:
            self._show()

    def _do(self, act: Act | None) -> None:
        """Put it on record; only then is it shown."""
        if act is None:
            return
        done = self.table.do(act)
        self._grid.redraw(act.slots)
        self._said = paper_lines.outcome_line(done.questions, done.marks, done.outcomes)

    def action_undo(self) -> None:
        """Drop the number typed; without one take back what the last key marked."""
        if self.desk.typed:
            self.desk.clear()
            self._show()
            return
        try:
            slots = self.table.undo()
        except ResieveError as problem:
            self._warn(problem)
            return
        if not slots:
            self._warn("Nothing to undo here.")
            return
        self._grid.redraw(slots)
        number = self.desk.slots[slots[0]].number
        self._say(f"Undone: {number if len(slots) == 1 else counted(len(slots), 'mark')}.")

    # moving

    def action_move(self, step: int) -> None:
        """The cursor on or back."""
        self.desk.move(step)
        self._show()

    def action_part(self, step: int) -> None:
        """To another chapter of the list."""
        self.desk.move_part(step)
        self._show()

    def action_first(self) -> None:
        """To the first question."""
        self.desk.go(0)
        self._show()

    def action_open(self) -> None:
        """To the first question without a mark."""
        self.desk.go_open()
        self._show()

    def on_number_grid_pointed(self, message: NumberGrid.Pointed) -> None:
        """A click puts the cursor there."""
        self.desk.go(message.slot)
        self._show()

    # time, key, text

    def action_timer(self) -> None:
        """Start or pause."""
        self.go.stopwatch.toggle(self.library.now())
        if self._ticking is None:
            self._ticking = self.set_interval(1, self._show_title)
        self._show_title()

    def action_key(self) -> None:
        """The key of the chapter under the cursor."""
        from tui.screens.key_entry import KeyEntryScreen

        self.app.push_screen(KeyEntryScreen(self.table.about(self.desk.pointed).location))

    def action_text(self) -> None:
        """The text of the question under the cursor, or of the number typed."""
        from tui.screens.question_form import QuestionForm

        if self.desk.targets():
            self.desk.move(0)
        self.app.push_screen(QuestionForm(self.table.about(self.desk.pointed).question.id))

    # showing

    def _show_all(self) -> None:
        """The whole grid, and all around it."""
        parts = self.desk.parts
        headings = [part.title if len(parts) > 1 else "" for part in parts]
        numbers = [[question.number for question in part.questions] for part in parts]
        self._grid.show(list(zip(headings, numbers, strict=True)), self._face)
        self._show_title()
        self._show()

    def _show(self) -> None:
        """What the last key changed."""
        desk = self.desk
        targets = desk.targets()
        shown = targets[-1] if targets else desk.pointed
        self._grid.point(desk.cursor, targets, shown)
        about = self.table.about(shown)
        self.query_one(Side).show(about, tell_key=shown in desk.marks)
        self.query_one(Under).show(desk, about, self._said, self.key_of)

    def _show_title(self) -> None:
        watch, scope = self.go.stopwatch, self.go.scope
        seconds = int(watch.total(self.library.now()))
        clock = f" · {seconds // 60}:{seconds % 60:02}" if seconds or watch.is_running else ""
        state = " paused" if clock and not watch.is_running else ""
        self.set_title(f"Marking · {scope.title}", f"{scope.purpose}{clock}{state}")

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
        return paper_lines.face(self.desk.marks.get(slot), self.table.standing(slot))
