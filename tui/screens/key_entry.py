"""A chapter's answer key, typed letter by letter with a running number, or pasted as printed."""

from collections.abc import Callable

from textual.app import ComposeResult
from textual.content import Content
from textual.events import Key, Paste

from banks.contents import Location
from banks.intake.keying import key_in, keyable, lay_on, letters_of
from domain.errors import ResieveError
from domain.printed.entry import AnswerKeyGrid
from domain.questions import KEYED_LETTERS
from tui.actions import Action
from tui.dialogs import ChoiceDialog
from tui.ordered_keys import OrderedKeysScreen
from tui.widgets import key_lines
from tui.widgets.grid import LETTERS_ONLY, Face, NumberGrid
from tui.widgets.key_lines import KeyLines

_LETTERS = KEYED_LETTERS + KEYED_LETTERS.upper()
_PUNCTUATION = ".,:;()-="
"""May stand between a number and its letter, and means nothing."""


class KeyEntryScreen(OrderedKeysScreen):
    """The answer key of one chapter; a letter corrected later regrades the history."""

    NAME = "key"
    HEADING = "Answer key"
    ABOUT = (
        "Type the chapter's answer key, one letter per question; the cursor moves on by itself. "
        "Type a number to continue from there, or paste the answer key as printed. Missing, "
        "repeated and out-of-range numbers are listed. Nothing changes before you save; then "
        "every response given by letter is re-graded."
    )
    ACTIONS = (
        Action(
            "save", "enter", "Save", "Save the answer key; responses given by letter are re-graded."
        ),
        Action("skip", "space", "Skip", "Leave this number as it is.", palette=False),
        Action("also", "plus", "Also", "Add another right option to the one before."),
        Action("undo", "backspace,u", "Undo", "Undo the last letter; repeat to undo more."),
        Action("gap", "end", "Next gap", "Go to the first number without a letter."),
        Action("move(-1)", "left", "Before", "Previous number.", footer=False, palette=False),
        Action("move(1)", "right", "Next", "Next number.", footer=False, palette=False),
        Action("move(-10)", "up", "Up", "A row up.", footer=False, palette=False),
        Action("move(10)", "down", "Down", "A row down.", footer=False, palette=False),
    )

    def __init__(self, location: Location) -> None:
        super().__init__()
        self._ids = (location.bank.id, location.subject.id, location.chapter.id)
        questions = keyable(location)
        counts = [len(one.options) or location.bank.option_count for one in questions]
        before = {one.number: letters_of(one) for one in questions if one.answer_key}
        self.desk = AnswerKeyGrid([one.number for one in questions], counts, before)
        self.desk.go_gap()
        self._said = Content("")

    def body(self) -> ComposeResult:
        """The grid of numbers, and the lines under it."""
        yield NumberGrid()
        yield KeyLines()

    def ready(self) -> None:
        """Lay the chapter's numbers out with the key there is."""
        if not self.desk.numbers:
            title = self._place().chapter.title
            self.tell(f"{title}: there is no question that a letter is the key of")
            self.app.go_back()
            return
        self._grid = self.query_one(NumberGrid)
        self._grid.show([("", self.desk.numbers)], self._face, layouts=LETTERS_ONLY)
        self._show()

    def _place(self) -> Location:
        bank = self.library.bank(self._ids[0])
        subject = next(one for one in bank.subjects if one.id == self._ids[1])
        return Location(bank, subject, bank.chapter(self._ids[2]))

    # keys

    def take(self, event: Key) -> bool:
        """Digits and letters as typed; the rest are bindings."""
        character, desk = event.character or "", self.desk
        if not desk.numbers or not character:
            return False
        try:
            if character in _LETTERS:
                desk.letter(character)
                self._said = Content("")
            elif character.isascii() and character.isdigit():
                desk.digit(character)
            elif event.key == "space" and desk.typed:
                return True
            elif character not in _PUNCTUATION:
                return False
        except ResieveError as problem:
            self._warn(problem)
        self._show()
        return True

    def on_paste(self, event: Paste) -> None:
        """A key as printed: what is understood is taken, what is wrong is listed."""
        event.stop()
        location = self._place()
        keyed = key_in(location, event.text)
        found = {
            question.number: letters_of(question)
            for question in (keyed.bank.questions[name] for name in (*keyed.new, *keyed.changed))
        }
        self.desk.take(found)
        self.query_one(KeyLines).show_problems(keyed.problems)
        self._said = Content(
            f"Pasted: {len(keyed.new)} new, {len(keyed.changed)} changed, "
            f"{keyed.unchanged} unchanged; {len(keyed.problems) or 'no'} problems."
        )
        self._grid.refresh()
        self._show()

    def action_skip(self) -> None:
        """On to the next number."""
        self._do(self.desk.skip)

    def action_also(self) -> None:
        """The next letter belongs to the number before."""
        self._do(self.desk.add)
        if self.desk.is_adding:
            self._said = Content(f"{self.desk.numbers[self.desk.cursor - 1]}: and which letter?")
            self._show()

    def action_undo(self) -> None:
        """Drop a digit typed, or undo the last letter."""
        if not self.desk.typed.erase() and not self.desk.undo():
            self._warn("Nothing to undo here.")
        self._grid.refresh()
        self._show()

    def action_gap(self) -> None:
        """To the first number without a letter."""
        self._do(self.desk.go_gap)

    def action_move(self, step: int) -> None:
        """The cursor on or back."""
        self._do(lambda: self.desk.move(step))

    def _do(self, step: Callable[[], object]) -> None:
        try:
            step()
        except ResieveError as problem:
            self._warn(problem)
        self._show()

    # saving

    def action_save(self) -> None:
        """Put the key into the bank."""
        self._save()

    def action_back(self) -> None:
        """Leave; letters that are not saved yet are asked about."""
        if not self.desk.changed:
            self.app.go_back()
            return
        self.app.push_screen(
            ChoiceDialog(
                f"{len(self.desk.changed)} letters are not saved yet.",
                [("s", "Save them and leave"), ("d", "Discard them and leave")],
            ),
            self._leave,
        )

    def _leave(self, choice: str | None) -> None:
        if choice == "d" or (choice == "s" and self._save()):
            self.app.go_back()

    def _save(self) -> bool:
        changed = self.desk.changed
        if not changed:
            self._said = Content("Nothing to save: the answer key is unchanged.")
            self._show()
            return True
        keyed = lay_on(self._place(), changed)
        touched = [*keyed.new, *keyed.changed]
        try:
            self.library.save_bank(keyed.bank, touched, label="the answer key")
        except ResieveError as problem:
            self.tell(problem)
            return False
        graded = sum(bool(self.library.history.responses(name)) for name in touched)
        self.desk.before = dict(self.desk.keys)
        self._said = Content(
            f"Saved: {len(keyed.new)} new, {len(keyed.changed)} corrected; "
            f"{graded} marked before are re-graded."
        )
        self.query_one(KeyLines).show_problems(())
        self._grid.refresh()
        self._show()
        return True

    # showing

    def _show(self) -> None:
        location = self._place()
        desk = self.desk
        count = f"{len(desk.keys)} of {len(desk.numbers)}"
        self.set_title(f"Key · {location.subject.title} · {location.chapter.title}", count)
        self._grid.redraw([max(0, desk.cursor - 1), desk.cursor])
        named = desk.typed.text
        at = desk.numbers.index(int(named)) if named and int(named) in desk.numbers else desk.cursor
        self._grid.point(at)
        legend = key_lines.legend(self.key_of, location.bank.option_count)
        self.query_one(KeyLines).show(desk, self._said, legend)

    def _warn(self, problem: ResieveError | str) -> None:
        self._said = Content.styled(f"! {problem}", "bold $error")
        self.app.bell()

    def _face(self, slot: int) -> Face:
        return key_lines.face(self.desk, slot)
