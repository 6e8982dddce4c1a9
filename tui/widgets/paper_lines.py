"""A paper's questions, a line each: to answer, to type the key of, and all of them to go to."""

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static

from banks.sittings.paper_sitting import AnswerState, PaperKey, PaperSitting
from banks.views.drill import ShownQuestion, words_of
from domain.verdicts import Confidence
from tui.widgets.question_text import VERDICT_STYLES, verdict_mark
from tui.widgets.virtual_list import GUTTER


def number_line(exam: PaperSitting, index: int, width: int) -> Content:
    """A question of the book: its place in the paper, where it stands, what was answered."""
    shown, answer = exam.shown_at(index), exam.answer_at(index)
    letter = words_of(shown, answer.chosen or ()) if answer else "·"
    state = "" if answer is None or answer.confidence is Confidence.SURE else f"{answer.confidence}"
    if exam.state(index) is AnswerState.PARKED:
        state = "parked"
    return _book_line(index, shown, Content.assemble((letter, "bold"), f"  {state:<7}"), width)


def _book_line(index: int, shown: ShownQuestion, right: Content, width: int) -> Content:
    """A question's place in the paper, its heading, its number in the book, and `right`."""
    location = shown.location
    number = f"{shown.question.number:>6}    "
    space = width - 6 - len(number) - right.cell_length
    heading = f"{location.subject.title} · {location.chapter.title}"
    title = Content(heading).truncate(max(space, 8), ellipsis=True, pad=True)
    return Content.assemble((f"{index + 1:>4}  ", "$muted"), title, (number, "bold"), right)


def number_heads(width: int) -> Content:
    """What stands in the columns of `number_line`."""
    return _heads("yours".ljust(10), width)


def key_heads(width: int) -> Content:
    """What stands in the columns of `key_line`."""
    return _heads("yours key".ljust(22), width)


def _heads(right: str, width: int) -> Content:
    left = " " * GUTTER + "  no.  subject and chapter"
    ends = f"in the book   {right}"
    return Content.styled(f"{left:<{max(width - len(ends) - 1, 0)}}{ends}", "$muted")


def key_line(key: PaperKey, index: int, width: int) -> Content:
    """Where the question stands, what was answered, its key, and what that came to."""
    shown, verdict = key.questions[index], key.verdict(index)
    answer, mark = key.given[shown.question.id], key.marks.get(shown.question.id)
    unsure = "" if answer.confidence is Confidence.SURE else "?"
    letters = words_of(shown, mark) if isinstance(mark, tuple) else ""
    came = Content("") if verdict is None else verdict_mark(verdict)
    right = Content.assemble(
        (f"{words_of(shown, answer.chosen or ()):>2}{unsure:<2}", "bold"),
        "  key ",
        (f"{letters or '·':<4}", VERDICT_STYLES[verdict] if verdict else ""),
        came.pad_right(8 - came.cell_length),
    )
    return _book_line(index, shown, right, width)


ACROSS = 8
"""Numbers in a row."""
MARKS = {AnswerState.OPEN: "·", AnswerState.ANSWERED: "*", AnswerState.PARKED: "?"}
STYLES = {
    AnswerState.OPEN: "",
    AnswerState.ANSWERED: "$success",
    AnswerState.PARKED: "bold $warning",
}
STEPS = {
    "left": -1,
    "right": 1,
    "up": -ACROSS,
    "down": ACROSS,
    "h": -1,
    "l": 1,
    "k": -ACROSS,
    "j": ACROSS,
}


def navigator_text(exam: PaperSitting, at: int) -> Content:
    """The numbers in rows; `at` is the one pointed at."""
    lines = []
    for first in range(0, len(exam.questions), ACROSS):
        cells = [
            _cell(index, exam.state(index), index == at)
            for index in range(first, min(first + ACROSS, len(exam.questions)))
        ]
        lines.append(Content("").join(cells))
    counts = " · ".join(f"{MARKS[state]} {exam.count(state)} {state}" for state in AnswerState)
    return Content("\n").join([*lines, Content(""), Content(counts)])


def _cell(index: int, state: AnswerState, is_here: bool) -> Content:
    text = f"{'>' if is_here else ' '}{index + 1:>3}{MARKS[state]}"
    return Content.styled(text, f"{STYLES[state]} reverse" if is_here else STYLES[state])


class QuestionNavigator(ModalScreen[int | None]):
    """Arrows or a typed number point at a question, Enter goes there."""

    DEFAULT_CSS = """
    QuestionNavigator #rows { height: auto; max-height: 16; scrollbar-size-vertical: 1; }
    """

    def __init__(self, exam: PaperSitting) -> None:
        super().__init__()
        self._exam, self._at, self._typed = exam, exam.index, ""

    def compose(self) -> ComposeResult:
        """The numbers, and how to go to one."""
        with Vertical(classes="dialog"):
            with VerticalScroll(id="rows"):
                yield Static(id="numbers", markup=False)
            yield Static(
                Content.styled("\narrows or a number point · enter goes there · esc back", "dim")
            )

    def on_mount(self) -> None:
        """Point at the question that is up."""
        self._show()

    def _show(self) -> None:
        self.query_one("#numbers", Static).update(navigator_text(self._exam, self._at))
        self.query_one("#rows").scroll_to(y=max(0, self._at // ACROSS - 6), animate=False)

    def on_key(self, event: Key) -> None:
        """Point, go, or leave."""
        event.stop()
        last = len(self._exam.questions) - 1
        if event.key == "escape":
            self.dismiss(None)
        elif event.key == "enter":
            self.dismiss(self._at)
        elif event.key in STEPS:
            self._typed = ""
            self._at = min(max(self._at + STEPS[event.key], 0), last)
        elif event.character and event.character.isdecimal():
            self._typed = (self._typed + event.character).lstrip("0")
            if self._typed and int(self._typed) > last + 1:
                self._typed = event.character.lstrip("0")
            if self._typed:
                self._at = int(self._typed) - 1
        self._show()
