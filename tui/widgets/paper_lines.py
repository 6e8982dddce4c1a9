"""A paper's questions from the printed bank, a line each: to answer, and to type the key of."""

from textual.content import Content

from banks.sittings.paper_sitting import AnswerState, PaperKey, PaperSitting
from banks.views.drill import ShownQuestion, words_of
from domain.verdicts import Confidence
from tui.widgets.question_text import VERDICT_STYLES, verdict_mark


def number_line(exam: PaperSitting, index: int, width: int) -> Content:
    """A question of the book: its place in the paper, where it stands, what was answered."""
    shown, answer = exam.shown_at(index), exam.answer_at(index)
    letter = words_of(shown, answer.chosen or ()) if answer else "·"
    said = "" if answer is None or answer.confidence is Confidence.SURE else f"{answer.confidence}"
    if exam.state(index) is AnswerState.PARKED:
        said = "parked"
    return _book_line(index, shown, Content.assemble((letter, "bold"), f"  {said:<7}"), width)


def _book_line(index: int, shown: ShownQuestion, right: Content, width: int) -> Content:
    """A question's place in the paper, its heading, its number in the book, and `right`."""
    location = shown.location
    number = f"{shown.question.number:>6}    "
    space = width - 6 - len(number) - right.cell_length
    heading = f"{location.subject.title} · {location.chapter.title}"
    title = Content(heading).truncate(max(space, 8), ellipsis=True, pad=True)
    return Content.assemble((f"{index + 1:>4}  ", "$muted"), title, (number, "bold"), right)


def key_line(key: PaperKey, index: int, width: int) -> Content:
    """Where the question stands, what was answered, its key, and what that came to."""
    shown, verdict = key.questions[index], key.verdict(index)
    answer, mark = key.given[shown.question.id], key.marks.get(shown.question.id)
    unsure = "" if answer.confidence is Confidence.SURE else "?"
    letters = words_of(shown, mark) if isinstance(mark, tuple) else ""
    came = Content("") if verdict is None else verdict_mark(verdict)
    right = Content.assemble(
        (f"{words_of(shown, answer.chosen or ()):>2}{unsure:<2}", "bold"),
        "  key ", (f"{letters or '·':<4}", VERDICT_STYLES[verdict] if verdict else ""),
        came.pad_right(8 - came.cell_length),
    )  # fmt: skip
    return _book_line(index, shown, right, width)
