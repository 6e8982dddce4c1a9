"""The answer key of a paper's questions, typed after the paper was handed in."""

from collections.abc import Callable
from functools import partial

from textual.app import ComposeResult
from textual.events import Key
from textual.widgets import Static

from banks.sittings.paper_sitting import PaperKey
from domain.errors import ResieveError
from domain.history import Sitting
from domain.questions import KEYED_LETTERS
from domain.text import counted
from domain.verdicts import Verdict
from tui.actions import Action
from tui.base_screen import OrderedKeysScreen
from tui.dialogs import ChoiceDialog
from tui.widgets.paper_lines import key_heads, key_line
from tui.widgets.text_block import TextBlock
from tui.widgets.virtual_list import VirtualList

RIGHT, WRONG = "judge('right')", "judge('wrong')"


class PaperKeyScreen(OrderedKeysScreen):
    """Letters of the answer key for just these numbers, or plain right and wrong."""

    NAME = "paper-key"
    HEADING = "Answer key"
    ABOUT = (
        "Type the answer key of the numbers listed, one letter each; the next number follows by "
        "itself. Where you have no key at hand, say whether you were right or wrong. The key is "
        "kept with the questions, so you never type it again."
    )
    ACTIONS = (
        Action("save", "enter", "Save", "Save the key and see the result."),
        Action(RIGHT, "j", "Right", "No key at hand: it was right."),
        Action(WRONG, "k", "Wrong", "No key at hand: it was wrong."),
        Action("also", "plus", "Also", "Another option is right beside the one before."),
        Action("move(1)", "space,down,right", "Skip", "Leave this one out for now."),
        Action("move(-1)", "up,left", "Before", "To the number before.", footer=False),
        Action("gap", "end", "Next gap", "To the first number without a key."),
        Action("undo", "u,backspace", "Undo", "Undo the last letter."),
    )
    BACK = Action("back", "escape", "Leave", "Leave; the key can be typed later.")
    TYPED = frozenset(KEYED_LETTERS)
    CSS = """
    PaperKeyScreen #heads { margin: 1 1 0 1; }
    PaperKeyScreen #rows { margin: 0 1; }
    PaperKeyScreen #prompt { height: 1; padding: 0 2; color: $text-muted; }
    """

    def __init__(self, sitting: Sitting) -> None:
        super().__init__()
        self._sitting = sitting
        self._key: PaperKey | None = None

    def body(self) -> ComposeResult:
        """The numbers, and a line about the one that is up."""
        yield TextBlock(id="heads")
        rows = VirtualList[int](id="rows")
        rows.can_focus = False
        yield rows
        yield Static(id="prompt", markup=False)

    def ready(self) -> None:
        """List what has no key; without any, the result."""
        if self._key is None:
            self._key = PaperKey(self.library, self._sitting)
            self.query_one("#heads", TextBlock).show(key_heads)
            rows = self.query_one("#rows", VirtualList)
            rows.show(range(len(self._key.questions)), partial(key_line, self._key))
        self.set_focus(None)
        self._show()

    @property
    def _open_key(self) -> PaperKey:
        assert self._key is not None
        return self._key

    def _show(self, message: str = "") -> None:
        key = self._open_key
        total = len(key.questions)
        title = self._sitting.opened.title
        self.set_title(f"Answer key · {title}", f"{total - key.missing} of {total}")
        rows = self.query_one("#rows", VirtualList)
        rows.redraw()
        rows.selected = key.index
        left = f"{key.missing} left" if key.missing else f"{self.key_of('save')} saves"
        self.query_one("#prompt", Static).update(
            message
            or f"Letters of the key; without one {self.key_of(RIGHT)} right, "
            f"{self.key_of(WRONG)} wrong · {left}"
        )

    # keys

    def take(self, event: Key) -> bool:
        """A letter of the key."""
        letter = event.character or ""
        if letter not in KEYED_LETTERS or not letter:
            return False
        self._do(lambda: self._open_key.letter(KEYED_LETTERS.index(letter)))
        return True

    def action_judge(self, verdict: str) -> None:
        """Right or wrong without a key."""
        self._do(lambda: self._open_key.judge(Verdict(verdict)))

    def action_also(self) -> None:
        """The next letter counts beside the one before."""
        self._open_key.add()
        self._show("And which letter beside the one before?" if self._open_key.is_adding else "")

    def action_move(self, step: int) -> None:
        """On or back."""
        self._do(lambda: self._open_key.move(step))

    def action_gap(self) -> None:
        """To the first number without a key."""
        self._do(self._open_key.go_gap)

    def action_undo(self) -> None:
        """Undo the last letter."""
        is_undone = self._open_key.undo()
        self._show("" if is_undone else "Nothing to undo here.")

    def _do(self, step: Callable[[], None]) -> None:
        message = ""
        try:
            step()
        except ResieveError as problem:
            message = f"! {problem}"
            self.app.bell()
        self._show(message)

    # leaving

    def action_save(self) -> None:
        """Save the key; the result when nothing is left."""
        key = self._open_key
        if not key.marks:
            self._show("! Nothing is typed yet.")
            return
        try:
            key.save()
        except ResieveError as problem:
            self.tell(problem)
            return
        if key.missing:
            words = f"{counted(key.missing, 'question')} without a key are left out for now."
            self.notify(words)
        from tui.screens.paper_result import PaperResult

        self.app.switch_screen(PaperResult(self._sitting.opened.id))

    def action_back(self) -> None:
        """Leave; what is typed and not saved is asked about."""
        if not self._open_key.marks:
            self.app.go_back()
            return
        words = f"{counted(len(self._open_key.marks), 'letter')} not saved yet."
        choices = [("s", "Save and leave"), ("d", "Discard and leave")]
        self.app.push_screen(ChoiceDialog(words, choices), self._leave)

    def _leave(self, choice: str | None) -> None:
        if choice == "s":
            self.action_save()
        elif choice == "d":
            self.app.go_back()
