"""Keying in a question, as fast as it can be typed."""

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.events import DescendantFocus
from textual.widgets import Input, Static, TextArea

from domain import editing
from domain.editing import TypedQuestion, question_from, typed
from domain.errors import InputError, ResieveError
from domain.questions import Bank, Form, Question, bank_of
from domain.text import tidy
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dialogs import ConfirmDialog
from tui.save_in_background import attempt

AREAS = ("stem", "options", "explanation")
LINES = ("key", "reference", "tags", "number")
LABELS = {
    "stem": "Question",
    "options": "Options",
    "key": "Answer key",
    "explanation": "Explanation",
    "reference": "Page",
    "tags": "Tags",
    "number": "Number",
}
HINTS = {
    "options": "one per line",
    "key": "letters; without options a number (12 ± 0.5) or words (a | b)",
    "tags": "separated by commas",
}


class QuestionForm(AppScreen):
    """A form for one question: `QuestionForm(question_id)`; `QuestionForm(bank_id, chapter_id)`
    for new ones.

    Saving a new one opens the next number; saving the text of a question that was in the printed
    bank only opens the next of the chapter that has no text yet. Its history stays with it.
    """

    NAME = "question"
    HEADING = "Question"
    ABOUT = (
        "Tab moves between fields. Enter in a one-line field saves and opens the next question; "
        "the save shortcut does so from any field. Write one option per line; a line that "
        "starts with two spaces continues the option above. Several letters in the answer key "
        "make a question with several right options. Whatever you change, the history stays."
    )
    ACTIONS = (
        Action("save", "ctrl+r", "Save, next", "Save, and open the next question."),
        Action("undo", "f12", "Undo save", "Undo the last save."),
    )
    BACK = Action("back", "escape", "Back", "Leave; asks first if something is not saved.")
    DEFAULT_CSS = """
    QuestionForm #fields { padding: 1 2 0 2; }
    QuestionForm .field { height: auto; margin-bottom: 1; }
    QuestionForm .field.tall { height: 2fr; min-height: 3; }
    QuestionForm .label { width: 13; height: 1; color: $text-muted;
        border-right: solid $foreground 30%; }
    QuestionForm .tall .label { height: 100%; }
    QuestionForm .label.-here { color: $accent; text-style: bold; }
    QuestionForm TextArea { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    QuestionForm Input.-textual-compact { width: 1fr; padding: 0 1; }
    QuestionForm .short { width: 1fr; height: 1; }
    QuestionForm #number-field { width: 17; }
    QuestionForm .short .label { width: 8; padding-left: 2; }
    QuestionForm #number-field .label { width: 10; }
    QuestionForm #reference-field .label { width: 13; padding-left: 0; }
    """

    def __init__(self, target: str, chapter_id: str | None = None) -> None:
        super().__init__()
        self._target, self._chapter_id = target, chapter_id
        self._old: Question | None = None
        self._shown = TypedQuestion()
        self._goes_on = False
        self._saved = 0

    def body(self) -> ComposeResult:
        """The fields in the order in which a book is read."""
        with Vertical(id="fields"):
            for name in ("stem", "options"):
                yield from self._area(name)
            with Horizontal(classes="field"):
                yield from self._line("key")
            yield from self._area("explanation")
            with Horizontal(classes="field"):
                for name in ("reference", "tags", "number"):
                    with Horizontal(id=f"{name}-field", classes="short"):
                        yield from self._line(name)

    def _area(self, name: str) -> ComposeResult:
        with Horizontal(classes="field tall"):
            hint = f"\n{HINTS[name]}" if name in HINTS else ""
            yield Static(LABELS[name] + hint, id=f"{name}-label", classes="label", markup=False)
            yield TextArea(id=name, tab_behavior="focus", compact=True)

    def _line(self, name: str) -> ComposeResult:
        yield Static(LABELS[name], id=f"{name}-label", classes="label", markup=False)
        yield Input(id=name, compact=True, placeholder=HINTS.get(name, ""))

    def on_descendant_focus(self, event: DescendantFocus) -> None:
        """Show by its label which field is typed in."""
        for label in self.query(".label"):
            label.set_class(label.id == f"{event.widget.id}-label", "-here")

    # what is shown

    @property
    def old(self) -> Question:
        """The question as it was opened; there is one once the screen is ready."""
        assert self._old is not None
        return self._old

    @property
    def bank(self) -> Bank:
        """The bank as it is now."""
        return self.library.bank(bank_of(self._target))

    def ready(self) -> None:
        """Open the question asked for, or an empty one."""
        if self._old is not None:
            return
        if self._chapter_id is not None:
            self._goes_on = True
            self._open(self._new(self._chapter_id))
        elif question := self.library.question(self._target):
            self._goes_on = question.form is not Form.FULL
            self._open(question)
        else:
            self.app.go_back()
            self.tell("This question is no longer there.")

    def _new(self, chapter_id: str) -> Question:
        number = editing.next_number(self.bank, chapter_id)
        return editing.blank_question(self.bank, chapter_id, number)

    def _open(self, question: Question) -> None:
        self._old, self._shown = question, typed(question)
        for name in AREAS:
            self.query_one(f"#{name}", TextArea).load_text(getattr(self._shown, name))
        for name in LINES:
            self.query_one(f"#{name}", Input).value = getattr(self._shown, name)
        self.query_one("#stem").focus()
        subject = self.bank.subject_of(question.chapter)
        chapter = self.bank.chapter(question.chapter)
        saved = f" · {self._saved} saved" if self._saved else ""
        is_new = "" if question.id else "new "
        self.set_title(
            f"{subject.title} · {chapter.title}", f"{is_new}question {question.number}{saved}"
        )

    def _typed(self) -> TypedQuestion:
        areas = {name: self.query_one(f"#{name}", TextArea).text for name in AREAS}
        lines = {name: self.query_one(f"#{name}", Input).value for name in LINES}
        return TypedQuestion(**areas, **lines)

    # saving

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter in a field of one line."""
        event.stop()
        self.action_save()

    def action_save(self) -> None:
        """Save what was typed; then the next."""
        fields = self._typed()
        if self.old.id and fields == self._shown:
            self._next(self.old)
            return
        try:
            bank, question = self._changed(fields)
        except InputError as problem:
            self.tell(problem)
            return
        self._told_of_key = bool(
            self.old.id and self.old.answer_key and self.old.answer_key != question.answer_key
        )
        label = f"question {question.number}"
        # Here and not in a thread: what is typed meanwhile waits, and goes into the next question.
        attempt(
            self,
            lambda: self.library.save_bank(bank, [question.id], label=label),
            lambda: self._after_saving(question),
        )

    def _changed(self, fields: TypedQuestion) -> tuple[Bank, Question]:
        cleaned = TypedQuestion(
            **{name: tidy(getattr(fields, name)) for name in TypedQuestion.__struct_fields__}
        )
        question = question_from(cleaned, self.old)
        if not self.old.id and question.form is Form.BARE:
            raise InputError("type the question, or at least its key, before saving")
        return editing.put_in(self.bank, question)

    def _after_saving(self, question: Question) -> None:
        self._saved += 1
        if self._told_of_key:
            self.notify("The answer key changed: this question's history was re-graded.")
        self._next(question)

    def _next(self, question: Question) -> None:
        following = editing.after(self.bank, question)
        if not self._goes_on:
            self.app.go_back()
        elif following is not None and following.form is not Form.FULL:
            self._open(following)
        elif self._chapter_id is not None:
            self._open(self._new(self._chapter_id))
        else:
            self.notify("That was the last of this chapter without its text.", timeout=3)
            self.app.go_back()

    def action_undo(self) -> None:
        """Take the question saved last back, and open it again."""
        if not self._saved:
            self.tell("Nothing saved here yet.")
            return
        saved = self.bank
        try:
            undone = self.library.undo()
        except ResieveError as problem:
            self.tell(problem)
            return
        self._saved -= 1
        if undone is None or not undone.questions:
            return
        before = self.bank.questions.get(undone.questions[0])
        self._open(before or self._new(saved.questions[undone.questions[0]].chapter))

    def action_back(self) -> None:
        """Leave, but not with something unsaved unless that is meant."""
        if self._old is None or self._typed() == self._shown:
            self.app.go_back()
            return

        def confirmed(choice: str | None) -> None:
            if choice == "y":
                self.app.go_back()

        self.app.push_screen(ConfirmDialog("Leave without saving this question?"), confirmed)
