"""A finished sitting or paper, read through question by question."""

from collections.abc import Callable
from functools import partial

from textual.app import ComposeResult
from textual.containers import Container
from textual.content import Content
from textual.events import Resize

from banks.views.drill import (
    ReadItem,
    SittingLine,
    newest_sittings,
    read_through,
    remarks,
    shown_again,
)
from domain.questions import Form
from domain.text import counted
from domain.verdicts import Confidence
from tui.actions import Action
from tui.base_app import BaseApp
from tui.base_screen import AppScreen
from tui.dates import short_day
from tui.dialogs import PickDialog
from tui.screens.question_details import QuestionDetails
from tui.widgets.question_text import (
    VERDICT_MARKS,
    VERDICT_STYLES,
    feedback_text,
    key_text,
    options_text,
    place_text,
    question_text,
)
from tui.widgets.text_block import ScrollText
from tui.widgets.triage_lines import beginning
from tui.widgets.virtual_list import VirtualList

WIDE = 110
_RECENT = 40
FILTERS: dict[str, Callable[[ReadItem], bool]] = {
    "missed": lambda item: item.is_missed,
    "unsure": lambda item: item.confidence is Confidence.UNSURE,
    "guessed": lambda item: item.confidence is Confidence.GUESS,
}


class ReadThroughScreen(AppScreen):
    """Every question of a sitting: what was given, the answer key, the explanation, the seconds."""

    NAME = "read-through"
    HEADING = "Read through"
    ABOUT = (
        "Every question of the sitting with your response, the answer key and the explanation. "
        "List only what you missed, were unsure of or guessed, and drill what is listed."
    )
    ACTIONS = (
        Action("drill", "d", "Drill these", "Drill the listed questions."),
        Action("only('missed')", "1", "Missed", "List what was wrong or blank, or no more."),
        Action("only('unsure')", "2", "Unsure", "List what was unsure, or no more."),
        Action("only('guessed')", "3", "Guessed", "List what was guessed, or no more."),
        Action("all", "0", "All", "List every question."),
        Action("page(-1)", "left", "Text up", "Scroll the text up.", footer=False, palette=False),
        Action(
            "page(1)",
            "right,space",
            "Text down",
            "Scroll the text down.",
            footer=False,
            palette=False,
        ),
    )
    CSS = """
    ReadThroughScreen #both { layout: vertical; padding: 1 0 0 0; }
    ReadThroughScreen VirtualList { height: 8; margin-bottom: 1; }
    ReadThroughScreen #text { padding: 0 1 0 2; }
    ReadThroughScreen.-wide #both { layout: horizontal; }
    ReadThroughScreen.-wide VirtualList { width: 52; height: 1fr; margin: 0; }
    ReadThroughScreen.-wide #text { border-left: solid $panel; }
    """

    def __init__(self, sitting_id: str) -> None:
        super().__init__()
        self._sitting_id = sitting_id
        self._only: frozenset[str] = frozenset()

    def body(self) -> ComposeResult:
        """The questions, and the text of the selected one below or beside them."""
        with Container(id="both"):
            yield VirtualList(empty="None of these here. 0 lists every question.")
            yield ScrollText(id="text", can_focus=False)

    def on_resize(self, event: Resize) -> None:
        """The text stands beside the list where there is room for it."""
        self.set_class(event.size.width >= WIDE, "-wide")

    def on_mount(self) -> None:
        """Show the selected question's text from now on."""
        self._listed.follow = self._tell_about
        super().on_mount()

    def ready(self) -> None:
        """Read the sitting; a dispute or an edit may have changed a verdict meanwhile."""
        self._sitting = self.library.sitting(self._sitting_id)
        self._items = read_through(self.library, self._sitting_id)
        self._show_list()
        self._listed.focus()

    @property
    def _listed(self) -> VirtualList[ReadItem]:
        return self.query_one(VirtualList)

    def _show_list(self) -> None:
        filters = [FILTERS[name] for name in FILTERS if name in self._only]
        items = [
            item for item in self._items if not filters or any(passes(item) for passes in filters)
        ]
        kept = self._listed.item
        place = next((n for n, item in enumerate(items) if kept and item.place == kept.place), 0)
        self._listed.show(items, self._line, selected=place)
        only = ", ".join(name for name in FILTERS if name in self._only) or "all"
        self.set_title(
            f"Read through · {self._sitting.opened.title}",
            f"{only}: {counted(len(items), 'question')}",
        )

    def _line(self, item: ReadItem, _: int) -> Content:
        mark = (" ", "")
        if item.verdict is not None:
            mark = (VERDICT_MARKS[item.verdict], VERDICT_STYLES[item.verdict])
        sure = {Confidence.SURE: " ", Confidence.UNSURE: "?", Confidence.GUESS: "~"}
        seconds = f"{_seconds_words(item):>8}"
        return Content.assemble(
            f"{item.place:>4} ",
            mark,
            f"{sure[item.confidence]} ",
            (seconds, "$foreground 65%"),
            "  ",
            self._words(item),
        )

    def _words(self, item: ReadItem) -> Content:
        """How the question begins, or where it stands in the printed bank."""
        if item.question.form is Form.FULL:
            return beginning(item.question)
        chapter = self.library.location(item.question).chapter
        return Content(f"{chapter.title} · {item.question.number}")

    def _tell_about(self, item: ReadItem | None) -> None:
        text = self.query_one("#text", ScrollText)
        text.to_top()
        if item is None:
            text.show([])
            return
        question, feedback = shown_again(self.library, self._sitting, item)
        blocks = [partial(place_text, question), partial(question_text, question)]
        if question.seating.options:
            blocks.append(partial(options_text, question, feedback, frozenset()))
        if feedback:
            written = remarks(self.library, question, feedback)
            blocks.append(partial(feedback_text, question, feedback, written, asks_why=False))
        else:
            blocks.append(partial(key_text, question))
        text.show(blocks)

    # choosing

    def action_only(self, name: str) -> None:
        """List these too, or no more."""
        self._only = self._only ^ {name}
        self._show_list()

    def action_all(self) -> None:
        """Every question."""
        self._only = frozenset()
        self._show_list()

    def action_page(self, step: int) -> None:
        """Scroll the selected question's text."""
        self.query_one("#text", ScrollText).turn(step)

    def on_virtual_list_picked(self) -> None:
        """Enter: the question with its whole history."""
        if item := self._listed.item:
            self.app.push_screen(QuestionDetails(self.library, item.question))

    def action_drill(self) -> None:
        """A free drill of what is listed."""
        ids = [item.question.id for item in self._listed.items if not item.question.retired]
        if not ids:
            self.tell(f"None of these here. {self.key_of('all')} lists every question.")
            return
        only = ", ".join(name for name in FILTERS if name in self._only) or "again"
        self.app.begin_free_drill(f"{self._sitting.opened.title}, {only}", ids)


def _seconds_words(item: ReadItem) -> str:
    """Seconds to the response, and those of reading its answer: "12+31 s"."""
    reading = f"+{item.reading:.0f}" if item.reading else ""
    return f"{item.seconds:.0f}{reading} s" if item.seconds or reading else ""


def choose_sitting(app: BaseApp) -> None:
    """Choose one of the newest sittings, and read it through."""
    lines = newest_sittings(app.library, _RECENT)
    if not lines:
        app.notify("No sitting yet to read through.", timeout=4)
        return

    def chosen(line: SittingLine | None) -> None:
        if line is not None:
            app.push_screen(ReadThroughScreen(line.id))

    app.push_screen(PickDialog("Read through which sitting?", lines, _sitting_line), chosen)


def _sitting_line(line: SittingLine, width: int) -> Content:
    state = f"{line.given:>5} answered {line.missed:>4} missed"
    day = f"{short_day(line.day)}  "
    space = max(8, width - len(day) - len(state) - 1)
    title = Content(line.title).truncate(space, ellipsis=True, pad=True)
    return Content.assemble((day, "$foreground 65%"), title, " ", (state, "$foreground 65%"))
