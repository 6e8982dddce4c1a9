"""Where do I stand? A question a page, answered in a sentence and a picture."""

from pathlib import Path

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from banks.views.evidence import Evidence, evidence
from domain.errors import ResieveError
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dates import days_to_exam
from tui.dialogs import TextDialog
from tui.widgets.evidence_pages import PAGES, PageLayout
from tui.widgets.text_block import TextBlock

AROUND = 5
"""Lines of the screen that are not the page's."""


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
        Action("save_page", "P", "Save page", "Write the whole report as one HTML file."),
        Action("scroll(1)", "down,j", "Down", "Scroll down.", footer=False, palette=False),
        Action("scroll(-1)", "up,k", "Up", "Scroll up.", footer=False, palette=False),
    )
    CSS = """
    #tabs { height: 1; padding: 0 1; color: $text-muted; }
    #sheet { padding: 1 2 0 2; scrollbar-size-vertical: 1; }
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

    def ready(self) -> None:
        """Compute in a thread; what was shown before stays until then."""
        self._show()
        if not self._is_reading:
            self._is_reading = True
            self.in_background(self._read, loads=self._found is None)

    def _read(self) -> None:
        try:
            found = evidence(self.library)
        finally:
            self._is_reading = False
        self.hand_over(self._read_done, found)

    def _read_done(self, found: Evidence) -> None:
        self._found = found
        self._show()

    def _show(self) -> None:
        found = self._found
        self.set_title("Progress", self._subtitle(found))
        names = [
            (f" {number} {name} ", "bold $accent reverse" if number - 1 == self._page else "")
            for number, name in enumerate(PAGES, 1)
        ]
        self.query_one("#tabs", Static).update(Content.assemble(*names))
        page = list(PAGES.values())[self._page]
        leaf = self.query_one("#page", TextBlock)
        if found is None:
            leaf.show(lambda _: Content.styled("Reading your history …", "$muted"))
        else:
            height = self.size.height - AROUND
            leaf.show(lambda width: page(found, PageLayout(width, height, self._by_chapter)))
        self.query_one("#sheet").scroll_home(animate=False)

    def _subtitle(self, found: Evidence | None) -> str:
        if found is None:
            return ""
        days = days_to_exam((found.exam - found.today).days) if found.exam else "no exam set"
        return f"{found.responses:,} responses · {days}"

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
            self.notify(f"Written: {name}", markup=False)
