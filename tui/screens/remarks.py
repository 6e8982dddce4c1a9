"""What can be said about a question on several screens: another key, its figure."""

from collections.abc import Callable

from textual.screen import Screen

from banks.views.drill import Put
from domain.errors import InputError
from domain.questions import LETTERS, Figure, Question
from tui.dialogs import Ask, Choose
from tui.figures import open_figure

BANKS_OWN = "0"


def ask_dispute(screen: Screen, put: Put, then: Callable[[tuple[str, ...], str], None]) -> None:
    """Ask for the key believed right and for a note, then hand both on.

    An empty key gives the bank's its place back.
    """

    def chosen(answer: str | None) -> None:
        if answer is None:
            return
        key = _key(put, answer)
        if key is None:
            screen.notify("No such option; nothing was changed.", severity="warning")
        elif not key:
            then((), "")
        else:
            ask_note(key)

    def ask_note(key: tuple[str, ...]) -> None:
        question = "Why? A note to check with a teacher, or empty."
        screen.app.push_screen(Ask(question), lambda note: note is not None and then(key, note))

    screen.app.push_screen(_key_question(put), chosen)


def _key_question(put: Put) -> Ask | Choose:
    if not put.seating.options or put.takes_several:
        hint = "as 15 or Quebec" if not put.seating.options else "letters as shown, as ac"
        return Ask("Which key do you believe is right? Empty: the bank's own.", hint=hint)
    choices = [
        (letter, option.text or "as printed")
        for letter, option in zip(LETTERS, put.seating.options, strict=False)
    ]
    return Choose("Which key do you believe is right?", [*choices, (BANKS_OWN, "the bank's own")])


def _key(put: Put, answer: str) -> tuple[str, ...] | None:
    """The key meant; () the bank's own, None where there is no such option."""
    wanted = answer.strip()
    if wanted in ("", BANKS_OWN) and (put.seating.options or not wanted):
        return ()
    if not put.seating.options:
        return (wanted,)
    letters = [letter for letter in wanted.lower() if letter.isalnum()]
    found = [put.seating.option_at(LETTERS.find(letter)) for letter in letters]
    return tuple(one for one in found if one) if all(found) else None


def show_figure(screen: Screen, question: Question) -> None:
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

    screen.app.push_screen(Choose("Which figure?", choices), chosen)


def _open(screen: Screen, question: Question, figure: Figure) -> None:
    bank_id = question.id.partition("/")[0]
    try:
        open_figure(screen.app.library.store.figure_path(bank_id, figure.file))
    except InputError as problem:
        screen.notify(str(problem), severity="warning", markup=False, timeout=8)
