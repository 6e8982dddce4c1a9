"""Questions from a file: which one, and where they go."""

from pathlib import Path
from typing import Any

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.widgets import Input, Label, Static, TextArea

from banks.intake.file_import import ImportOptions
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.screens.import_preview import ImportPreview, Source
from tui.widgets.virtual_list import VirtualList

_HINT = """\
1. Which cloud is the highest?  A) Cumulus  B) Cirrus  C) Stratus
   Ans: b      … or a key at the end: 1-b 2-c"""


class Pasting(AppScreen):
    """A page to paste on, with what was left on it before. Gives the text and whether to read it.

    `target` says where the questions would go.
    """

    NAME = "pasting"
    HEADING = "Paste"
    ABOUT = (
        "Paste or type numbered questions with their options, or rows of a table. You see a "
        "preview before anything is written."
    )
    ACTIONS = (Action("read", "ctrl+r", "Read", "Preview the import."),)
    BACK = Action("back", "escape", "Back", "Go back; the text is kept until it is imported.")
    CSS = """
    Pasting TextArea { border: none; height: 1fr; margin-top: 1; }
    Pasting TextArea:focus { border: none; }
    Pasting #hint { height: auto; padding: 0 1; color: $text-muted; }
    """

    def __init__(self, text: str, target: str) -> None:
        super().__init__()
        self._before, self._target = text, target

    def body(self) -> ComposeResult:
        """What it may look like, and the page."""
        yield Static(Content(_HINT), id="hint")
        yield TextArea(self._before, soft_wrap=True)

    def ready(self) -> None:
        """Begin to type."""
        self.set_title("Paste", f"into {self._target}")
        self.query_one(TextArea).focus()

    def action_read(self) -> None:
        """Give the text to be read."""
        self.dismiss((self.query_one(TextArea).text, True))

    def action_back(self) -> None:
        """Leave; what was typed stays for the next time."""
        self.dismiss((self.query_one(TextArea).text, False))


_FIELDS = (
    ("bank", "Bank", "existing or new bank"),
    ("subject", "Subject", "used when the file does not say"),
    ("chapter", "Chapter", "used when the file does not say"),
    ("edition", "Edition", "only if the file is a complete new edition"),
)
_NOTHING = "No importable files here."
_NOTHING_SO = "No importable file here starts with {}."
_MOST = 2_000
_ENDINGS = tuple(
    f".{ending}"
    for ending in (
        "csv",
        "tsv",
        "txt",
        "md",
        "json",
        "jsonl",
        "ndjson",
        "xlsx",
        "xml",
        "zip",
        "pdf",
    )
)


class ImportScreen(AppScreen):
    """Choose a file; the next screen shows what it would bring before anything is written."""

    NAME = "import"
    HEADING = "Import"
    ABOUT = (
        "Type a path, or its beginning where only one file begins so, or browse the folder with "
        "the arrows; Enter reads the file. Tables, spreadsheets, JSON, question packages, PDF "
        "and printed text are recognised by their content. You can also import the outline of a "
        "printed bank (subject, chapter, questions) and marks recorded elsewhere (subject, "
        "chapter, number, date, verdict). Nothing is written before you confirm."
    )
    ACTIONS = (
        Action("read", "ctrl+r", "Read", "Read the file and preview the import."),
        Action("paste", "ctrl+y", "Paste", "Type or paste questions, a table or an outline."),
        Action("to_list", "down", "Files", "Go to the files of this folder.", palette=False),
    )
    BACK = Action("back", "escape", "Back", "Go back.")
    CSS = """
    ImportScreen Horizontal { height: 1; }
    ImportScreen Label { width: 9; padding-left: 1; }
    ImportScreen Input { width: 1fr; border: none; height: 1; padding: 0 1; background: $panel; }
    ImportScreen Input:focus { border: none; background: $selected; }
    ImportScreen #folder { width: 1fr; height: 1; margin-top: 1; color: $text-muted; }
    """

    _previewed: ImportPreview | None = None
    _pasted_text = ""

    def body(self) -> ComposeResult:
        """The path, where it goes, and the files of the folder."""
        with Horizontal():
            yield Label("File")
            yield Input(placeholder="path of a file", id="path")
        for name, title, hint in _FIELDS:
            with Horizontal():
                yield Label(title)
                yield Input(placeholder=hint, id=name)
        yield Label("", id="folder", markup=False)
        yield VirtualList(empty=_NOTHING)

    def ready(self) -> None:
        """List the folder. A file that was looked at before is still named; once it is imported,
        the next one need not belong to the same place.
        """
        if self._previewed and self._previewed.is_done:
            self._previewed, self._pasted_text = None, ""
            for name in ("path", "subject", "chapter", "edition"):
                self.query_one(f"#{name}", Input).value = ""
        banks = list(self.library.banks.values())
        self.set_title("Import", "nothing is written before you confirm")
        if len(banks) == 1 and not self._value("bank"):
            self.query_one("#bank", Input).value = banks[0].title
        self._list()
        if not isinstance(self.focused, Input | VirtualList):
            self.query_one("#path", Input).focus()

    def _value(self, name: str) -> str:
        return self.query_one(f"#{name}", Input).value.strip()

    def _path(self) -> Path:
        return Path(self._value("path")).expanduser()

    # the folder

    def on_input_changed(self, event: Input.Changed) -> None:
        """What is typed of a path narrows the list down."""
        if event.input.id == "path" and self.app.is_ready:
            self._list()

    def _list(self) -> None:
        path = self._path()
        folder, start = (path, "") if path.is_dir() else (path.parent, path.name.casefold())
        entries = [entry for entry in _entries(folder) if entry.name.casefold().startswith(start)]
        self.query_one("#folder", Label).update(f"{folder.absolute()}")
        rows = self.query_one(VirtualList)
        rows.empty = _NOTHING_SO.format(path.name) if start else _NOTHING
        rows.show(entries, _draw)

    def action_to_list(self) -> None:
        """Into the list of files."""
        self.query_one(VirtualList).focus()

    def on_virtual_list_picked(self, event: VirtualList.Picked) -> None:
        """Go into a folder, or read a file."""
        if event.rows.item is not None:
            self._take(event.rows.item)

    def _take(self, path: Path) -> None:
        self.query_one("#path", Input).value = str(path)
        if path.is_dir():
            self._list()
        else:
            self.action_read()

    # reading

    def on_input_submitted(self, _: Input.Submitted) -> None:
        """Enter in any line reads the file."""
        self.action_read()

    def action_read(self) -> None:
        """Show what the file would bring; a name's beginning will do where it leaves one file."""
        path, listed = self._path(), self.query_one(VirtualList).items
        if not path.exists() and len(listed) == 1:
            self._take(listed[0])
            return
        if not self._value("path") or path.is_dir():
            self.tell("Type a path, or choose a file from the list.")
            return
        if not path.is_file():
            self.tell(f"{path}: no such file")
            return
        self._look_at(Source.of(path))

    def action_paste(self) -> None:
        """Type or paste questions instead."""
        named = [self._value(name) for name in ("bank", "subject", "chapter")]
        target = " · ".join(filter(None, named)) or "a bank that is not named yet"
        self.app.push_screen(Pasting(self._pasted_text, target), self._pasted)

    def _pasted(self, result: tuple[str, bool] | None) -> None:
        text, is_to_read = result or ("", False)
        self._pasted_text = text
        if is_to_read and text.strip():
            self._look_at(Source("pasted text", text.encode))

    def _look_at(self, source: Source) -> None:
        fields: dict[str, Any] = {name: self._value(name) for name, *_ in _FIELDS}
        wish = ImportOptions(**fields)
        self._previewed = ImportPreview(source, wish)
        self.app.push_screen(self._previewed)


def _entries(folder: Path) -> list[Path]:
    """The folder above, the folders in it, and the files that could hold questions."""
    try:
        inside = sorted(folder.iterdir(), key=lambda path: path.name.casefold())[:_MOST]
        folders = [entry for entry in inside if entry.is_dir() and not entry.name.startswith(".")]
    except OSError:
        return []
    files = [entry for entry in inside if entry.name.lower().endswith(_ENDINGS)]
    return [folder / "..", *folders, *files]


def _draw(path: Path, width: int) -> Content:
    if path.name == "..":
        return Content("../")
    return Content(f"{path.name}/" if path.is_dir() else path.name)
