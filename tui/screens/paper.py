"""Marking paper work while the printed bank lies open: see `domain.paper.desk` for the one rule."""

from collections.abc import Callable, Iterable

from textual.containers import Horizontal
from textual.content import Content
from textual.events import Key, Resize
from textual.timer import Timer

from banks.library import Place
from banks.paper import PaperGo, Scope, chapter_scope, list_scope
from domain.errors import ResieveError, StoreError
from domain.paper.desk import Act, Desk, Mark
from domain.questions import LETTERS, Question
from domain.responses import Purpose
from domain.verdicts import Sureness, Verdict
from tui.dialogs import Choose
from tui.in_order import InOrder
from tui.screens.paper_keys import ACTIONS
from tui.widgets import paper_lines
from tui.widgets.grid import Face, NumberGrid
from tui.widgets.paper_lines import Side, Under

_LETTERS = LETTERS + LETTERS.upper()
_JUDGED = {
    "right": (Verdict.RIGHT, Sureness.SURE),
    "unsure": (Verdict.RIGHT, Sureness.UNSURE),
    "wrong": (Verdict.WRONG, Sureness.SURE),
    "blank": (Verdict.BLANK, Sureness.SURE),
}
_WIDE = 112
"""From this width on the question under the cursor is shown beside the grid."""


class PaperRoom(InOrder):
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

    def __init__(self) -> None:
        super().__init__()
        self.go: PaperGo | None = None
        self.desk = Desk(())
        self._said = Content("")
        self._ticking: Timer | None = None

    def scope(self) -> Scope:
        """What the go is over; asked once the library is there."""
        raise NotImplementedError

    def body(self) -> Iterable:
        """The grid with the question beside it; under it what was typed, the count, the ways."""
        with Horizontal():
            yield NumberGrid()
            yield Side()
        yield Under()

    def ready(self) -> None:
        """Begin the go, or come back to it from another screen."""
        self._grid = self.query_one(NumberGrid)
        if self.go is not None:
            self._lay_out(self.desk.cursor)
            return
        self.go = PaperGo(self.library, self.scope())
        self._lay_out()
        if not self.desk.slots:
            self.tell("there is no question to mark here")
        elif self.go.is_taken_up:
            self._say(f"Going on where you were: {len(self.desk.marks)} marked so far.")
        else:
            self._ask_about_earlier()

    def on_resize(self, event: Resize) -> None:
        """A wide terminal shows the question beside the grid."""
        self.query_one(Side).display = event.size.width >= _WIDE
        if self.go is not None:
            self._show()

    def on_unmount(self) -> None:
        """A finished go is closed; one that is not stays open, to be gone on with."""
        if self.go is not None and self.app.is_ready and not self.library.store.read_only:
            self.go.leave()

    # the same chapter twice on one day

    def _ask_about_earlier(self) -> None:
        earlier = self.go.earlier()
        if earlier is None:
            return
        count = f"{earlier.count} of {len(self.desk.slots)} questions"
        self.app.push_screen(
            Choose(
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
            self._lay_out()

    # keys

    def take(self, event: Key) -> bool:
        """Numbers, letters and signs as typed; the rest are bindings."""
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
        if not desk.slots:
            return False
        if character and character in _LETTERS:
            self._do(desk.respond(character))
        elif character.isascii() and character.isdigit():
            desk.digit(character)
        elif character == "-":
            desk.dash()
        elif character in (",", ";"):
            self._do(desk.judge(Verdict.WRONG) if desk.typed else None)
        elif character == "?" and desk.typed:
            self._do(desk.judge(*_JUDGED["unsure"]))
        else:
            return (key == "backspace" and desk.typed.erase()) or (key == "escape" and desk.clear())
        return True

    def action_judge(self, kind: str) -> None:
        """The candidate's own judgement."""
        self._ask(lambda: self.desk.judge(*_JUDGED[kind]))

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
        desk, go = self.desk, self.go
        questions = [desk.slots[slot] for slot in act.slots]
        outcomes = go.record(act, questions, len(desk.open_slots()))
        marks = [self._mark(slot) for slot in act.slots]
        desk.settle(act, marks)
        self._grid.redraw(act.slots)
        self._said = paper_lines.outcome_line(questions, marks, outcomes)

    def action_undo(self) -> None:
        """Drop the number typed; without one take back what the last key marked."""
        if self.desk.typed:
            self.desk.clear()
            self._show()
            return
        try:
            gone = self.go.undo()
        except ResieveError as problem:
            self._warn(problem)
            return
        if not gone:
            self._warn("nothing left to take back here")
            return
        slots = [slot for slot, one in enumerate(self.desk.slots) if one.id in set(gone)]
        self.desk.unsettle(slots, self._marks())
        self._grid.redraw(slots)
        numbers = f"{self.desk.slots[slots[0]].number}"
        self._say(f"Taken back: {numbers if len(slots) == 1 else f'{len(slots)} marks'}.")

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

        self.app.push_screen(KeyEntry(self.library.place(self._under_cursor())))

    def action_text(self) -> None:
        """The text of the question under the cursor, or of the number typed."""
        from tui.screens.question_form import QuestionForm

        if self.desk.targets():
            self.desk.move(0)
        self.app.push_screen(QuestionForm(self._under_cursor().id))

    # showing

    def _lay_out(self, cursor: int | None = None) -> None:
        """The questions as the bank has them now, with their marks; the cursor where it was."""
        parts = self.go.parts()
        self.desk = Desk(parts)
        self.desk.marks = self._marks()
        if not self.desk.slots:
            return
        if cursor is None:
            self.desk.go_open()
        else:
            self.desk.go(cursor)
        headings = [part.title if len(parts) > 1 else "" for part in parts]
        numbers = [[question.number for question in part.questions] for part in parts]
        self._grid.show(list(zip(headings, numbers, strict=True)), self._face)
        self._show_title()
        self._show()

    def _show(self) -> None:
        """What the last key changed."""
        desk = self.desk
        if not desk.slots:
            return
        targets = desk.targets()
        shown = targets[-1] if targets else desk.pointed
        self._grid.point(desk.cursor, targets, shown)
        about = self.go.about(desk.slots[min(shown, len(desk.slots) - 1)])
        is_marked = shown in desk.marks
        self.query_one(Side).show(about, tell_key=is_marked)
        self.query_one(Under).show(desk, about, self._said, self.key_of)

    def _show_title(self) -> None:
        watch = self.go.stopwatch
        seconds = int(watch.total(self.library.now()))
        clock = f"{seconds // 60}:{seconds % 60:02}"
        if not watch.is_running:
            clock = f"{clock} paused" if seconds else "timer off"
        scope = self.go.scope
        self.set_title(f"Paper · {scope.title}", f"{scope.purpose} · {clock}")

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

    def _under_cursor(self) -> Question:
        return self.desk.slots[min(self.desk.pointed, len(self.desk.slots) - 1)]

    def _face(self, slot: int) -> Face:
        return paper_lines.face(self.desk.marks.get(slot))

    def _marks(self) -> dict[int, Mark]:
        found = {slot: self._mark(slot) for slot in range(len(self.desk.slots))}
        return {slot: mark for slot, mark in found.items() if mark is not None}

    def _mark(self, slot: int) -> Mark | None:
        option_count = self.desk.parts[self.desk.part_of(slot)].option_count
        return self.go.mark_of(self.desk.slots[slot], option_count)


class Paper(PaperRoom):
    """A chapter, or its questions from number `first` to number `last`."""

    def __init__(
        self, place: Place, purpose: Purpose, first: int | None = None, last: int | None = None
    ) -> None:
        super().__init__()
        self._asked = (place, purpose, first, last)

    def scope(self) -> Scope:
        """The chapter, or so much of it."""
        return chapter_scope(*self._asked)


class PaperList(PaperRoom):
    """Questions of any chapters, with the book open: a sweep, a filled sheet."""

    def __init__(self, title: str, purpose: Purpose, questions: Iterable[str]) -> None:
        super().__init__()
        self._asked = (title, purpose, tuple(questions))

    def scope(self) -> Scope:
        """The list, in the order of the book."""
        return list_scope(self.library, *self._asked)
