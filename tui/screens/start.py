"""The first two minutes: the bank, the exam day and the time there is; the plan shows at once."""

from pathlib import Path

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Input, Label, Static

from banks.intake.file_import import ImportOptions, Preview, apply_import, preview_import
from banks.intake.past_marks import PastMarks
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload, try_out
from domain.errors import ResieveError
from domain.plan.study_plan import StudyPlan
from domain.text import counted
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dates import long_day
from tui.plan_form import LINES, read_lines
from tui.plan_words import fits_words

_PRACTICE = "practice"


class StartScreen(AppScreen):
    """A form: the bank if there is none yet, then what the plan needs."""

    NAME = "start"
    HEADING = "Exam and time"
    ABOUT = (
        "What the plan needs to know. The plan that follows stands below as you type; ctrl+r keeps "
        "it. All of it can be changed at any time, here."
    )
    ACTIONS = (Action("save", "ctrl+r", "Keep this plan", "Keep the plan that stands below."),)
    BACK = Action("back", "escape", "Back", "Leave without a change.")
    CSS = """
    StartScreen VerticalScroll { padding: 1 2; height: 1fr; }
    StartScreen .line { height: 1; margin: 0 0 1 0; }
    StartScreen .line Label { width: 20; }
    StartScreen .line Input { width: 1fr; }
    StartScreen #said { height: auto; max-height: 50%; padding: 0 2; }
    """

    def body(self) -> ComposeResult:
        """A line an input, and what comes of it."""
        with VerticalScroll():
            with Horizontal(classes="line", id="bank-line"):
                yield Label("Your bank")
                yield Input(id="bank", compact=True, placeholder=f"path of a file, or: {_PRACTICE}")
            for line in LINES:
                with Horizontal(classes="line"):
                    yield Label(line.label)
                    yield Input(id=line.name, compact=True, placeholder=line.hint)
        yield Static("", id="said")

    def ready(self) -> None:
        """Fill the form with what is set."""
        self._seen: Preview | PastMarks | None = None
        self._workload = PlanWorkload(self.library)
        for line in LINES:
            with self.prevent(Input.Changed):
                self.query_one(f"#{line.name}", Input).value = line.show(self._workload.inputs)
        has_bank = bool(self.library.banks)
        self.query_one("#bank-line").display = not has_bank
        self.query_one("#exam" if has_bank else "#bank", Input).focus()
        if has_bank:
            self.set_title(self.HEADING, "all of it can be changed later")
            self._try_out()
        else:
            self.set_title("Welcome", "two minutes; all of it can be changed later")
            self._say(
                "A file with questions, or the shape of your printed bank as lines of "
                "subject,chapter,questions. Enter looks at it before anything is written.\n"
                f"Or type {_PRACTICE}: the demo's banks, to find your way around.\n"
                "Or press esc, then b, and key your questions in by hand."
            )

    # typing

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show the plan as it would be; look at another file afresh."""
        if event.input.id == "bank":
            self._seen = None
        elif self.library.banks:
            self._try_out()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter: the bank is looked at, then brought in; any other line leads to the next."""
        if event.input.id != "bank":
            if event.input.id == LINES[-1].name:
                self.action_save()
            else:
                self.focus_next()
            return
        try:
            self._take_bank(event.value.strip())
        except ResieveError as problem:
            self._say(str(problem))

    def _take_bank(self, path: str) -> None:
        if path == _PRACTICE:
            self._bring_practice()
        elif self._seen is not None:
            apply_import(self.library, [self._seen])
            self.ready()
        elif path:
            file = Path(path).expanduser()
            self._seen = preview_import(
                self.library, self.library.banks, _content(file), file.name, ImportOptions()
            )
            self._say(_found(self._seen))

    def _bring_practice(self) -> None:
        from banks.demo import full_bank, printed_bank

        full, printed = full_bank(), printed_bank(self.library.today())
        for bank in (full, printed):
            self.library.save_bank(bank, label="the practice banks")
        settings = self.library.settings
        inputs = replace(settings.plan, banks=(printed.id,))
        self.library.save_settings(replace(settings, plan=inputs))
        self.ready()

    # the plan

    def _try_out(self) -> None:
        typed = self._typed()
        if not typed["exam"].strip():
            count = self.library.question_count
            self._say(f"In the store: {counted(count, 'question')}. Now the exam day.")
            return
        try:
            inputs = read_lines(self._workload.inputs, typed)
            self._say(_summary(try_out(self._workload, inputs)))
        except ResieveError as problem:
            self._say(str(problem))

    def _typed(self) -> dict[str, str]:
        return {line.name: self.query_one(f"#{line.name}", Input).value for line in LINES}

    def action_save(self) -> None:
        """Keep the plan and go to it."""
        if not self.library.banks:
            self._say("First the bank: its file in the line at the top.")
            return
        try:
            accept(self.library, read_lines(self._workload.inputs, self._typed()))
        except ResieveError as problem:
            self._say(str(problem))
            return
        self.app.go_back()

    def _say(self, words: str | Content) -> None:
        said = words if isinstance(words, Content) else Content(words)
        self.query_one("#said", Static).update(said)


def _content(file: Path) -> bytes:
    from banks.importers.detect import read_bytes

    return read_bytes(file)


def _found(seen: Preview | PastMarks) -> Content:
    if isinstance(seen, PastMarks):
        return Content("These are marks, not questions: bring the bank in first.")
    bank = seen.bank
    subjects = counted(len(bank.subjects), "subject")
    words = f"{bank.title}: {counted(len(bank.questions), 'question')} in {subjects}"
    lines = [Content.styled(words, "bold")]
    if seen.skipped:
        first = seen.skipped[0]
        lines.append(
            Content(f"{len(seen.skipped)} skipped, the first: line {first.line}: {first.reason}")
        )
    lines.append(Content("Press enter again to bring them in."))
    return Content("\n").join(lines)


def _summary(plan: StudyPlan) -> Content:
    fits, _, rest = fits_words(plan).partition(";")
    lines = [Content.styled(fits, "bold")]
    for span in plan.rounds:
        if span.first_day and span.last_day:
            first, last = long_day(span.first_day), long_day(span.last_day)
            lines.append(Content(f"Round {span.round}: {first} to {last}"))
    if plan.feasible:
        lines.append(Content(f"{rest.strip().capitalize()}"))
    else:
        lines.append(Content("The Plan screen (f3) lists what would make it fit."))
    return Content("\n").join(lines)
