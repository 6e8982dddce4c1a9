"""What every screen may ask of the app: the library, where to go, what to say."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Any

from textual.app import App
from textual.events import Key
from textual.reactive import var
from textual.screen import Screen

from tui.actions import Action

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.kept_views import StartupSnapshot

SCREENS = {
    "today": "tui.screens.today:TodayScreen",
    "plan": "tui.screens.plan:PlanScreen",
    "triage": "tui.screens.triage:TriageScreen",
    "sweep": "tui.screens.sweep:SweepScreen",
    "bank": "tui.screens.bank:BankScreen",
    "papers": "tui.screens.papers_overview:PapersScreen",
    "progress": "tui.screens.progress:ProgressScreen",
    "import": "tui.screens.import_file:ImportScreen",
    "settings": "tui.screens.settings:SettingsScreen",
    "week": "tui.screens.week:WeekScreen",
}
"""Every screen that can be gone to, imported when it is first opened."""

DRILL_FORM = Action(
    "app.drill_form", "D", "Drill…", "Choose questions to drill, or drill the last choice again."
)
"""On the screens where questions are chosen; everywhere it has a key that is never typed."""

GLOBAL = (
    Action("help", "question_mark,f1", "Help", "Show every key of this screen."),
    Action("visit('today')", "f2", "Today", "Go to today's plan."),
    Action("visit('plan')", "f3", "Plan", "Go to the plan up to the exam."),
    Action("visit('triage')", "f4", "Triage", "See what you keep missing."),
    Action(
        "visit('sweep')", "f5", "Sweep", "Pick the questions worth the most in the time you have."
    ),
    Action("visit('bank')", "f6", "Bank", "Browse, search and edit the questions."),
    Action("visit('papers')", "f7", "Papers", "Take a paper as in the exam; see past ones."),
    Action(
        "visit('progress')",
        "f8",
        "Progress",
        "See what is ready, waiting or settled, and the score.",
    ),
    Action("visit('import')", "f9", "Import", "Import questions from a file."),
    Action("visit('settings')", "f10", "Settings", "Change rules, shortcuts and colours."),
    Action(
        "mark_chapter",
        "ctrl+k",
        "Mark a chapter…",
        "Mark the selected chapter or list, or choose one.",
    ),
    replace(DRILL_FORM, name="drill_form", key="ctrl+t"),
    Action("suspend_process", "ctrl+z", "Suspend", "Suspend; return with `fg`."),
    Action("leave", "ctrl+c", "Leave", "Press twice to quit; everything is saved."),
)


class BaseApp(App[str]):
    """The app as its screens know it; `tui.app` opens the library and hands keys on."""

    library: "Library"
    """Open once `is_ready`."""
    store_problem: var[str] = var("")
    """Why nothing can be saved at present; every screen shows it."""

    def __init__(self, glance: "StartupSnapshot | None" = None) -> None:
        super().__init__()
        self.glance = glance
        self.is_ready = False
        self.has_greeted = False
        self._waiting: list[Callable[[], object]] = []

    def when_ready(self, callback: Callable[[], object]) -> None:
        """Call back when the library is open: at once if it is."""
        if self.is_ready:
            callback()
        else:
            self._waiting.append(callback)

    def call_waiting(self) -> None:
        """The library is open: call back whoever waited for it."""
        waiting, self._waiting = self._waiting, []
        for callback in waiting:
            callback()

    def crash(self, error: Exception) -> None:
        """End the app for an error that nobody foresaw; from a thread, by `call_from_thread`."""
        self._handle_exception(error)

    @property
    def is_leaving(self) -> bool:
        """Whether the app is about to end, so that no screen need be shown any more."""
        return self._exit

    def type_again(self, event: Key) -> None:
        """A key that came too late to the screen that it was handed to is for the one on top."""
        self.post_message(Key(event.key, event.character))

    @property
    def set_keys(self) -> Mapping[str, str]:
        """Keys that the candidate has set, by the identity of their actions."""
        return self.library.settings.keys if self.is_ready else {}

    def keys_of(self, action: Action, group: str) -> str:
        """The keys of an action as they are set, such as "escape,q"."""
        return self.set_keys.get(action.identity(group), action.key)

    def begin_free_drill(self, title: str, question_ids: Sequence[str]) -> None:
        """Begin a free drill of these questions: the app does."""
        raise NotImplementedError

    # moving

    def new_screen(self, name: str) -> Screen[Any]:
        """A new screen of that name."""
        module, _, class_name = SCREENS[name].partition(":")
        screen: Screen[Any] = getattr(import_module(module), class_name)()
        return screen

    def action_visit(self, name: str) -> None:
        """Go to a screen, from wherever; Today stays at the bottom of the stack."""
        if len(self.screen_stack) > 1 and self.screen.is_modal:
            return
        while len(self.screen_stack) > 1:
            self.pop_screen()
        if name != "today":
            self.push_screen(self.new_screen(name))

    def go_back(self) -> None:
        """Leave the screen on top; from Today, leave the app."""
        if len(self.screen_stack) > 1:
            self.pop_screen()
        else:
            self.exit()

    @property
    def top_screen(self) -> Screen[Any] | None:
        """The screen on top, or that under the dialog on top: the app knows which are screens."""
        raise NotImplementedError
