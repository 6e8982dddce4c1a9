"""Marking in the printed bank; `domain.printed.marking_grid` says what each shortcut means."""

from collections.abc import Callable

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Key, Resize
from textual.timer import Timer

from banks.sittings.printed_sitting import PrintedSitting, Scope
from banks.sittings.printed_table import PrintedTable
from domain.errors import ResieveError, StoreError
from domain.printed.marking_grid import Act, MarkingGrid
from domain.verdicts import Verdict
from tui.dialogs import ChoiceDialog
from tui.ordered_keys import OrderedKeysScreen
from tui.screens.paper_keys import ACTIONS, JUDGED, LETTERS_TYPED, TYPED
from tui.widgets import paper_lines
from tui.widgets.grid import Face, NumberGrid
from tui.widgets.paper_lines import Side, Under

_WIDE = 112
"""From this width on the question under the cursor is shown beside the grid."""


class PrintedMarkingScreen(OrderedKeysScreen):
    """A go over printed questions, marked by key."""

    NAME = "paper"
    HEADING = "Paper"
    ABOUT = (
        "Mark what you did in the printed bank. A number says which question; without one it is "
        "the question under the cursor. So 7x marks question 7, and x alone the one under the "
        "cursor. A number ended by space, comma or enter is wrong; 12-15 is a range. The letters "
        "a to h are responses where the chapter has a key: they are graded as you type, a capital "
        "is unsure, and 7b goes on from question 7. Every mark is saved when you see it."
    )
    ACTIONS = ACTIONS
    TYPED = TYPED

    def __init__(self) -> None:
        super().__init__()
        self._table: PrintedTable | None = None
        self._said = Content("")
        self._ticking: Timer | None = None

    def scope(self) -> Scope:
        """What the go is over; asked once the library is there."""
        raise NotImplementedError

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
        """The desk, once the go has begun."""
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
        """Begin the go, or come back to it from another screen."""
        self._grid = self.query_one(NumberGrid)
        if self._table is not None:
            self.table.lay_out()
            self._show_all()
            return
        scope = self.scope()
        if not scope.questions:
            self.tell("there is no question to mark here")
            self.app.go_back()
            return
        self._table = PrintedTable(PrintedSitting(self.library, scope))
        self._show_all()
        if self.go.is_taken_up:
            self._say(f"Going on where you were: {len(self.desk.marks)} marked so far.")
        else:
            self._ask_about_earlier()

    def on_resize(self, event: Resize) -> None:
        """A wide terminal shows the question beside the grid."""
        self.query_one(Side).display = event.size.width >= _WIDE
        if self._table is not None:
            self._show()

    def on_unmount(self) -> None:
        """A finished go is closed; one that is not stays open, to be gone on with."""
        if self._table is not None and not self.library.store.read_only:
            self.go.leave()

    # the same chapter twice on one day

    def _ask_about_earlier(self) -> None:
        earlier = self.go.earlier()
        if earlier is None:
            return
        count = f"{earlier.count} of {len(self.desk.slots)} questions"
        self.app.push_screen(
            ChoiceDialog(
                f"{count} here are marked today already, the first at {earlier.since}.",
                [
                    ("c", "Correct: go on with those marks; a new one takes the old one's place"),
                    ("s", "Second go: begin afresh; both count"),
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
            self._warn("nothing left to take back here")
            return
        self._grid.redraw(slots)
        number = self.desk.slots[slots[0]].number
        self._say(f"Taken back: {number if len(slots) == 1 else f'{len(slots)} marks'}.")

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
        from tui.screens.key_entry import KeyEntry

        self.app.push_screen(KeyEntry(self.table.about(self.desk.pointed).location))

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
        self.set_title(f"Paper · {scope.title}", f"{scope.purpose}{clock}{state}")

    def _say(self, words: str) -> None:
        self._said = Content(words)
        self._show()

    def _warn(self, problem: ResieveError | str) -> None:
        """Say at once what does not fit, where the candidate is typing."""
        if isinstance(problem, StoreError):
            self.tell(problem)
            problem = "not saved, so not marked; the same key tries again"
        self._said = Content.styled(f"! {problem}", "bold $error")
        self._show()
        self.app.bell()

    def _face(self, slot: int) -> Face:
        return paper_lines.face(self.desk.marks.get(slot), self.table.standing(slot))
