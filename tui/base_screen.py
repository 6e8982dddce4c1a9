"""The base of every screen: title line, body, key line, help, and the way back."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.css.query import NoMatches
from textual.events import Key
from textual.geometry import Region
from textual.notifications import SeverityLevel
from textual.screen import Screen
from textual.strip import Strip
from textual.timer import Timer
from textual.widgets import Static
from textual.worker import get_current_worker

from domain.errors import ResieveError
from domain.text import safe_text
from tui.actions import Action, is_typed, key_words
from tui.base_app import GLOBAL, BaseApp
from tui.widgets.text_block import TextLines, ground_lines

if TYPE_CHECKING:
    from textual.worker import Worker

    from banks.library import Library


BACK = Action("back", "escape,q", "Back", "Go back.")
SCROLL = (
    Action("scroll(1)", "down,j", "Down", "Scroll down.", footer=False, palette=False),
    Action("scroll(-1)", "up,k", "Up", "Scroll up.", footer=False, palette=False),
)
"""For a screen whose page, in its first `VerticalScroll`, may be longer than the terminal."""
READING = "Reading your history…"
"""Shown in the place of what is still being read."""

_LEAST_PART = 8
"""Cells that the longest part of a title keeps where it is cut."""


class TitleLine(TextLines):
    """Where you are (left) and what matters about it (right)."""

    DEFAULT_CSS = """
    TitleLine { dock: top; height: 1; background: $panel; color: $text; text-style: bold; }
    TitleLine:nocolor { text-style: bold reverse; }
    """

    def put(self, left: str, right: str = "") -> None:
        """Set both ends."""
        self.show(partial(_title, left, right))


def _title(left: str, right: str, width: int) -> Content:
    start, end = fit_title(left, right, max(0, width - 2))
    gap = " " * max(0, width - 2 - start.cell_length - end.cell_length)
    return Content.assemble(" ", start, gap, end.stylize("not bold"), " ")


def fit_title(left: str, right: str, width: int) -> tuple[Content, Content]:
    """Both ends of a title in so many cells, two between them.

    The right is kept whole while the left has a third of the line; of "subject · chapter · 1–60"
    the longest part is cut.
    """
    start, end = Content(left), Content(right)
    space = max(width - end.cell_length - 2, min(start.cell_length, width // 3))
    parts = left.split(" · ")
    longest = max(range(len(parts)), key=lambda place: len(parts[place]))
    kept = Content(parts[longest]).cell_length - start.cell_length + space
    if start.cell_length > space and kept >= _LEAST_PART:
        parts[longest] = Content(parts[longest]).truncate(kept, ellipsis=True).plain
        start = Content(" · ".join(parts))
    start = start.truncate(space, ellipsis=True)
    return start, end.truncate(max(width - start.cell_length - 2, 0), ellipsis=True)


class StoreLine(Static):
    """Why nothing can be saved, under the title of every screen for as long as that is so."""

    DEFAULT_CSS = """
    StoreLine {
        height: auto; max-height: 3; padding: 0 1; display: none;
        background: $error; color: $background; text-style: bold;
    }
    StoreLine:nocolor { text-style: bold reverse; }
    """

    def __init__(self) -> None:
        super().__init__(markup=False)

    def on_mount(self) -> None:
        """Follow what the app knows of the store."""
        self.watch(self.app, "store_problem", self._show)

    def _show(self, problem: str) -> None:
        self.display = bool(problem)
        self.update(safe_text(f"! Not saving: {problem}" if problem else ""))


class MessageLine(Static):
    """What is told in passing, over the last line of the body; the keys below stay in sight."""

    DEFAULT_CSS = """
    MessageLine {
        layer: message; dock: bottom; margin-bottom: 1; display: none;
        height: auto; max-height: 3; padding: 0 1;
        background: $accent; color: $background; text-style: bold;
    }
    MessageLine:nocolor { text-style: bold reverse; }
    """

    def __init__(self) -> None:
        super().__init__(markup=False)
        self.words = ""
        self.is_waiting = False
        """Whether it is to be shown once its screen is on top."""
        self._seconds = 0.0
        self._ending: Timer | None = None

    def put(self, words: str, seconds: float) -> None:
        """Take a message to be shown from `start` on, in the place of an earlier one."""
        self.clear()
        self.words, self._seconds, self.is_waiting = words, seconds, True

    def start(self) -> None:
        """Show the message, and count its seconds from now."""
        self.is_waiting = False
        self.update(safe_text(self.words))
        self.display = True
        self._ending = self.set_timer(self._seconds, self.clear)

    def clear(self) -> None:
        """Nothing is told any more."""
        if self._ending is not None:
            self._ending.stop()
        self.words, self.is_waiting, self._ending = "", False, None
        self.display = False


MOST_SHORTCUTS = 6
"""In the footer, the help among them: a tired reader looks no further."""


class KeyLine(TextLines):
    """The six shortcuts that matter most here, or as many as fit, the help always last.

    While text is typed, keys that would become text are left out.
    """

    DEFAULT_CSS = "KeyLine { dock: bottom; height: 1; background: $panel; color: $text-muted; }"

    screen: "AppScreen"

    def on_mount(self) -> None:
        """Follow changes of the bindings."""
        self.show(self._shortcuts)
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self.show(self._shortcuts))

    def _shortcuts(self, width: int) -> Content:
        """The line, cut at a whole entry."""
        focused = self.screen.focused
        is_typing = focused is not None and focused.check_consume_key("question_mark", "?")
        entries: list[tuple[str, str]] = []
        help_key = "f1" if is_typing else "?"
        left = width - 1 - _cells(help_key, "Help")
        for action in self.screen.all_actions():
            label = self.screen.footer_label(action) if action.footer else ""
            if not label or not self.screen.check_action(action.name, ()):
                continue
            words = key_words(self.screen.keys_set(action)).split()
            usable = [word for word in words if not (is_typing and is_typed(word))]
            if not usable:
                continue
            left -= _cells(usable[0], label)
            if len(entries) == MOST_SHORTCUTS - 1 or left < 0:
                break
            entries.append((usable[0], label))
        entries.append((help_key, "Help"))
        parts = (part for key, word in entries for part in ((key, "bold $accent"), f" {word}   "))
        return Content.assemble(" ", *parts)


def _cells(key: str, label: str) -> int:
    """Cells of an entry of the key line, with the space behind it."""
    return cell_len(key) + cell_len(label) + 4


class AppScreen(Screen[Any]):
    """A screen of resieve. A subclass names itself, lists its ACTIONS and fills `body`.

    `NAME` is the group under which its keys can be set; `HEADING` stands in the title line;
    `ABOUT` is the paragraph at the head of its help. A screen that takes typed letters sets
    `way_back` to an action without letter keys.
    """

    NAME: ClassVar[str] = ""
    HEADING: ClassVar[str] = ""
    ABOUT: ClassVar[str] = ""
    ACTIONS: ClassVar[tuple[Action, ...]] = ()
    BACK: ClassVar[Action] = BACK
    TYPED: ClassVar[frozenset[str]] = frozenset()
    """Keys that this screen takes as typed characters, so that no action can have them."""

    DEFAULT_CSS = "AppScreen { layers: default message; }"
    VERTICAL_BREAKPOINTS = [(0, "-low"), (34, "-high")]

    app: BaseApp
    _loader: "Worker[None] | None" = None

    def __init__(self) -> None:
        super().__init__()
        self._message_line = MessageLine()

    def __init_subclass__(cls, **kwargs: Any) -> None:
        if cls.NAME:
            cls.BINDINGS = [action.binding(cls.NAME) for action in cls.all_actions()]
        if "CSS" in cls.__dict__:  # as a default it does not make Textual read all styles again
            cls.DEFAULT_CSS, cls.CSS = cls.CSS, ""
        super().__init_subclass__(**kwargs)

    @classmethod
    def all_actions(cls) -> tuple[Action, ...]:
        """The screen's own actions and the way back."""
        return (*cls.ACTIONS, cls.BACK)

    @property
    def library(self) -> "Library":
        """The open library; only to be asked for after `ready`."""
        return self.app.library

    def keys_set(self, action: Action) -> str:
        """The keys of an action as they are set on this screen, such as "escape,q"."""
        return self.app.keys_of(action, "everywhere" if action in GLOBAL else self.NAME)

    def key_words(self, action: Action) -> str:
        """The first key of one of this screen's actions, as it is set, for a reader."""
        return key_words(self.keys_set(action), only_first=True)

    def key_of(self, name: str) -> str:
        """The key of the action with this name, as it is set, for a reader."""
        return self.key_words(next(action for action in self.ACTIONS if action.name == name))

    def footer_label(self, action: Action) -> str:
        """What the footer calls one of the actions now; "" leaves it out."""
        return action.label

    def compose(self) -> ComposeResult:
        """Title line, what is wrong with the store, body, key line."""
        yield TitleLine(partial(_title, self.HEADING, ""))
        yield StoreLine()
        yield from self.body()
        yield self._message_line
        yield KeyLine()

    def render_lines(self, crop: Region) -> list[Strip]:
        """Nothing of its own."""
        return ground_lines(self, crop)

    def body(self) -> ComposeResult:
        """The widgets between title and key line."""
        return ()

    def on_mount(self) -> None:
        """Fill the screen as soon as the library is there."""
        self._show_message()
        self.app.when_ready(self._ready_if_up)

    def _ready_if_up(self) -> None:
        if self.app.is_running:  # its widgets are not made any more while the app comes down
            self.ready()

    def ready(self) -> None:
        """The library is open: show what there is. Called again by `refresh_room`."""

    def on_screen_resume(self) -> None:
        """Come back to a screen whose figures may have changed meanwhile."""
        self._show_message()
        if self.app.is_ready and self.is_mounted:
            self._ready_if_up()

    def on_screen_suspend(self) -> None:
        """A message goes with the screen that it was told on."""
        if self.app.top_screen is not self and not self._message_line.is_waiting:
            self._message_line.clear()

    # work in the background

    def in_background(
        self, work: Callable[[], None], *, group: str = "default", loads: bool = False
    ) -> None:
        """Run `work` in a thread, in the place of what this group ran before.

        It shows what it found by `hand_over`: a thread that was begun can't be stopped. With
        `loads` there is nothing to act on until it is done, so keys wait for it. A problem with a
        name is told on this screen; any other error ends the app with a report.
        """
        guarded = partial(self._guarded, work)
        worker = self.run_worker(
            guarded, thread=True, exclusive=True, group=group, exit_on_error=False
        )
        if loads:
            self._loader = worker

    def hand_over(self, show: Callable[..., None], *results: object) -> None:
        """From `in_background`: show what was found, unless a later run of the group took its
        place meanwhile or the screen is gone.
        """
        worker = get_current_worker()

        def show_newest() -> None:
            if self.is_attached and not worker.is_cancelled:
                show(*results)

        self.app.call_from_thread(show_newest)

    @property
    def is_loading(self) -> bool:
        """Whether there is nothing to act on yet, so that keys wait."""
        return not self.app.is_ready or not (self._loader is None or self._loader.is_finished)

    def _guarded(self, work: Callable[[], None]) -> None:
        """In the thread."""
        try:
            work()
        except ResieveError as problem:
            self.app.call_from_thread(self.tell, problem)
        except Exception as error:
            is_up = self.is_attached and bool(self.query(TitleLine))
            has_gone = isinstance(error, NoMatches) and not is_up
            if not (has_gone or self.app.is_leaving):
                self.app.call_from_thread(self.app.crash, error)

    def set_title(self, left: str, right: str = "") -> None:
        """What and where, in the title line."""
        self.query_one(TitleLine).put(left, right)

    # what is told in passing

    @property
    def message(self) -> str:
        """What is told in passing at present; empty if nothing is."""
        return self._message_line.words

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = False,
    ) -> None:
        """Tell something in passing, for `timeout` seconds or until another screen takes the place
        of this one. Told while that is so, it waits; told when this one was left, it is for the
        screen on top. It is plain text.
        """
        top = self.app.top_screen
        if top is not None and self not in self.app.screen_stack:
            top.notify(message, severity=severity, timeout=timeout)
            return
        seconds = self.app.NOTIFICATION_TIMEOUT if timeout is None else timeout
        self._message_line.put(f"{title}: {message}" if title else message, seconds)
        self._show_message()

    def _show_message(self) -> None:
        if self._message_line.is_waiting and self.is_mounted and self.app.top_screen is self:
            self._message_line.start()

    def tell(self, problem: ResieveError | str) -> None:
        """Say what went wrong, in place; nothing is lost."""
        self.notify(str(problem), timeout=8)

    def mark_selected(self) -> bool:
        """Mark the chapter or list that is selected here; False where there is none."""
        return False

    def action_scroll(self, step: int) -> None:
        """Scroll the page, where the screen lists `SCROLL`."""
        self.query(VerticalScroll).first().scroll_relative(y=step * 3, animate=False)

    def action_back(self) -> None:
        """Leave this screen."""
        self.app.go_back()


class OrderedKeysScreen(AppScreen):
    """A screen whose own keys are handled one after another.

    Textual hands a bound key on to the app before it runs its action, so in a fast burst it may
    come after the typed characters behind it. Here the screen runs its bindings itself, in turn.
    """

    TAKES_KEYS_IN_TURN = True

    async def on_key(self, event: Key) -> None:
        """A character that the screen takes, else one of its own bindings."""
        if self.app.screen is not self:
            event.stop()
            self.app.type_again(event)
            return
        if self.take(event):
            event.stop()
            return
        for node, bindings in self._binding_chain:
            if bound := bindings.key_to_bindings.get(event.key):
                if node is not self or bound[0].id is None:
                    return  # a line being typed keeps its own keys, Textual and the app theirs
                event.stop()
                await self.run_action(bound[0].action)

    def take(self, event: Key) -> bool:
        """Take a typed character; False leaves it to the bindings."""
        return False
