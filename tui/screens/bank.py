"""The banks: browsed by heading, searched by words, changed in place."""

from dataclasses import replace
from functools import partial

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Resize

from banks.contents import Location
from banks.planning.first_study import FirstStudies, waiting_subjects
from banks.views.drill import context, show_question
from banks.views.headings import (
    BankHeading,
    disputed_rows,
    headings,
    markable_chapter,
    noted_rows,
    retired_rows,
    rows_to_check,
)
from banks.views.triage import Filter, Row
from domain.questions import slug
from domain.responses import Purpose
from domain.text import counted
from tui.actions import Action
from tui.base_app import DRILL_FORM
from tui.dates import day_near
from tui.question_list import PRINT, SEARCH
from tui.screens.annotations import show_figure
from tui.screens.bank_edits import BankEdits
from tui.screens.drill_form import DrillFormScreen
from tui.screens.key_entry import KeyEntryScreen
from tui.screens.launch import mark, print_sheet
from tui.screens.question_details import QuestionDetails
from tui.screens.question_form import QuestionForm
from tui.widgets.bank_lines import about_text, heading_line, question_line
from tui.widgets.text_block import ScrollText
from tui.widgets.triage_lines import details_text
from tui.widgets.virtual_list import VirtualList

_WIDE = 110
_LISTS = {
    "all": "all active questions",
    "noted": "the questions with a note of yours",
    "to check": "the questions to check",
    "disputed": "the questions whose answer key you dispute",
    "retired": "the retired questions",
}


class BankScreen(BankEdits):
    """Headings on the left, their questions on the right; on a wide terminal the text beside."""

    AUTO_FOCUS = "#headings"
    NAME = "bank"
    HEADING = "Bank"
    ABOUT = (
        "Headings are on the left, the questions of the selected heading on the right; Tab "
        "moves between them. Search looks through all text of all banks. Tick questions with "
        "Space to move, tag or retire several at once. Every change is saved, keeps the history "
        "and can be undone."
    )
    ACTIONS = (
        SEARCH,
        replace(DRILL_FORM, name="drill_heading"),
        Action("edit", "e", "Edit", "Edit the question or its text; rename the heading."),
        Action("new", "n", "New", "Add questions to this chapter."),
        Action("undo", "u,backspace", "Undo", "Undo the last edit."),
        Action("move", "c", "Move", "Move the ticked questions to another chapter."),
        Action("retire", "x", "Retire", "Retire or reactivate; the history stays."),
        Action("tick", "space", "Tick", "Tick a question, to edit several.", footer=False),
        Action("tick_all", "a", "Tick all", "Tick all listed questions, or none.", footer=False),
        Action("checked", "exclamation_mark", "Checked", "Say that the question is as printed."),
        Action("tags", "number_sign", "Tags", "Add or remove tags.", footer=False),
        *(
            Action(f"list_only('{kind}')", digit, kind.capitalize(), f"List {words}.", footer=False)
            for digit, (kind, words) in zip("06789", _LISTS.items(), strict=True)
        ),
        Action("new_heading", "N", "Heading", "Add a bank, subject or chapter.", footer=False),
        Action(
            "first_study",
            "F",
            "First study",
            "Say that a heading is studied, or that a bank counts.",
            footer=False,
        ),
        PRINT,
        Action("key", "y", "Key", "Enter the selected chapter's answer key.", footer=False),
        Action("duplicates", "tilde", "Duplicates", "Find duplicate questions.", footer=False),
        Action("figure", "v", "Figure", "Show the question's figure.", footer=False),
        Action("to_headings", "left", "Headings", "To the headings.", footer=False, palette=False),
        Action("to_list", "right", "Questions", "To the questions.", footer=False, palette=False),
    )
    DEFAULT_CSS = """
    BankScreen Horizontal { padding-top: 1; }
    BankScreen #headings { width: 38; border-right: solid $panel; }
    BankScreen.-narrow #headings { width: 30; }
    BankScreen #list { width: 1fr; }
    BankScreen #about { height: 2; padding: 1 1 0 2; color: $text-muted; }
    BankScreen #aside { width: 44; padding: 0 1 0 2; border-left: solid $panel; }
    BankScreen.-narrow #aside { display: none; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._shown = "all"
        self._listed_last: tuple[str, ...] = ()

    def body(self) -> ComposeResult:
        """The search, the two lists with the text beside, the line about the selected question."""
        yield self.search_line()
        with Horizontal():
            yield VirtualList(id="headings")
            yield VirtualList(empty="No questions here yet; add some with n.", id="list")
            yield ScrollText(id="aside", can_focus=False)
        yield ScrollText(id="about", can_focus=False)

    def on_resize(self, event: Resize) -> None:
        """The text stands beside the list where there is room for it."""
        self.set_class(event.size.width < _WIDE, "-narrow")

    def on_mount(self) -> None:
        """Tell about the selected heading and question from now on."""
        self.query_one("#headings", VirtualList).follow = self._list_heading
        self.rows.follow = self._tell_about

    # showing

    def show_list(self) -> None:
        """The headings, and what is listed under the selected one."""
        lines = headings(self.library)
        self.query_one("#headings", VirtualList).show(
            lines, heading_line, selected=self._heading_to_select(lines)
        )
        self._wanted_heading = None
        self._show_questions()
        if not self.focused:
            self.query_one("#headings").focus()

    def _heading_to_select(self, lines: list[BankHeading]) -> int:
        bank, chapter = self._wanted_heading or (self.heading.bank, self.heading.chapter)
        subject = "" if self._wanted_heading else self.heading.subject
        for at, line in enumerate(lines):
            if (line.bank, line.chapter) == (bank, chapter) and subject in ("", line.subject):
                return at
        return 0

    def _show_questions(self) -> None:
        rows = self.rows
        kept = rows.item.id if rows.item else ""
        marked = {row.id for row in rows.chosen} if rows.ticked else set()
        matches = self._found()
        places = (at for at, row in enumerate(matches) if row.id == kept)
        ticked = [at for at, row in enumerate(matches) if row.id in marked]
        heading = self.heading
        listed = (heading.bank, heading.subject, heading.chapter, self.sought, self._shown)
        otherwise = rows.selected if listed == self._listed_last else 0
        self._listed_last = listed
        rows.show(matches, self._question_line, selected=next(places, otherwise), ticked=ticked)
        words = (
            f"“{self.sought.strip()}” in all banks"
            if self.sought.strip()
            else (self.heading.title if self._shown == "all" else self._shown)
        )
        waiting = sum(row.is_waiting for row in matches)
        state = f"{waiting:,} waiting · " if waiting else ""
        self.set_title(
            f"Bank · {words}", f"{self._study_words()}{state}{counted(len(matches), 'question')}"
        )

    def _question_line(self, row: Row, width: int) -> Content:
        sought = self.sought if self._shown == "all" else ""
        return question_line(row, self.listing.match(row, sought), width)

    def _study_words(self) -> str:
        """What was said of the selected heading's first study, before the count."""
        heading = self.heading
        if not heading.subject:
            return ""
        subject, today = f"{heading.bank}/{heading.subject}", self.library.today()
        if day := waiting_subjects(self.library).get(subject):
            return f"revised from {day_near(day, today)} on · "
        chapter = f"{heading.bank}/{heading.chapter}"
        done = FirstStudies(self.library).day_of(subject, chapter)
        return f"studied by {day_near(done, today)} · " if done else ""

    def _found(self) -> list[Row]:
        if self._shown == "retired":
            return retired_rows(self.library)
        if self._shown == "noted":
            return noted_rows(self.library)
        if self._shown == "to check":
            return rows_to_check(self.library)
        if self._shown == "disputed":
            return disputed_rows(self.library)
        if self.sought.strip():
            return self.listing.find(Filter(text=self.sought))
        heading = self.heading
        return self.listing.find(
            Filter(bank=heading.bank, subject=heading.subject, chapter=heading.chapter)
        )

    def look(self) -> None:
        """The words looked for have changed."""
        self._show_questions()

    def _list_heading(self, _: BankHeading | None) -> None:
        """Another heading lists its questions."""
        if self.is_listed and self._shown == "all" and not self.sought.strip():
            self._show_questions()

    def _tell_about(self, row: Row | None) -> None:
        """Where another question stands, and its text."""
        self.query_one("#about", ScrollText).show([partial(about_text, row)])
        beside = [partial(self._beside, row)] if row else []
        self.query_one("#aside", ScrollText).show(beside)

    def _beside(self, row: Row, width: int) -> Content:
        shown = show_question(self.library, row.question, None)
        return details_text(shown, context(self.library, shown), width)

    def on_virtual_list_picked(self, event: VirtualList.Picked) -> None:
        """Enter: from a heading to its questions, from a question to all of its text."""
        if event.rows.id == "headings":
            self.rows.focus()
        elif row := event.rows.item:
            self.app.push_screen(QuestionDetails(self.library, row.question))

    def action_to_headings(self) -> None:
        """To the headings."""
        self.query_one("#headings").focus()

    def action_to_list(self) -> None:
        """To the questions."""
        self.rows.focus()

    def action_list_only(self, shown: str) -> None:
        """All, or only what is to check, disputed or retired."""
        self._shown = shown
        self._show_questions()
        self.rows.focus()

    # doing

    def action_tick(self) -> None:
        """Tick the selected question and go on to the next."""
        self.rows.tick([self.rows.selected])
        self.rows.action_move(1)

    def action_tick_all(self) -> None:
        """Tick everything listed, or nothing."""
        self.rows.tick(range(len(self.rows.items)))

    def action_edit(self) -> None:
        """The form with the selected question; on the left, the heading's title."""
        if self.query_one("#headings").has_focus:
            self.rename_heading()
        elif row := self.rows.item:
            self.app.push_screen(QuestionForm(row.id))

    def action_new(self) -> None:
        """The form for new questions in the selected chapter."""
        if self.heading.chapter:
            self.app.push_screen(QuestionForm(self.heading.bank, self.heading.chapter))
        else:
            key = self.key_of("new_heading")
            self.tell(f"Select a chapter on the left first, or make one with {key}.")

    def mark_selected(self) -> bool:
        """Mark the selected chapter."""
        heading = self.heading
        if not heading.chapter:
            return False
        chapter = markable_chapter(self.library.bank(heading.bank), heading.chapter)
        if chapter is not None:
            mark(self.app, chapter.title, None, chapter.questions)
        return chapter is not None

    def action_drill_heading(self) -> None:
        """Choose what to drill of the selected heading."""
        self.app.push_screen(DrillFormScreen(self.heading if self.heading.bank else None))

    def action_print(self) -> None:
        """Print what is listed."""
        from banks.sittings.printed_sheets import print_list

        ids = [row.id for row in self.rows.items]
        title = self.heading.title
        print_sheet(
            self,
            f"{slug(title)}-{self.library.today()}.pdf",
            lambda path: print_list(self.library, path, title, Purpose.REVISION, ids),
        )

    def action_key(self) -> None:
        """The answer key of the selected chapter."""
        heading = self.heading
        if not heading.chapter:
            self.tell("Select a chapter on the left first.")
            return
        bank = self.library.bank(heading.bank)
        chapter = bank.chapter(heading.chapter)
        self.app.push_screen(KeyEntryScreen(Location(bank, bank.subject_of(chapter.id), chapter)))

    def action_figure(self) -> None:
        """The selected question's figure."""
        row = self.rows.item
        if row and row.question.figures:
            show_figure(self, row.question)
        else:
            self.tell("This question has no figure.")

    def action_duplicates(self) -> None:
        """Side by side: questions that are there twice."""
        from tui.screens.duplicates import DuplicatesScreen

        bank = self.heading.bank or next(iter(self.library.banks), "")
        if bank:
            self.app.push_screen(DuplicatesScreen(bank))
