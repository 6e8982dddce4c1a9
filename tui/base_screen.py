"""The base of every screen: title line, body, key line, help, and the way back."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.css.query import NoMatches
from textual.screen import Screen

from domain.errors import ResieveError
from domain.text import safe_text
from tui.actions import Action, key_words
from tui.widgets.lines import KeyLine, TitleLine

if TYPE_CHECKING:
    from textual.worker import Worker

    from banks.library import Library
    from tui.app import Resieve

BACK = Action("back", "escape,q", "Back", "Go back.")


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

    app: "Resieve"
    _loader: "Worker[None] | None" = None

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
        """The keys of one of this screen's actions as they are set, such as "escape,q"."""
        keys = self.library.settings.keys if self.app.is_ready else {}
        return keys.get(action.identity(self.NAME), action.key)

    def key_words(self, action: Action) -> str:
        """The first key of one of this screen's actions, as it is set, for a reader."""
        return key_words(self.keys_set(action), only_first=True)

    def compose(self) -> ComposeResult:
        """Title line, body, key line."""
        yield TitleLine(self.HEADING)
        yield from self.body()
        yield KeyLine()

    def body(self) -> ComposeResult:
        """The widgets between title and key line."""
        return ()

    def on_mount(self) -> None:
        """Fill the screen as soon as the library is there."""
        self.app.when_ready(self.ready)

    def ready(self) -> None:
        """The library is open: show what there is. Called again by `refresh_room`."""

    def on_screen_resume(self) -> None:
        """Come back to a screen whose figures may have changed meanwhile."""
        if self.app.is_ready and self.is_mounted:
            self.ready()

    # work in the background

    def in_background(
        self, work: Callable[[], None], *, group: str = "default", loads: bool = False
    ) -> None:
        """Run `work` in a thread, in the place of what this group ran before.

        With `loads` there is nothing to act on until it is done, so keys wait for it. A problem
        with a name is told on this screen; any other error ends the app with a report.
        """
        guarded = partial(self._guarded, work)
        worker = self.run_worker(
            guarded, thread=True, exclusive=True, group=group, exit_on_error=False
        )
        if loads:
            self._loader = worker

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
        self.query_one(TitleLine).show(left, right)

    def tell(self, problem: ResieveError | str) -> None:
        """Say what went wrong, in place; nothing is lost."""
        self.notify(safe_text(str(problem)), severity="warning", markup=False, timeout=8)

    def action_back(self) -> None:
        """Leave this screen."""
        self.app.go_back()
