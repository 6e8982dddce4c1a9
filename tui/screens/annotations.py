"""What can be said about a question on several screens: another key, its figure."""

import os
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from banks.importers.archive import MOST_BYTES, picture_ending
from banks.sittings.drill_sitting import DrillSitting
from banks.views.drill import ShownQuestion
from domain.errors import InputError
from domain.questions import LETTERS, Figure, Question, bank_of
from domain.responses import Reason
from domain.text import safe_line
from domain.verdicts import Confidence, Verdict
from tui.base_screen import AppScreen, OrderedKeysScreen
from tui.dialogs import ChoiceDialog, TextDialog, given

_SPELLINGS = {"jpeg": "jpg", "tiff": "tif"}


def open_figure(path: Path) -> None:
    """Hand the picture to the desktop. Raises InputError that says where it lies if it can't.

    Only a file whose content and ending both say the same kind of picture is handed over: the
    desktop goes by the ending, and the folder may have come from anyone.
    """
    name = safe_line(path.name)
    if not path.is_file():
        raise InputError(f"{name}: this figure was not kept with the bank")
    if not _is_picture(path):
        raise InputError(f"{name}: is not an image of the type its name says; it was not opened")
    if sys.platform == "win32":
        os.startfile(path)
        return
    command = "open" if sys.platform == "darwin" else "xdg-open"
    if command == "xdg-open" and not (os.environ.get("DISPLAY") or _has_wayland()):
        raise InputError(f"no desktop here to show the figure; its file is {path}")
    try:
        subprocess.Popen(
            [command, str(path)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError:
        raise InputError(f"the figure could not be shown; its file is {path}") from None


def _is_picture(path: Path) -> bool:
    ending = path.suffix.lower().removeprefix(".")
    try:
        with path.open("rb") as file:
            content = picture_ending(file.read(MOST_BYTES + 1))
    except OSError:
        return False
    return bool(content) and content == _SPELLINGS.get(ending, ending)


def _has_wayland() -> bool:
    return bool(os.environ.get("WAYLAND_DISPLAY"))


BANKS_OWN = "0"


class AnnotatedScreen(OrderedKeysScreen):
    """A screen on which a sitting is taken and things are said about the question that is up."""

    started: DrillSitting | None = None

    @property
    def run(self) -> DrillSitting:
        """The sitting; there is one once the screen is ready."""
        assert self.started is not None
        return self.started

    def save(self, intent: Callable[[], None]) -> None:
        """Do what the candidate wants, and see to it when it can't be saved."""
        raise NotImplementedError

    def place_of_key(self, action: str) -> int:
        """Which of the action's keys was pressed, from 0; -1 for none."""
        raise NotImplementedError

    def action_note(self) -> None:
        """Write a note."""

        def written(text: str | None) -> None:
            if text is not None:
                self.save(partial(self.run.note, text))

        self.app.push_screen(TextDialog("Your note", self.run.remarks().note), written)

    def action_reason(self) -> None:
        """Why it was missed, or right but unsure."""
        position, feedback = self.place_of_key("reason"), self.run.feedback
        if feedback is None or position < 0:
            return
        if (
            feedback.verdict is not Verdict.RIGHT
            or feedback.response.confidence is not Confidence.SURE
        ):
            self.save(partial(self.run.reason, list(Reason)[position]))

    def action_dispute(self) -> None:
        """Another key is right."""
        ask_dispute(
            self, self.run.shown, lambda key, note: self.save(partial(self.run.dispute, key, note))
        )

    def action_figure(self) -> None:
        """Show the question's figure."""
        show_figure(self, self.run.shown.question)


def ask_dispute(
    screen: AppScreen, shown: ShownQuestion, then: Callable[[tuple[str, ...], str], None]
) -> None:
    """Ask for the key believed right and for a note, then hand both on.

    An empty key gives the bank's its place back.
    """

    def chosen(answer: str | None) -> None:
        if answer is None:
            return
        key = _key(shown, answer)
        if key is None:
            screen.tell("No such option; nothing was changed.")
        elif not key:
            then((), "")
        else:
            ask_note(key)

    def ask_note(key: tuple[str, ...]) -> None:
        question = "Why? A note to check with a teacher, or empty."
        screen.app.push_screen(TextDialog(question), given(partial(then, key)))

    screen.app.push_screen(_key_question(shown), chosen)


def _key_question(shown: ShownQuestion) -> TextDialog | ChoiceDialog:
    if not shown.seating.options or shown.takes_several:
        hint = "as 15 or Quebec" if not shown.seating.options else "letters as shown, as ac"
        return TextDialog("Which key do you believe is right? Empty: the bank's own.", hint=hint)
    choices = [
        (letter, option.text or "as printed")
        for letter, option in zip(LETTERS, shown.seating.options, strict=False)
    ]
    return ChoiceDialog(
        "Which key do you believe is right?", [*choices, (BANKS_OWN, "the bank's own")]
    )


def _key(shown: ShownQuestion, answer: str) -> tuple[str, ...] | None:
    """The key meant; () the bank's own, None where there is no such option."""
    typed = answer.strip()
    if typed in ("", BANKS_OWN) and (shown.seating.options or not typed):
        return ()
    if not shown.seating.options:
        return (typed,)
    letters = [letter for letter in typed.lower() if letter.isalnum()]
    chosen = [shown.seating.option_at(LETTERS.find(letter)) for letter in letters]
    return tuple(option for option in chosen if option) if all(chosen) else None


def show_figure(screen: AppScreen, question: Question) -> None:
    """Show the question's figure; with several ask which."""
    figures = question.figures
    if len(figures) < 2:
        for figure in figures:
            _open(screen, question, figure)
        return
    choices = [(str(n), figure.alt or figure.file) for n, figure in enumerate(figures[:9], 1)]

    def chosen(answer: str | None) -> None:
        if answer is not None:
            _open(screen, question, figures[int(answer) - 1])

    screen.app.push_screen(ChoiceDialog("Which figure?", choices), chosen)


def _open(screen: AppScreen, question: Question, figure: Figure) -> None:
    bank_id = bank_of(question.id)
    try:
        open_figure(screen.app.library.figure_path(bank_id, figure.file))
    except InputError as problem:
        screen.tell(problem)
