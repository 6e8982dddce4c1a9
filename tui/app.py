"""The app: opens the library in the background, and moves between screens."""

import gc
import signal
import sys
from asyncio import get_running_loop
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any, ClassVar

from rich.segment import Segment
from textual.app import SystemCommand
from textual.binding import BindingType
from textual.color import Color
from textual.dom import DOMNode
from textual.driver import Driver
from textual.events import Event, Key, Paste
from textual.filter import LineFilter
from textual.notifications import SeverityLevel
from textual.screen import Screen

from domain.errors import ResieveError, StoreBusy, StoreError, StoreLost, StoreReadOnly
from domain.responses import Purpose
from domain.text import safe_line, safe_text
from tui import theme
from tui.base_app import GLOBAL, SCREENS, BaseApp
from tui.base_screen import AppScreen

if TYPE_CHECKING:
    from subprocess import Popen

    from banks.library import Library
    from banks.views.kept_views import StartupSnapshot

_SETTLED = 2.0
"""Seconds after the start at which the rest is read, and the day's copy made if there is none."""

WATCHED = 1.0
"""Seconds between looks at whether the store is still there and ours."""

QUIET = 3
"""Looks in which nothing was recorded, before figures are made ahead."""

_AT_ONCE = {"escape", "ctrl+c", "ctrl+z", *(f"f{number}" for number in range(1, 13))}
"""Keys that wait for no screen to be read: they lead away from it."""

_ROUNDS = 1
"""How often what a key set going is followed up to the app after the key itself: its message."""

_SOON = 0.01
"""Seconds until a screen that keys wait for is asked again."""

_LOST = 1.0
"""Seconds after which a key is no longer waited for, though nothing told that it was handled."""


class LastStep(LineFilter):
    """The last step of every line before the terminal: Textual's own filters, then ours, by which
    no text in it can drive one. In one, because each filter makes every line anew.
    """

    def __init__(self, filters: Callable[[], Sequence[LineFilter]]) -> None:
        super().__init__()
        self._filters = filters

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with `safe_line` texts; nearly always they are so already."""
        for line_filter in self._filters():
            segments = line_filter.apply(segments, background)
        if all(text.isprintable() and text.isascii() for text, _, _ in segments):
            return segments
        return [Segment(safe_line(text), style, control) for text, style, control in segments]


class Resieve(BaseApp):
    """The whole app. `open_library` runs in a thread and gives the library or raises.

    `glance` is the first screen as it was left, if it still is so: shown until the library is
    open.
    """

    TITLE = "resieve"
    CSS_PATH = "resieve.tcss"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [action.binding("everywhere") for action in GLOBAL]

    def __init__(
        self,
        open_library: "Callable[[bool], Library]",
        first_screen: str = "today",
        glance: "StartupSnapshot | None" = None,
    ) -> None:
        super().__init__(glance)
        self.animation_level = "none"
        self._open_library = open_library
        self._first_screen = first_screen
        self._leaving = False
        theme.register(self)
        self._last_step = LastStep(super().get_line_filters)
        self._notices_told = 0
        self._typed: deque[Key | Paste] = deque()
        self._keys_passed = 0
        self._is_passing = self._is_asking = False
        self._recorded, self._quiet_looks = -1, 0
        self._figures: Popen[bytes] | None = None

    def get_driver_class(self) -> type[Driver]:
        """Our own reader of the terminal, where Textual has the one that it builds on."""
        if sys.platform == "win32":
            return super().get_driver_class()
        from tui.terminal import TerminalDriver

        return TerminalDriver

    def get_line_filters(self) -> Sequence[LineFilter]:
        """The one that no screen opts out of."""
        return [self._last_step]

    # opening

    def get_default_screen(self) -> Screen[Any]:
        """Today lies at the bottom of the stack."""
        return self.new_screen("today")

    def on_mount(self) -> None:
        """Show the first screen at once, then read the store behind it."""
        if not self.is_headless:
            self._answer_signals()
        if self._first_screen != "today":
            self.push_screen(self.new_screen(self._first_screen))
        self.call_after_refresh(self.read_store)

    def read_store(self, read_only: bool = False) -> None:
        """Open the library in a thread."""
        self.run_worker(lambda: self._read(read_only), thread=True, exit_on_error=False)

    def _read(self, read_only: bool) -> None:
        try:
            library = self._open_library(read_only)
        except Exception as problem:
            then = partial(self._not_opened, problem, read_only)
        else:
            gc.freeze()  # nothing of the history is garbage: it need not be looked through again
            then = partial(self._opened, library)
        self.call_from_thread(self._guarded, then)

    def _guarded(self, callback: Callable[[], object]) -> None:
        try:
            callback()
        except Exception as error:
            self.crash(error)

    def _answer_signals(self) -> None:
        """Asked to end from outside, leave as by key: the terminal is given back as it was."""
        for name in ("SIGTERM", "SIGQUIT", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and sys.platform != "win32":
                leave = partial(self.exit, return_code=128 + number)
                get_running_loop().add_signal_handler(number, leave)

    def _opened(self, library: "Library") -> None:
        self.library = library
        self.is_ready = True
        theme.apply(self, library.settings.looks.theme)
        self.set_keymap(self.set_keys)
        library.listen(partial(self.call_later, self._tell_news))
        self._tell_news()
        self.call_waiting()
        self.set_timer(_SETTLED, self._settle)
        if not library.read_only:
            self.set_timer(_SETTLED, self._back_up)
            self.set_interval(WATCHED, self.watch_store)

    def _settle(self) -> None:
        failure = "What was read of the history was not kept for the next start"
        self._in_background(self._read_rest, failure, "settle")

    def _read_rest(self) -> None:
        """Keep the history for the next start; read the code of every screen, and what Sweep and
        Progress rest on.
        """
        from banks.views.figures import read_ahead

        self.library.keep_history()
        for place in SCREENS.values():
            import_module(place.partition(":")[0])
        read_ahead(self.library)

    def watch_store(self) -> None:
        """Look whether the store's folder was deleted, replaced or taken over."""
        with suppress(StoreError):  # said by `_tell_news`
            self.library.confirm()
            self._make_figures_ahead()

    def _make_figures_ahead(self) -> None:
        """Once a main screen was quiet for a while, so that those that take seconds stand ready."""
        recorded = self.library.version
        if recorded != self._recorded:
            self._recorded, self._quiet_looks = recorded, 0
        elif self.screen_stack and getattr(self.screen, "NAME", "") in SCREENS:
            self._quiet_looks += 1
            if self._quiet_looks == QUIET and (
                self._figures is None or self._figures.poll() is not None
            ):
                from banks.views.figures import make_ahead

                self._figures = make_ahead(self.library)

    def _tell_news(self) -> None:
        """Say on every screen what happened to the store, and as long as it stands what is wrong.

        Notices are said once each, when they come.
        """
        if notices := self.library.notices[self._notices_told :]:
            self._notices_told += len(notices)
            self.notify("\n".join(notices), timeout=12)
        self.store_problem = self.library.problem

    def _back_up(self) -> None:
        self._in_background(self.library.keep_daily_copy, "Today's backup was not made", "backup")

    def _in_background(self, work: Callable[[], object], failure: str, group: str) -> None:
        """Do in a thread what can fail without harm: `failure` and why are told then."""
        guarded = partial(self._tell_failure, work, failure)
        self.run_worker(guarded, thread=True, exit_on_error=False, group=group)

    def _tell_failure(self, work: Callable[[], object], failure: str) -> None:
        try:
            work()
        except StoreLost:
            return  # said by `_tell_news` for as long as it is so
        except StoreError as problem:
            self._warn_from_thread(f"{failure}: {problem}")
        except Exception as error:
            from tui.crash_report import trace_words

            self._warn_from_thread(f"{failure}. {trace_words(error)}")

    def _warn_from_thread(self, words: str) -> None:
        if not self.is_leaving:
            self.call_from_thread(self.notify, words)

    def _not_opened(self, problem: Exception, was_read_only: bool) -> None:
        """Say why, and offer to look only where that may help."""
        from tui.crash_report import trace_words
        from tui.dialogs import ChoiceDialog

        if isinstance(problem, ResieveError):
            words = str(problem)
            may_look = isinstance(problem, (StoreBusy, StoreReadOnly))
        else:
            words = (
                "The store was not read: an internal error. Nothing was changed. "
                f"{trace_words(problem)}"
            )
            may_look = not was_read_only
        choices = [("l", "Open read-only"), ("x", "Leave")] if may_look else [("x", "Leave")]
        self.push_screen(ChoiceDialog(words, choices), partial(self._after_problem, words))

    def _after_problem(self, words: str, choice: str | None) -> None:
        from rich.text import Text

        if choice == "l":
            self.read_store(read_only=True)
        else:
            self.exit(return_code=1, message=Text(f"resieve: {safe_text(words)}"))

    # keys, in the order in which they were typed

    async def on_event(self, event: Event) -> None:
        """A key or a paste comes after what was typed before it; all else at once."""
        if not isinstance(event, (Key, Paste)) or event.is_forwarded:
            await super().on_event(event)
            return
        if self._typed and self._leads_away(event) and self._must_wait():
            self._typed.clear()  # they were for the screen that is being left
        self._typed.append(event)
        if self._is_passing:
            self.set_timer(_LOST, partial(self._passed, self._keys_passed))
        else:
            await self._pass_key()

    async def _pass_key(self) -> None:
        """Hand the next key on, once the screen that it is for is there."""
        self._is_asking = False
        while self._typed and self.screen_stack and not self._is_passing:
            if not self._leads_away(self._typed[0]) and self._must_wait():
                self._ask_again()
                return
            event = self._typed.popleft()
            self._keys_passed += 1
            self._is_passing = not getattr(self.screen, "TAKES_KEYS_IN_TURN", False)
            await super().on_event(event)
            if self._is_passing:
                self._follow(self._keys_passed, _ROUNDS)

    def _ask_again(self) -> None:
        if not self._is_asking:
            self._is_asking = True
            self.set_timer(_SOON, self._pass_key)

    @staticmethod
    def _leads_away(event: Key | Paste) -> bool:
        return isinstance(event, Key) and event.key in _AT_ONCE

    def _must_wait(self) -> bool:
        screen = self.screen
        return not screen.is_mounted or (isinstance(screen, AppScreen) and screen.is_loading)

    def _follow(self, number: int, rounds: int) -> None:
        """Go the way of a key, widget by widget up to the app, behind what it has set going."""
        self._hop([*(self.focused or self.screen).ancestors_with_self], number, rounds)

    def _hop(self, way: list[DOMNode], number: int, rounds: int) -> None:
        for place, node in enumerate(way):
            if node.call_later(self._hop, way[place + 1 :], number, rounds):
                return
        if rounds:
            self._follow(number, rounds - 1)
        else:
            self.call_later(self._passed, number)

    async def _passed(self, number: int) -> None:
        """The key with this number is handled: the next may come."""
        if self._is_passing and number == self._keys_passed:
            self._is_passing = False
            await self._pass_key()

    # help and leaving

    def action_mark_chapter(self) -> None:
        """Mark what is selected on the screen, else choose any chapter."""
        from tui.screens.launch import choose_chapter

        screen = self.screen
        if screen.is_modal or not self.is_ready:
            return
        if not (isinstance(screen, AppScreen) and screen.mark_selected()):
            choose_chapter(self)

    @property
    def top_screen(self) -> AppScreen | None:
        """The screen on top, or that under the dialog on top."""
        screens = reversed(self.screen_stack)
        return next((screen for screen in screens if isinstance(screen, AppScreen)), None)

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = True,
    ) -> None:
        """Tell something in passing, on the screen that is on top."""
        if self.top_screen is not None:
            self.top_screen.notify(message, title=title, severity=severity, timeout=timeout)

    def begin_free_drill(self, title: str, question_ids: Sequence[str]) -> None:
        """On screen where the questions have their text, else in the grid."""
        from tui.screens.launch import begin

        begin(self, title, Purpose.FREE, question_ids)

    def action_drill_form(self) -> None:
        """Choose what to drill; a sitting or form that is open is left for it."""
        from tui.screens.drill_form import DrillFormScreen

        if self.is_ready and not self.screen.is_modal:
            if getattr(self.screen, "NAME", "") not in SCREENS:
                self.action_visit("today")
            self.push_screen(DrillFormScreen())

    def action_help(self) -> None:
        """Every key of the screen on top."""
        from tui.dialogs import HelpScreen

        if not self.screen.is_modal:
            self.push_screen(HelpScreen(self.screen))

    def action_leave(self) -> None:
        """Leave at the second press."""
        if self._leaving:
            self.exit()
        self._leaving = True
        self.notify("Press ctrl+c again to quit. Everything shown as recorded is saved.", timeout=3)
        self.set_timer(3, self._stay)

    def _stay(self) -> None:
        self._leaving = False

    def action_command_palette(self) -> None:
        """Find an action by its words."""
        from textual.command import CommandPalette

        if not self.screen.is_modal:
            self.push_screen(CommandPalette(placeholder="What do you want to do?"))

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """The palette: this screen's actions, then those of everywhere."""
        from tui.keymap import palette_entries

        return palette_entries(self, screen)

    def _fatal_error(self) -> None:
        """An error that nobody foresaw ends the app: no trace on the terminal, but in a file."""
        from rich.text import Text

        from tui.crash_report import crash_message

        self.bell()
        if self._exception is not None:
            self.panic(Text(crash_message(self._exception)))

    async def on_unmount(self) -> None:
        """Let the store go."""
        if self._figures is not None:
            self._figures.kill()
        if self.is_ready:
            self.library.close()
