"""The app: opens the library in the background, and moves between screens."""

import gc
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from textual.app import App
from textual.binding import BindingType
from textual.color import Color
from textual.filter import LineFilter
from textual.screen import Screen

from domain.errors import ResieveError, StoreBusy, StoreError, StoreReadOnly
from domain.text import safe_line
from tui import theme
from tui.actions import Action

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.startup_snapshot import StartupSnapshot

ROOMS = {
    "today": "tui.screens.today:Today",
    "plan": "tui.screens.plan:Plan",
    "triage": "tui.screens.triage:Triage",
    "sweep": "tui.screens.sweep:Sweep",
    "bank": "tui.screens.bank:BankRoom",
    "mock": "tui.screens.mock:Mock",
    "progress": "tui.screens.progress:Progress",
    "import": "tui.screens.importing:Import",
    "settings": "tui.screens.settings:SettingsRoom",
}
"""Every screen that can be gone to, imported when it is first opened."""

_SETTLED = 2.0
"""Seconds after the start at which the day's copy is made, if there is none yet."""

GLOBAL = (
    Action("help", "question_mark,f1", "Keys", "Show every key of this screen."),
    Action("visit('today')", "f2", "Today", "Go to today's plan."),
    Action("visit('plan')", "f3", "Plan", "Go to the plan up to the exam."),
    Action("visit('triage')", "f4", "Triage", "Go to the tiers and what is in them."),
    Action("visit('sweep')", "f5", "Sweep", "Choose what to sweep in the minutes there are."),
    Action("visit('bank')", "f6", "Bank", "Browse, search and edit the questions."),
    Action("visit('mock')", "f7", "Mock paper", "Take a mock paper."),
    Action("visit('progress')", "f8", "Progress", "See where you stand."),
    Action("visit('import')", "f9", "Import", "Bring questions in from a file."),
    Action("visit('settings')", "f10", "Settings", "Set rules, keys and looks."),
    Action("suspend_process", "ctrl+z", "Suspend", "Give the terminal back; `fg` returns."),
    Action("leave", "ctrl+c", "Leave", "Press twice to leave; everything is saved."),
)


class SafeLines(LineFilter):
    """The last step of every line before the terminal: no text in it can drive one."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with `safe_line` texts; nearly always they are so already."""
        if all(text.isprintable() and text.isascii() for text, _, _ in segments):
            return segments
        return [Segment(safe_line(text), style, control) for text, style, control in segments]


class Resieve(App[str]):
    """The whole app. `open_library` runs in a thread and gives the library or raises.

    `glance` is the first screen as it was left, if it still is so: shown until the library is
    open.
    """

    TITLE = "resieve"
    CSS_PATH = "resieve.tcss"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [action.binding("everywhere") for action in GLOBAL]

    library: "Library"

    def __init__(
        self,
        open_library: "Callable[[bool], Library]",
        first_room: str = "today",
        glance: "StartupSnapshot | None" = None,
    ) -> None:
        super().__init__()
        self.glance = glance
        self.animation_level = "none"
        self.is_ready = False
        self.has_greeted = False
        self._open_library = open_library
        self._first_room = first_room
        self._waiting: list[Callable[[], object]] = []
        self._leaving = False
        theme.register(self)
        self._safe_lines = SafeLines()

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Textual's own, and last the one that no screen opts out of."""
        return [*super().get_line_filters(), self._safe_lines]

    # opening

    def get_default_screen(self) -> Screen:
        """Today lies at the bottom of the stack."""
        return self.room("today")

    def on_mount(self) -> None:
        """Show the first screen at once, then read the store behind it."""
        if self._first_room != "today":
            self.push_screen(self.room(self._first_room))
        self.call_after_refresh(self.read_store)

    def read_store(self, read_only: bool = False) -> None:
        """Open the library in a thread."""
        self.run_worker(lambda: self._read(read_only), thread=True, exit_on_error=False)

    def _read(self, read_only: bool) -> None:
        try:
            library = self._open_library(read_only)
        except ResieveError as problem:
            self.call_from_thread(self._not_opened, problem)
        else:
            gc.freeze()  # nothing of the history is garbage: it need not be looked through again
            self.call_from_thread(self._opened, library)

    def _opened(self, library: "Library") -> None:
        self.library = library
        self.is_ready = True
        theme.apply(self, library.settings.looks.theme)
        self.set_keymap(library.settings.keys)
        if library.store.notices:
            notices = "\n".join(library.store.notices)
            self.notify(notices, severity="warning", markup=False, timeout=12)
        waiting, self._waiting = self._waiting, []
        for callback in waiting:
            callback()
        if not library.store.read_only:
            self.set_timer(_SETTLED, self._back_up)

    def _back_up(self) -> None:
        self.run_worker(self._copy_store, thread=True, exit_on_error=False, group="backup")

    def _copy_store(self) -> None:
        from banks.maintenance.backup import back_up_daily

        store = self.library.store
        try:
            back_up_daily(store.folder, self.library.today(), store.system)
        except StoreError as problem:
            self.call_from_thread(
                self.notify, f"Today's copy: {problem}", severity="warning", markup=False
            )

    def _not_opened(self, problem: ResieveError) -> None:
        from tui.dialogs import Choose

        if isinstance(problem, (StoreBusy, StoreReadOnly)):
            choices = [("l", "Look only"), ("x", "Leave")]
        else:
            choices = [("x", "Leave")]
        self.push_screen(Choose(str(problem), choices), self._after_problem)

    def _after_problem(self, choice: str | None) -> None:
        if choice == "l":
            self.read_store(read_only=True)
        else:
            self.exit()

    def when_ready(self, callback: Callable[[], object]) -> None:
        """Call back when the library is open: at once if it is."""
        if self.is_ready:
            callback()
        else:
            self._waiting.append(callback)

    # moving

    def room(self, name: str) -> Screen:
        """A new screen of that name."""
        module, _, class_name = ROOMS[name].partition(":")
        return getattr(import_module(module), class_name)()

    def action_visit(self, name: str) -> None:
        """Go to a screen, from wherever; Today stays at the bottom of the stack."""
        if len(self.screen_stack) > 1 and self.screen.is_modal:
            return
        while len(self.screen_stack) > 1:
            self.pop_screen()
        if name != "today":
            self.push_screen(self.room(name))

    def go_back(self) -> None:
        """Leave the screen on top; from Today, leave the app."""
        if len(self.screen_stack) > 1:
            self.pop_screen()
        else:
            self.exit()

    def action_help(self) -> None:
        """Every key of the screen on top."""
        from tui.screens.help import Help

        if not self.screen.is_modal:
            self.push_screen(Help(self.screen))

    def action_leave(self) -> None:
        """Leave at the second press."""
        if self._leaving:
            self.exit()
        self._leaving = True
        self.notify("Press ctrl+c again to leave. Everything is saved.", timeout=3)
        self.set_timer(3, self._stay)

    def _stay(self) -> None:
        self._leaving = False

    def notify(self, message: str, **how: object) -> None:
        """Tell something in passing, on the last line; it takes the place of what stood there."""
        self.clear_notifications()
        super().notify(message, **how)

    def action_command_palette(self) -> None:
        """Find an action by its words."""
        from textual.command import CommandPalette

        if not self.screen.is_modal:
            self.push_screen(CommandPalette(placeholder="What do you want to do?"))

    def get_system_commands(self, screen: Screen):
        """The palette: this screen's actions, then those of everywhere."""
        from tui.palette import entries

        return entries(self, screen)

    def _fatal_error(self) -> None:
        """An error that nobody foresaw ends the app: no trace on the terminal, but in a file."""
        from rich.text import Text

        from tui.fault import fault_words

        self.bell()
        self.panic(Text(fault_words(self._exception)))

    async def on_unmount(self) -> None:
        """Let the store go."""
        if self.is_ready:
            self.library.close()
