"""What a file would bring, and what is wrong in it and where; then bringing it in."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from time import monotonic

from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static
from textual.worker import get_current_worker

from banks.importers import detect
from banks.importers.columns import Columns
from banks.importers.common import Cancelled
from banks.intake.file_import import (
    FileKind,
    ImportOptions,
    Preview,
    apply_import,
    columns_of,
    kind_of,
    preview_import,
)
from banks.intake.past_marks import PastMarks
from banks.planning.workload import banks_that_count
from banks.views.plan import changed_by, effect_of_counting
from domain.errors import ResieveError
from domain.text import counted
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dialogs import ChoiceDialog, given
from tui.plan_words import counting_words, replanned_words
from tui.screens.mapping import ColumnMapping, Mapped, WordMeanings
from tui.widgets import import_lines
from tui.widgets.import_lines import Lists
from tui.widgets.text_block import ScrollText
from tui.widgets.virtual_list import VirtualList

_EVERY = 0.05
"""Seconds between two showings of the progress."""


@dataclass(frozen=True)
class Source:
    """Where the bytes come from: a file, or what was pasted."""

    name: str
    read: Callable[[], bytes]

    @classmethod
    def of(cls, path: Path) -> "Source":
        """A file. Reading it raises InputError."""
        return cls(path.name, partial(detect.read_bytes, path))


class ImportPreview(AppScreen):
    """Reads a file in the background and shows what would become of the bank."""

    NAME = "import-preview"
    HEADING = "Import"
    ABOUT = (
        "Nothing is written before you confirm. Escape stops the reading of a file; you can read "
        "it again at any time. Importing the same file twice changes nothing."
    )
    ACTIONS = (
        Action("bring", "i", "Import", "Import what is shown here."),
        Action(
            "view(1)", "right,l", "Next list", "Show the next list: errors, warnings, new, changed."
        ),
        Action("view(-1)", "left,h", "", "Show the previous list.", footer=False),
        Action("map", "e", "Columns", "Set what each column holds."),
        Action("words", "E", "Words", "Set what your own words in a file of marks mean."),
        Action("layout", "o", "Other way", "Read the text in another layout or encoding."),
        Action("again", "ctrl+r", "Read again", "Read the file again."),
    )
    CSS = """
    ImportPreview #told { height: auto; max-height: 9; padding: 0 1; }
    ImportPreview #tabs { height: 1; padding: 0 1; margin-top: 1; }
    ImportPreview #detail { height: 55%; padding: 0 1; border-top: solid $rule; }
    """

    def __init__(self, source: Source, wish: ImportOptions) -> None:
        super().__init__()
        self._source, self._wish = source, wish
        self._seen: Preview | PastMarks | None = None
        self._is_begun = self._is_reading = self._is_done = self._is_forced = False
        self._columns: Columns | None = None
        self._kind = FileKind.QUESTIONS
        self._has_asked_words = self._has_other_kind = self._is_asking = False
        self._lists: Lists = []
        self._at = 0

    def body(self) -> ComposeResult:
        """What it would do; the lists; the selected line in full."""
        yield Static("", id="told", markup=False)
        yield Static("", id="tabs", markup=False)
        yield VirtualList(empty="")
        yield ScrollText(id="detail", can_focus=False)

    def ready(self) -> None:
        """Begin to read."""
        self.set_title("Import", self._source.name)
        if not self._is_begun:
            self._is_begun = True
            self.action_again()

    @property
    def is_loading(self) -> bool:
        """Keys wait while the file is read, and until what was asked on a screen above is read."""
        return super().is_loading or self._is_asking

    @property
    def is_done(self) -> bool:
        """Whether what it showed was imported."""
        return self._is_done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys that make no sense now are not shown."""
        if action == "bring":
            return self._seen is not None and not self._is_done and not self._is_reading
        if action == "layout":
            seen = self._seen
            several = isinstance(seen, Preview) and max(len(seen.layouts), len(seen.encodings)) > 1
            return several and not self._is_reading and not self._is_done
        if action == "words":
            has_words = isinstance(self._seen, PastMarks) and bool(self._seen.unknown)
            return has_words and not self._is_reading and not self._is_done
        if action == "map":
            return self._columns is not None and not self._is_reading and not self._is_done
        if action.startswith("view"):
            return len(self._lists) > 1
        return action != "again" or not (self._is_reading or self._is_done)

    # reading

    def action_layout(self) -> None:
        """Read a text in the next encoding that fits it, then by the next layout."""
        seen = self._seen
        if not isinstance(seen, Preview):
            return
        layout = self._wish.layout
        if len(seen.encodings) > 1:
            place = seen.encodings.index(seen.encoding) + 1
            following = seen.encodings[place % len(seen.encodings)]
            self._wish = replace(self._wish, encoding=following)
            layout += place == len(seen.encodings)
        else:
            layout += 1
        self._wish = replace(self._wish, layout=layout % max(len(seen.layouts), 1))
        self.action_again()

    def action_again(self) -> None:
        """Read from the start, in the background."""
        self._seen, self._is_reading, self._is_forced = None, True, False
        self._lists = []
        self._tell("Reading…")
        self.in_background(self._read, loads=True)

    def action_back(self) -> None:
        """Stop reading, or leave; nothing was written."""
        if self._is_reading:
            self.workers.cancel_node(self)
            self._is_reading = False
            self._tell(f"Stopped. Nothing was written; {self.key_of('again')} reads it again.")
        else:
            self.app.go_back()

    def _read(self) -> None:
        """In the thread: find out the columns, then look at the whole file."""
        worker = get_current_worker()
        shown = 0.0

        def progress(share: float) -> None:
            nonlocal shown
            if worker.is_cancelled:
                raise Cancelled
            if monotonic() - shown >= _EVERY:
                shown = monotonic()
                self.hand_over(self._tell, import_lines.progress(share))

        try:
            data = self._source.read()
            kind = kind_of(data, self._source.name, self._wish)
            columns = columns_of(data, self._source.name, kind)
            progress(0.0)
            is_unsure = columns and not columns.sure and kind is not FileKind.OUTLINE
            if columns and (is_unsure or self._has_other_kind) and not self._wish.columns:
                self.hand_over(self._ask_columns, columns, kind)
                return
            library = self.library
            seen = preview_import(
                library, library.banks, data, self._source.name, self._wish, progress
            )
            progress(1.0)
        except Cancelled:
            return
        except ResieveError as problem:
            self.hand_over(self._failed, problem)
            return
        self.hand_over(self._show, seen, columns, kind)

    def _failed(self, problem: ResieveError) -> None:
        self._is_reading = False
        if self._wish.layout or self._wish.encoding:  # back to what could be read
            self._wish = replace(self._wish, layout=0, encoding="")
            self.tell(f"no other way: {str(problem).splitlines()[0]}")
            self.action_again()
            return
        self._tell(str(problem))

    def _show(self, seen: Preview | PastMarks, columns: Columns | None, kind: FileKind) -> None:
        self._is_reading = False
        self._seen, self._columns, self._kind = seen, columns, kind
        self._lists = import_lines.lists(seen)
        self._at = 0
        self._tell(import_lines.summary(seen))
        self._show_list()
        self.query_one(VirtualList).focus()
        if isinstance(seen, PastMarks) and seen.unknown and not self._has_asked_words:
            self._has_asked_words = True
            self.action_words()

    # columns and words

    def action_words(self) -> None:
        """Say what the candidate's own words mean, then read again."""
        if isinstance(self._seen, PastMarks):
            self._is_asking = True
            screen = WordMeanings(self._seen.unknown, self._seen.words)
            self.app.push_screen(screen, self._translated)

    def _translated(self, words: dict[str, str] | None) -> None:
        self._is_asking = False
        if words is not None:
            self._wish = replace(self._wish, words=words)
            self.action_again()

    def _ask_columns(self, columns: Columns, kind: FileKind) -> None:
        self._is_reading, self._columns, self._kind = False, columns, kind
        self._tell("Which column holds what?")
        self.action_map()

    def action_map(self) -> None:
        """Say which column holds what, then read again."""
        if self._columns:
            mapping = self._wish.columns or self._columns.mapping
            chosen = {field: at for field, at in mapping.items() if isinstance(at, int)}
            self._is_asking = True
            screen = ColumnMapping(self._columns, chosen, self._kind)
            self.app.push_screen(screen, self._mapped)

    def _mapped(self, mapped: Mapped | None) -> None:
        self._is_asking = False
        if mapped is None:
            if self._seen is None:
                self._tell(
                    f"Columns not set; {self.key_of('map')} sets them, "
                    f"{self.key_of('again')} reads the file again."
                )
            return
        self._has_other_kind = mapped.columns is None
        self._wish = replace(
            self._wish,
            kind=mapped.kind,
            columns=mapped.columns,
            header=mapped.header,
            key_base=mapped.key_base,
        )
        self.action_again()

    # lists

    def action_view(self, step: int) -> None:
        """The list beside."""
        if self._lists:
            self._at = (self._at + step) % len(self._lists)
            self._show_list()

    def _show_list(self) -> None:
        self.query_one("#tabs", Static).update(import_lines.tabs(self._lists, self._at))
        lines = self._lists[self._at][1] if self._lists else []
        self.query_one(VirtualList).show(lines, import_lines.draw)

    def on_virtual_list_moved(self, event: VirtualList.Moved) -> None:
        """The selected line in full, with the question as it will be drilled."""
        blocks = import_lines.detail(event.rows.item, self._seen) if self._seen else []
        self.query_one("#detail", ScrollText).show(blocks)

    def _tell(self, words: str) -> None:
        self.query_one("#told", Static).update(Content(words))
        if not self._lists:
            self.query_one("#tabs", Static).update("")
            self.query_one(VirtualList).show([], import_lines.draw)
        self.refresh_bindings()

    # doing it

    def action_bring(self) -> None:
        """Save it, in the background: each bank in one piece."""
        seen = self._seen
        if seen is None:
            return
        if isinstance(seen, Preview) and not seen.is_current(self.library.banks):
            self.tell("The bank has changed; reading the file again.")
            self.action_again()
            return
        if seen.misread and not self._is_forced:
            self._is_forced = True
            self.tell("Probably misread: press the same key again to import it all the same.")
            return
        if isinstance(seen, Preview) and seen.changes.replaced:
            self._ask_replaced(seen)
        else:
            self._bring(seen)

    def _ask_replaced(self, seen: Preview) -> None:
        """Most numbers of a chapter have different text in the bank: ask what the file is."""
        count = sum(chapter.replaced for chapter in seen.changes.replaced)
        titles = ", ".join(chapter.title for chapter in seen.changes.replaced)

        def answered(key: str) -> None:
            if key == "e":
                self._bring(seen)
            else:
                self._wish = replace(self._wish, renumbers=True)
                self.action_again()

        self.app.push_screen(
            ChoiceDialog(
                f"{counted(count, 'number')} of {titles} have different text in the bank.",
                [
                    ("e", "A new edition: retire the old texts, which keep their history"),
                    ("o", "Other questions: number them after those in the bank"),
                ],
            ),
            given(answered),
        )

    def _bring(self, seen: Preview | PastMarks) -> None:
        self._is_reading = True
        self._tell("Saving…")
        self.in_background(lambda: self._save(seen))

    def _save(self, seen: Preview | PastMarks) -> None:
        try:
            change = changed_by(self.library, lambda: apply_import(self.library, [seen]))
            words = replanned_words(change) or self._offer_to_count(seen)
        except ResieveError as problem:
            self.app.call_from_thread(self._failed, problem)
        else:
            self.app.call_from_thread(self._saved, seen, words)

    def _offer_to_count(self, seen: Preview | PastMarks) -> str:
        """That new questions are in a bank that is not planned, and how it would be."""
        if not isinstance(seen, Preview) or not seen.changes.counts()["added"]:
            return ""
        bank = seen.bank
        change = effect_of_counting(self.library, bank.id)
        if change is None or bank.id in banks_that_count(self.library):
            return ""
        how = "F on Bank (f6) takes it up"
        return counting_words(bank.title, change, counts=False, how=how)

    def _saved(self, seen: Preview | PastMarks, replanned: str) -> None:
        self._is_reading, self._is_done = False, True
        self._tell("\n".join(filter(None, [import_lines.summary(seen, done=True), replanned])))
