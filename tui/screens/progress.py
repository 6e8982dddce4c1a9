"""Where do I stand? A question a page, answered in a sentence and a picture."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from banks.views.confusions import Confusion
from banks.views.drill import show_question
from banks.views.evidence import Evidence, evidence
from domain.errors import ResieveError
from domain.text import counted
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dates import days_to_exam
from tui.dialogs import TextDialog
from tui.screens.question_details import QuestionDetails
from tui.widgets.evidence_pages import MIXED_UP, PAGES, PageLayout, confusion_line
from tui.widgets.question_text import compared_options_text, place_text, question_text
from tui.widgets.text_block import ScrollText, TextBlock, beside, hanging, stacked
from tui.widgets.virtual_list import VirtualList

if TYPE_CHECKING:
    from banks.library import Library

AROUND = 5
"""Lines of the screen that are not the page's."""
_WIDE, _GAP = 104, 4
"""Cells from which on two questions stand side by side, and those between them."""


class MixedUpList(Vertical):
    """What is mixed up, the most frequent first; below it the selected questions in full."""

    DEFAULT_CSS = """
    MixedUpList VirtualList { height: 40%; min-height: 4; margin: 1 0; }
    MixedUpList ScrollText { padding: 0 1 0 2; }
    """

    def compose(self) -> ComposeResult:
        """The list, and the questions below it."""
        self.listed: VirtualList[Confusion] = VirtualList(empty="")
        self.text = ScrollText(id="confused", can_focus=False)
        self.listed.follow = self._tell_about
        yield self.listed
        yield self.text

    def show(self, confusions: Sequence[Confusion], library: "Library") -> None:
        """List these."""
        self._library = library
        self.listed.show(confusions, confusion_line, selected=self.listed.selected)

    def _tell_about(self, confusion: Confusion | None) -> None:
        self.text.to_top()
        self.text.show([partial(self._questions, confusion)] if confusion else [])

    def _questions(self, confusion: Confusion, width: int) -> Content:
        """Two questions side by side where there is room, else one above the other."""
        questions = confusion.questions
        is_beside = len(questions) == 2 and width >= _WIDE
        own = (width - _GAP) // 2 if is_beside else width
        texts = [self._question(question.id, question.chosen, own) for question in questions]
        if is_beside:
            return beside(texts[0], texts[1], own, _GAP)
        return Content("\n\n").join(texts)

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
        Action("chapters", "c", "Chapters", "Show or hide the chapters of each subject."),
        Action("drill", "d", "Drill", "Drill the selected questions that you mix up."),
        Action("drill_all", "a", "Drill all", "Drill every question that you mix up."),
        Action("save_page", "P", "Save page", "Write the whole report as one HTML file."),
        Action("scroll(1)", "down,j", "Down", "Scroll down.", footer=False, palette=False),
        Action("scroll(-1)", "up,k", "Up", "Scroll up.", footer=False, palette=False),
    )
    CSS = """
    #tabs { height: 1; padding: 0 1; color: $text-muted; }
    #sheet { padding: 1 2 0 2; scrollbar-size-vertical: 1; }
    ProgressScreen MixedUpList { height: 1fr; display: none; }
    ProgressScreen.-mixed MixedUpList { display: block; }
    ProgressScreen.-mixed #sheet { height: auto; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._found: Evidence | None = None
        self._page, self._by_chapter = 0, False
        self._is_reading = False

    def body(self) -> ComposeResult:
        """The names of the pages, and the page."""
        yield Static(id="tabs", markup=False)
        with VerticalScroll(id="sheet"):
            yield TextBlock(id="page")
        yield MixedUpList()

    def ready(self) -> None:
        """Compute in a thread; what was shown before stays until then."""
        self._show()
        if not self._is_reading:
            self._is_reading = True
            self.in_background(self._read, loads=self._found is None)

    def _read(self) -> None:
        try:
            report = evidence(self.library)
        finally:
            self._is_reading = False
        self.hand_over(self._read_done, report)

    def _read_done(self, evidence: Evidence) -> None:
        self._found = evidence
        self._mixed.show(evidence.mixed_up, self.library)
        self._show()

    @property
    def _mixed(self) -> MixedUpList:
        return self.query_one(MixedUpList)

    @property
    def _lists_confusions(self) -> bool:
        """Whether the page of what is mixed up is shown, and has something to list."""
        return bool(self._found and self._found.mixed_up) and list(PAGES)[self._page] == MIXED_UP

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What is mixed up can be drilled where it is listed; the list has the arrows then."""
        if action in ("drill", "drill_all"):
            return self._lists_confusions
        return action != "scroll" or not self._lists_confusions

    def _show(self) -> None:
        report = self._found
        self.set_title("Progress", self._subtitle(report))
        names = [
            (f" {number} {name} ", "bold $accent reverse" if number - 1 == self._page else "")
            for number, name in enumerate(PAGES, 1)
        ]
        self.query_one("#tabs", Static).update(Content.assemble(*names))
        page = list(PAGES.values())[self._page]
        self.set_class(self._lists_confusions, "-mixed")
        self.set_focus(self._mixed.listed if self._lists_confusions else self.query_one("#sheet"))
        self.refresh_bindings()
        leaf = self.query_one("#page", TextBlock)
        if report is None:
            leaf.show(lambda _: Content.styled("Reading your history …", "$muted"))
        else:
            height = self.size.height - AROUND
            leaf.show(lambda width: page(report, PageLayout(width, height, self._by_chapter)))
        self.query_one("#sheet").scroll_home(animate=False)

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

    def action_chapters(self) -> None:
        """Show or hide the chapters on the first page."""
        self._page, self._by_chapter = 0, not self._by_chapter
        self._show()

    def action_scroll(self, step: int) -> None:
        """Scroll a page that is longer than the screen."""
        self.query_one("#sheet").scroll_relative(y=step * 3, animate=False)

    def on_virtual_list_picked(self) -> None:
        """Enter: the selected questions in full, with their history."""
        if confusion := self._mixed.listed.item:
            questions = map(
                self.library.question, [question.id for question in confusion.questions]
            )
            there = [question for question in questions if question is not None]
            self.app.push_screen(QuestionDetails(self.library, *there))

    def action_drill(self) -> None:
        """A free drill of the selected question, or two."""
        if confusion := self._mixed.listed.item:
            self._drill([confusion])

    def action_drill_all(self) -> None:
        """A free drill of everything listed, the most frequent first."""
        self._drill(self._mixed.listed.items)

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
            save(self._found, Path(name).expanduser())
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.notify(f"Written: {name}")
