"""Questions in full, with their history."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen

from banks.library import Library
from banks.views.drill import context, show_question
from domain.questions import Question
from tui.widgets.text_block import TextBlock
from tui.widgets.triage_lines import details_text


class QuestionDetails(ModalScreen[None]):
    """Text, key, explanation, every step and response of each question. Scrolls; any way back
    closes it.
    """

    BINDINGS = [Binding("escape,q,enter", "dismiss", "Back")]

    def __init__(self, library: Library, *questions: Question) -> None:
        super().__init__()
        shown = [show_question(library, question, None) for question in questions]
        self._shown = [(question, context(library, question)) for question in shown]

    def compose(self) -> ComposeResult:
        """The text."""
        with VerticalScroll(classes="dialog details"):
            yield TextBlock()

    def on_mount(self) -> None:
        """Set the text to the width there is."""
        self.query_one(TextBlock).show(self._text)

    def _text(self, width: int) -> Content:
        texts = [details_text(question, history, width) for question, history in self._shown]
        return Content("\n\n").join(texts)
