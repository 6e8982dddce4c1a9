"""A chapter's answer key, typed letter by letter with a running number, or pasted as printed."""

from collections.abc import Callable, Sequence

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key, Paste, Resize
from textual.widgets import Static

from banks.contents import Location
from banks.importers.answer_keys import KeyProblem
from banks.intake.keying import key_in, keyable, lay_on, letters_of
from domain.errors import ResieveError
from domain.printed.entry import AnswerKeyGrid
from domain.questions import KEYED_LETTERS, LETTERS
from tui.actions import Action
from tui.base_screen import OrderedKeysScreen
from tui.dialogs import ChoiceDialog
from tui.widgets.grid import LETTERS_ONLY, Face, NumberGrid
from tui.widgets.text_block import stacked

_LETTERS = KEYED_LETTERS + KEYED_LETTERS.upper()
_PUNCTUATION = ".,:;()-="
"""May stand between a number and its letter, and means nothing."""


class KeyEntryScreen(OrderedKeysScreen):
    """The answer key of one chapter; a letter corrected later regrades the history."""

    NAME = "key"
    HEADING = "Answer key"
    ABOUT = (
        "Type the chapter's answer key, one letter per question; the cursor moves on by itself. "
        "Type a number to continue from there, or paste the answer key as printed. Typed, Space "
        "skips a number; in pasted text, as in `resieve key`, spaces only group the letters. "
        "Missing, repeated and out-of-range numbers are listed. Nothing changes before you save; "
        "then every response given by letter is re-graded."
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

    CSS = """
    KeyEntryScreen #aside {
        width: 1fr; height: 1fr; padding: 0 2; margin-bottom: 1; border-left: solid $panel;
    }
    KeyEntryScreen.-narrow #aside { display: none; }
    """

    def __init__(self, location: Location) -> None:
        super().__init__()
        self._ids = (location.bank.id, location.subject.id, location.chapter.id)
        questions = keyable(location)
        counts = [len(question.options) or location.bank.option_count for question in questions]
        before = {
            question.number: letters_of(question) for question in questions if question.answer_key
        }
        self.entry = AnswerKeyGrid([question.number for question in questions], counts, before)
        self.entry.go_gap()
        self._message = Content("")

    def body(self) -> ComposeResult:
        """The grid of numbers, and the lines under it."""
        with Horizontal():
            yield NumberGrid()
            yield Static(id="aside", markup=False)
        yield KeyLines()

    def on_resize(self, event: Resize) -> None:
        """The keys of the subject's chapters stand beside the grid where there is room."""
        self.set_class(event.size.width < _WIDE, "-narrow")

    def ready(self) -> None:
        """Lay the chapter's numbers out with the key there is."""
        if not self.entry.numbers:
            title = self._place().chapter.title
            self.app.go_back()
            self.tell(f"{title}: there is no question that a letter is the key of")
            return
        self._grid = self.query_one(NumberGrid)
        self._grid.show([("", self.entry.numbers)], self._face, layouts=LETTERS_ONLY)
        self._show()

    def _place(self) -> Location:
        bank = self.library.bank(self._ids[0])
        subject = next(subject for subject in bank.subjects if subject.id == self._ids[1])
        return Location(bank, subject, bank.chapter(self._ids[2]))

    # keys

    def take(self, event: Key) -> bool:
        """Digits and letters as typed; the rest are bindings."""
        character, entry = event.character or "", self.entry
        if not entry.numbers or not character:
            return False
        try:
            if character in _LETTERS:
                entry.letter(character)
                self._message = Content("")
            elif character.isascii() and character.isdigit():
                entry.digit(character)
            elif event.key == "space" and entry.typed:
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
        pasted = {
            question.number: letters_of(question)
            for question in (keyed.bank.questions[name] for name in (*keyed.new, *keyed.changed))
        }
        self.entry.take(pasted)
        self.query_one(KeyLines).show_problems(keyed.problems)
        self._message = Content(
            f"Pasted: {len(keyed.new)} new, {len(keyed.changed)} changed, "
            f"{keyed.unchanged} unchanged; {len(keyed.problems) or 'no'} problems."
        )
        self._grid.refresh()
        self._show()

    def action_skip(self) -> None:
        """On to the next number."""
        self._do(self.entry.skip)

    def action_also(self) -> None:
        """The next letter belongs to the number before."""
        self._do(self.entry.add)
        if self.entry.is_adding:
            self._message = Content(
                f"{self.entry.numbers[self.entry.cursor - 1]}: and which letter?"
            )
            self._show()

    def action_undo(self) -> None:
        """Drop a digit typed, or undo the last letter."""
        if not self.entry.typed.erase() and not self.entry.undo():
            self._warn("Nothing to undo here.")
        self._grid.refresh()
        self._show()

    def action_gap(self) -> None:
        """To the first number without a letter."""
        self._do(self.entry.go_gap)

    def action_move(self, step: int) -> None:
        """The cursor on or back."""
        self._do(lambda: self.entry.move(step))

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
        if not self.entry.changed:
            self.app.go_back()
            return
        self.app.push_screen(
            ChoiceDialog(
                f"{len(self.entry.changed)} letters are not saved yet.",
                [("s", "Save them and leave"), ("d", "Discard them and leave")],
            ),
            self._leave,
        )

    def _leave(self, choice: str | None) -> None:
        if choice == "d" or (choice == "s" and self._save()):
            self.app.go_back()

    def _save(self) -> bool:
        changed = self.entry.changed
        if not changed:
            self._message = Content("Nothing to save: the answer key is unchanged.")
            self._show()
            return True
        keyed = lay_on(self._place(), changed)
        touched = [*keyed.new, *keyed.changed]
        try:
            self.library.save_bank(keyed.bank, touched, label="the answer key")
        except ResieveError as problem:
            self.tell(problem)
            return False
        graded = sum(self.library.response_count(name) > 0 for name in touched)
        self.entry.before = dict(self.entry.keys)
        self._message = Content(
            f"Saved: {len(keyed.new)} new, {len(keyed.changed)} corrected; "
            f"{graded} marked before re-graded."
        )
        self.query_one(KeyLines).show_problems(())
        self._grid.refresh()
        self._show()
        return True

    # showing

    def _show(self) -> None:
        location = self._place()
        entry = self.entry
        count = f"{len(entry.keys)} of {len(entry.numbers)}"
        self.set_title(f"Key · {location.subject.title} · {location.chapter.title}", count)
        self._grid.redraw([max(0, entry.cursor - 1), entry.cursor])
        named = entry.typed.text
        at = (
            entry.numbers.index(int(named))
            if named and int(named) in entry.numbers
            else entry.cursor
        )
        self._grid.point(at)
        legend = legend_text(self.key_of, location.bank.option_count)
        self.query_one(KeyLines).show(entry, self._message, legend)
        self.query_one("#aside", Static).update(chapters_text(location, len(entry.keys)))

    def _warn(self, problem: ResieveError | str) -> None:
        self._message = Content.styled(f"! {problem}", "bold $error")
        self.app.bell()

    def _face(self, slot: int) -> Face:
        return key_face(self.entry, slot)


def chapters_text(location: Location, here: int) -> Content:
    """The subject's chapters, each with how many of its questions have a key; `here` have one in
    this chapter, saved or not.
    """
    lines = [Content.styled(location.subject.title, "bold")]
    for chapter in location.subject.chapters:
        place = replace(location, chapter=chapter)
        questions = keyable(place)
        keyed = sum(bool(question.answer_key) for question in questions)
        is_here = chapter.id == location.chapter.id
        count = f"{here if is_here else keyed:>4} of {len(questions)}"
        title = Content(chapter.title).truncate(_CHAPTER, ellipsis=True, pad=True)
        style = "bold" if is_here else "$muted" if keyed == len(questions) else ""
        lines.append(Content.assemble("> " if is_here else "  ", title, count).stylize(style))
    return stacked(lines)


_WIDE, _CHAPTER = 112, 22
"""From so many cells on the subject's chapters are listed; so many their titles take."""
_LABEL = 9
_GAPS = 5
"""So many gaps are listed, then they are counted."""


def key_face(entry: AnswerKeyGrid, slot: int) -> Face:
    """How a number with its key looks: a star on what is not saved yet, a plus on several."""
    number = entry.numbers[slot]
    letters = entry.keys.get(number, ())
    if not letters:
        return Face(now="·")
    letter = letters[0] if len(letters) == 1 else "+"
    if entry.before.get(number) == letters:
        return Face(now=letter, style="right")
    return Face(now=f"{letter}*", style="unsure")


def here_text(entry: AnswerKeyGrid) -> Content:
    """The number under the cursor, its key, and what it was."""
    if entry.typed:
        return Content.assemble("go on from ", (entry.typed.text, "bold underline"), "▏")
    if entry.cursor >= len(entry.numbers):
        return Content("Past the last number.")
    number = entry.numbers[entry.cursor]
    key, before = entry.keys.get(number, ()), entry.before.get(number, ())
    was = f"   (was {', '.join(before)})" if before and before != key else ""
    return Content.assemble((str(number), "bold"), f"   key: {', '.join(key) or 'none yet'}{was}")


def tally_text(entry: AnswerKeyGrid) -> Content:
    """How many have a key, how many are not saved, and where the gaps are."""
    gaps = entry.gaps
    stretches = _stretches(gaps)
    listed = ", ".join(stretches[:_GAPS]) + (" …" if len(stretches) > _GAPS else "")
    parts = [f"{len(entry.keys)} of {len(entry.numbers)} have a key"]
    parts += [f"* {len(entry.changed)} not saved"] if entry.changed else []
    parts += [f"{len(gaps)} without: {listed}"] if gaps else ["no gaps"]
    return Content("   ".join(parts))


def _stretches(numbers: Sequence[int]) -> list[str]:
    """Ascending numbers as they are written: "9", "28–40"."""
    ends: list[list[int]] = []
    for number in numbers:
        if ends and number == ends[-1][1] + 1:
            ends[-1][1] = number
        else:
            ends.append([number, number])
    return [str(first) if first == last else f"{first}–{last}" for first, last in ends]


def legend_text(key: Callable[[str], str], option_count: int) -> Content:
    """The ways to put a key in."""
    last = LETTERS[option_count - 1]
    ways = (
        ("Letters", f"a–{last} for the > and on; 40 b: on from 40; + c: c too; space skips one"),
        ("Paste", "the key as printed: 1 b 2 c, 1. (b), columns; spaces group letters"),
        ("Then", f"{key('save')} saves it, and what was marked before is graded again"),
    )
    return Content("\n").join(
        Content.assemble((label.ljust(_LABEL), "bold"), words) for label, words in ways
    )


class KeyLines(Vertical):
    """The lines under the grid of a key: the number, what came of it, the count, the ways."""

    DEFAULT_CSS = """
    KeyLines { height: auto; padding: 0 1; }
    KeyLines Static { height: 1; }
    KeyLines #problems { height: auto; max-height: 7; color: $text-error; }
    KeyLines #legend { height: 3; color: $foreground 80%; }
    """

    def compose(self) -> ComposeResult:
        """A line each; the problems of a pasted key as many as there are."""
        for name in ("problems", "here", "message", "tally", "legend"):
            yield Static(id=name, markup=False)

    def show(self, entry: AnswerKeyGrid, message: Content, legend: Content) -> None:
        """Show the grid as it is; `message` says what the last key came to."""
        lines = {
            "here": here_text(entry),
            "message": message,
            "tally": tally_text(entry),
            "legend": legend,
        }
        for name, content in lines.items():
            self.query_one(f"#{name}", Static).update(content, layout=False)

    def show_problems(self, problems: Sequence[KeyProblem]) -> None:
        """What is wrong with a pasted key, by number."""
        lines = [f"! {problem.reason}" for problem in problems]
        if len(lines) > 6:
            lines = [*lines[:6], f"… and {len(lines) - 6} more"]
        self.query_one("#problems", Static).update(Content("\n".join(lines)))
