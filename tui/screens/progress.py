"""Where do I stand? A question a page, answered in a sentence and a picture."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from banks.views.confusions import Confusion
from banks.views.drill import show_question
from banks.views.evidence import Evidence, SubjectEvidence
from banks.views.figures import confusions_of_now, evidence_of_now
from banks.views.triage import Filter
from domain.errors import ResieveError
from domain.text import counted
from tui.actions import Action
from tui.base_screen import READING, SCROLL, AppScreen
from tui.dates import days_to_exam
from tui.dialogs import TextDialog
from tui.screens.question_details import QuestionDetails
from tui.widgets.evidence_pages import (
    PAGES,
    WEAK,
    WIDE,
    PageLayout,
    WeakLine,
    figures_text,
    subject_text,
    weak_head,
    weak_line,
    weak_lines,
)
from tui.widgets.question_text import compared_options_text, place_text, question_text
from tui.widgets.text_block import ScrollText, TextBlock, hanging, stacked
from tui.widgets.virtual_list import GUTTER, VirtualList

if TYPE_CHECKING:
    from banks.library import Library

AROUND = 5
"""Lines of the screen that are not the page's."""


class WeakList(Horizontal):
    """Subjects and what is mixed up; beside or below the list what is selected, in full."""

    DEFAULT_CSS = """
    WeakList { height: 1fr; }
    WeakList Vertical { margin-right: 1; }
    WeakList #heads { height: 1; padding: 0 1 0 0; }
    WeakList ScrollText { width: 40%; padding: 0 0 0 2; border-left: solid $panel; }
    WeakList.-narrow { layout: vertical; }
    WeakList.-narrow Vertical { height: 1fr; }
    WeakList.-narrow ScrollText { width: 1fr; height: 1fr; padding: 1 0 0 2; border: none; }
    """

    def compose(self) -> ComposeResult:
        """The list, and what is told about its selected line."""
        self.listed: VirtualList[WeakLine] = VirtualList(empty="")
        self.text = ScrollText(id="weak", can_focus=False)
        self.listed.follow = self._tell_about
        with Vertical():
            yield TextBlock(id="heads")
            yield self.listed
        yield self.text

    def show(
        self, evidence: Evidence, mixed_up: Sequence[Confusion] | None, library: "Library"
    ) -> None:
        """List what is weak; a first time the first subject is selected."""
        self._evidence, self._library = evidence, library
        self.query_one("#heads", TextBlock).show(
            lambda width: Content(" " * GUTTER) + weak_head(width - GUTTER)
        )
        selected = max(1, self.listed.selected)
        self.listed.show(weak_lines(evidence, mixed_up), weak_line, selected=selected)

    @property
    def confusions(self) -> list[Confusion]:
        """What is mixed up, as listed."""
        return [line for line in self.listed.items if isinstance(line, Confusion)]

    def to_mixed_up(self) -> None:
        """Select the first of what is mixed up; from there, the first subject again."""
        first = len(self.listed.items) - len(self.confusions)
        there = 1 if self.listed.selected >= first else first
        self.listed.selected = there
        self.listed.scroll_to(y=there - 1, animate=False, force=True, immediate=True)

    def turn(self) -> None:
        """Scroll what is told about the selected line; at its end, back to the top."""
        if self.text.lines_below:
            self.text.turn(1)
        else:
            self.text.to_top()

    def _tell_about(self, line: WeakLine | None) -> None:
        self.text.to_top()
        self.text.show([partial(self._about, line)] if line is not None else [])

    def _about(self, line: WeakLine, width: int) -> Content:
        if isinstance(line, SubjectEvidence):
            return subject_text(self._evidence, line, width)
        if isinstance(line, Confusion):
            texts = [self._question(asked.id, asked.chosen, width) for asked in line.questions]
            return Content("\n\n").join(texts)
        return figures_text(width)

    def _question(self, question_id: str, chosen: str, width: int) -> Content:
        question = self._library.question(question_id)
        if question is None:
            return Content("")
        shown = show_question(self._library, question, None)
        explanation = hanging(Content(""), Content(question.explanation), width)
        return stacked(
            [
                place_text(shown, width),
                question_text(shown, width),
                compared_options_text(shown, chosen, width) if shown.seating.options else None,
                explanation if question.explanation else None,
            ]
        )


class ProgressScreen(AppScreen):
    """The evidence in pages; what is shown is computed behind the screen."""

    NAME = "progress"
    HEADING = "Progress"
    ABOUT = (
        "Everything here is computed from your own responses, with ranges that show how certain "
        "it is. Turn the pages with the digits or the arrows."
    )
    ACTIONS = (
        Action("turn(1)", "right,l,tab", "Next page", "Next page."),
        Action("turn(-1)", "left,h,shift+tab", "Page before", "Previous page.", footer=False),
        *(
            Action(f"open({number})", str(number + 1), name, f"Turn to {name}.", footer=False)
            for number, name in enumerate(PAGES)
        ),
        Action("mixed_up", "7", "Mixed up", "Go to what you mix up, or back to the subjects."),
        Action("drill", "d", "Drill", "Drill the selected questions that you mix up."),
        Action("drill_all", "a", "Drill all", "Drill every question that you mix up."),
        Action("turn_text", "space", "Text", "Scroll the text beside the list.", footer=False),
        Action("save_page", "P", "Save page", "Write the whole report as one HTML file."),
        *SCROLL,
    )
    CSS = """
    #tabs { height: 1; padding: 0 1; color: $text-muted; }
    ProgressScreen #sheet, ProgressScreen #lead { padding: 1 2 0 2; }
    ProgressScreen WeakList, ProgressScreen #lead { display: none; }
    ProgressScreen.-weak #lead { display: block; }
    ProgressScreen.-weak WeakList { display: block; padding: 1 1 0 0; }
    ProgressScreen.-weak #sheet { display: none; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._found: Evidence | None = None
        self._mixed_up: Sequence[Confusion] | None = None
        self._is_mixed_up_old = True
        self._is_jumping = False
        self._page = 0
        self._is_reading = False

    def body(self) -> ComposeResult:
        """The names of the pages, and the page."""
        yield Static(id="tabs", markup=False)
        yield ScrollText(id="sheet")
        yield TextBlock(id="lead")
        yield WeakList()

    def ready(self) -> None:
        """Compute in a thread; what was shown before stays until then."""
        self._show()
        if not self._is_reading:
            self._is_reading = True
            self.in_background(self._read, loads=self._found is None)

    def _read(self) -> None:
        try:
            report = evidence_of_now(self.library)
        finally:
            self._is_reading = False
        self.hand_over(self._read_done, report)

    def _read_done(self, evidence: Evidence) -> None:
        self._found, self._is_mixed_up_old = evidence, True
        self._weak.show(evidence, self._mixed_up, self.library)
        self._show()

    def _read_mixed_up(self) -> None:
        self.hand_over(self._list_mixed_up, confusions_of_now(self.library))

    def _list_mixed_up(self, mixed_up: Sequence[Confusion]) -> None:
        self._mixed_up = mixed_up
        if self._found is not None:
            self._weak.show(self._found, mixed_up, self.library)
            self.refresh_bindings()
        if self._is_jumping:
            self._is_jumping = False
            self._weak.to_mixed_up()

    @property
    def _weak(self) -> WeakList:
        return self.query_one(WeakList)

    @property
    def _lists_weak(self) -> bool:
        """Whether the page with the list is shown, and has something to list."""
        return bool(self._found and self._found.weeks) and self._page == WEAK

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What is mixed up can be drilled where it is listed; the list has the arrows then."""
        if action in ("drill", "drill_all"):
            return self._lists_weak and bool(self._mixed_up)
        if action == "turn_text":
            return self._lists_weak
        return action != "scroll" or not self._lists_weak

    def _show(self) -> None:
        report = self._found
        self.set_title("Progress", self._subtitle(report))
        names = [
            (f" {number} {name} ", "bold $accent reverse" if number - 1 == self._page else "")
            for number, name in enumerate(PAGES, 1)
        ]
        self.query_one("#tabs", Static).update(Content.assemble(*names))
        page = list(PAGES.values())[self._page]
        self.set_class(self._lists_weak, "-weak")
        self._weak.set_class(self.size.width < WIDE, "-narrow")
        sheet = self.query_one("#sheet", ScrollText)
        self.set_focus(self._weak.listed if self._lists_weak else sheet)
        self.refresh_bindings()
        if self._lists_weak and self._is_mixed_up_old:
            self._is_mixed_up_old = False
            self.in_background(self._read_mixed_up, group="mixed-up", loads=self._mixed_up is None)
        if report is None:
            sheet.show([lambda _: Content.styled(READING, "$muted")])
            return
        height = self.size.height - AROUND

        def text(width: int) -> Content:
            return page(report, PageLayout(width, height))

        if self._lists_weak:
            self.query_one("#lead", TextBlock).show(text)
        else:
            sheet.show([text])
            sheet.to_top()

    def _subtitle(self, evidence: Evidence | None) -> str:
        if evidence is None:
            return ""
        days = (
            days_to_exam((evidence.exam - evidence.today).days) if evidence.exam else "no exam set"
        )
        return f"{evidence.responses:,} responses · {days}"

    def on_resize(self, _: Resize) -> None:
        """Pictures take the height there is."""
        if self.is_mounted:
            self._show()

    def action_turn(self, step: int) -> None:
        """The next page or the one before."""
        self.action_open((self._page + step) % len(PAGES))

    def action_open(self, page: int) -> None:
        """Turn to a page."""
        self._page = page
        self._show()

    def action_scroll(self, step: int) -> None:
        """Scroll the page."""
        self.query_one("#sheet").scroll_relative(y=step * 3, animate=False)

    def action_mixed_up(self) -> None:
        """To what is mixed up; from there back to the subjects."""
        if not self._lists_weak:
            self.action_open(WEAK)
        self._is_jumping = self._lists_weak and self._mixed_up is None
        if self._lists_weak and not self._is_jumping:
            self._weak.to_mixed_up()

    def action_turn_text(self) -> None:
        """Scroll what is told about the selected line."""
        self._weak.turn()

    def on_virtual_list_picked(self) -> None:
        """Enter: a subject's questions by tier, or those that are mixed up in full."""
        line = self._weak.listed.item
        if isinstance(line, SubjectEvidence):
            from tui.screens.triage import TriageScreen

            bank, _, subject = line.subject.partition("/")
            self.app.push_screen(TriageScreen(Filter(bank=bank, subject=subject)))
        elif isinstance(line, Confusion):
            questions = map(self.library.question, [asked.id for asked in line.questions])
            there = [question for question in questions if question is not None]
            self.app.push_screen(QuestionDetails(self.library, *there))

    def action_drill(self) -> None:
        """A free drill of the selected question, or two."""
        if isinstance(line := self._weak.listed.item, Confusion):
            self._drill([line])
        else:
            self.tell(f"Select something you mix up first, with {self.key_of('mixed_up')}.")

    def action_drill_all(self) -> None:
        """A free drill of all that is mixed up, the most frequent first."""
        self._drill(self._weak.confusions)

    def _drill(self, confusions: Sequence[Confusion]) -> None:
        ids = list(dict.fromkeys(question.id for each in confusions for question in each.questions))
        self.app.begin_free_drill(f"Mixed up · {counted(len(ids), 'question')}", ids)

    def action_save_page(self) -> None:
        """Ask where to, and write the report."""
        if self._found is None:
            self.tell("Still reading your history.")
            return
        name = f"report-{self._found.today}.html"
        self.app.push_screen(TextDialog("Write the report to", name), self._save)

    def _save(self, name: str | None) -> None:
        if not name or self._found is None:
            return
        from banks.exporters.report_page import save

        try:
            save(self._found, confusions_of_now(self.library), Path(name).expanduser())
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.notify(f"Written: {name}")
