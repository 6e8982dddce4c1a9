"""How a paper went: what brought the marks, and the way to its questions one by one."""

from functools import partial

from textual.app import ComposeResult
from textual.containers import VerticalScroll

from banks.views.papers import PaperReport, paper_report
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.widgets.result_lines import result_text
from tui.widgets.text_block import TextBlock


class PaperResult(AppScreen):
    """The result of a paper that was handed in."""

    NAME = "result"
    HEADING = "Result"
    ABOUT = (
        "What the paper came to, under its own scheme and the answer keys in force now: by what "
        "you said, by quarter, by subject. Read it through to see every question with your "
        "response and its key."
    )
    ACTIONS = (
        Action("read_through", "V", "Read through", "Read it through, question by question."),
        Action("missed", "enter", "Take misses", "Drill or mark what was wrong or blank."),
        Action("scroll(1)", "down,j", "Down", "Scroll down.", footer=False, palette=False),
        Action("scroll(-1)", "up,k", "Up", "Scroll up.", footer=False, palette=False),
    )
    CSS = """
    PaperResult #sheet { padding: 1 2 0 2; scrollbar-size-vertical: 1; }
    """

    def __init__(self, sitting_id: str) -> None:
        super().__init__()
        self._sitting_id = sitting_id
        self._report: PaperReport | None = None

    def body(self) -> ComposeResult:
        """One page of text."""
        with VerticalScroll(id="sheet"):
            yield TextBlock(id="result")

    def ready(self) -> None:
        """Mark the paper."""
        report = paper_report(self.library, self.library.sitting(self._sitting_id))
        self._report = report
        self.set_title(f"Result · {report.title}", report.scheme)
        self.query_one("#result", TextBlock).show(partial(result_text, report))

    def action_scroll(self, step: int) -> None:
        """Scroll a result that is longer than the screen."""
        self.query_one("#sheet").scroll_relative(y=step * 3, animate=False)

    def action_read_through(self) -> None:
        """Every question with the response and the answer key."""
        from tui.screens.read_through import ReadThroughScreen

        self.app.push_screen(ReadThroughScreen(self._sitting_id))

    def action_missed(self) -> None:
        """Take what was missed: drilled, or marked where it is in the book."""
        missed = self._report.missed if self._report else []
        if missed:
            self.app.begin_free_drill("Missed in the paper", missed)
        else:
            self.tell("Nothing was missed.")
