"""A paper being taken: its questions one by one or, from the book, as a list; the clock."""

from collections.abc import Callable
from functools import partial
from time import monotonic

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key, Resize
from textual.widgets import Input, Static

from banks.library import Library
from banks.sittings.paper_sitting import AnswerState, PaperSitting
from banks.views.drill import ANSWER_KEYS, given_words, typed_response, where
from banks.views.papers import awaiting_key
from domain.errors import ResieveError
from domain.history import Sitting
from domain.verdicts import Confidence
from tui.actions import Action, key_place
from tui.base_screen import AppScreen, OrderedKeysScreen
from tui.dates import clock_words
from tui.dialogs import ChoiceDialog, ConfirmDialog, confirmed, given
from tui.widgets.paper_lines import (
    QuestionNavigator,
    navigator_text,
    number_heads,
    number_line,
)
from tui.widgets.question_text import options_text, question_text
from tui.widgets.text_block import ScrollText, Setter, TextBlock, below_words
from tui.widgets.virtual_list import VirtualList

_OPTIONS = 2
"""The place of the options among the blocks of the page, behind where and stem."""
WIDE = 110
"""From so many cells on the board stands beside the question."""


class PaperSittingScreen(OrderedKeysScreen):
    """A paper being taken. Answers are saved as they are given; the clock never stops."""

    NAME = "exam"
    HEADING = "Paper"
    ABOUT = (
        "Answer with the option's letter; Shift and the letter means unsure, space leaves it "
        "blank. The next question appears by itself; a paper from the printed bank lists where "
        "to look. Go back to a question to change your response. Closing this screen does not "
        "stop the clock. Answer keys that are not known yet are typed after handing in."
    )
    ACTIONS = (
        Action(
            "answer",
            ",".join(ANSWER_KEYS),
            "Answer",
            "Take this option, sure.",
            footer=False,
            palette=False,
        ),
        Action(
            "answer_unsure",
            ",".join(ANSWER_KEYS.upper()),
            "Unsure",
            "Take this option, unsure.",
            footer=False,
            palette=False,
        ),
        Action(
            "go(1)",
            "space,right,enter,down,pagedown",
            "Next",
            "Next question, leaving this one as it is; submits what is ticked.",
        ),
        Action("park", "minus", "Park", "Set it aside; it comes back at the end."),
        Action("board", "o", "Board", "See all numbers and go to one."),
        Action("hand_in", "z", "Hand in", "Hand the paper in and see the result."),
        Action("guess", "comma", "Guess", "Mark your next response as a guess."),
        Action("clear", "delete", "Clear", "Clear your response; leave it blank."),
        Action("go(-1)", "left,up,pageup", "Before", "To the question before."),
    )
    BACK = Action("back", "escape", "Leave", "Close; the clock keeps running.")
    CSS = """
    PaperSittingScreen #page { width: 1fr; padding: 1 1 0 2; }
    PaperSittingScreen #aside { width: 44; height: 1fr; margin: 1 0; padding: 0 2; }
    PaperSittingScreen #listed { display: none; margin: 1 1 0 1; }
    PaperSittingScreen.-listed #listed { display: block; }
    PaperSittingScreen.-listed #page { display: none; }
    PaperSittingScreen.-listed #aside, PaperSittingScreen.-narrow #aside { display: none; }
    PaperSittingScreen #prompt { height: 1; padding: 0 2; color: $text-muted; }
    """

    def __init__(self, sitting: Sitting, tick: Callable[[], float] = monotonic) -> None:
        super().__init__()
        self._sitting, self._tick = sitting, tick
        self._exam: PaperSitting | None = None
        self.picked: frozenset[str] = frozenset()
        self._confidence = Confidence.SURE
        self._unsaved = ""
        """Why the answer that is ticked is not saved."""
        self._pressed = ""

    def body(self) -> ComposeResult:
        """The question, the board beside it, a line to type in, and what can be pressed."""
        with Horizontal():
            yield ScrollText(id="page")
            with Vertical(id="listed"):
                yield TextBlock(id="heads")
                rows = VirtualList[int](id="rows")
                rows.can_focus = False
                yield rows
            yield Static(id="aside", markup=False)
        yield Input(id="typed", placeholder="your response")
        yield Static(id="prompt", markup=False)

    def ready(self) -> None:
        """Go on where the paper was left, unless its time is up."""
        if self._exam is None:
            try:
                self._exam = PaperSitting(self.library, self._sitting, self._tick)
            except ResieveError as problem:
                self.app.go_back()
                self.tell(problem)
                return
            self._show_parts(self._exam)
            self.set_interval(1, self.check_time)
        self.show_question()
        self.check_time()

    @property
    def exam(self) -> PaperSitting:
        """The paper; there is one once the screen is ready."""
        assert self._exam is not None
        return self._exam

    # showing

    def _show_parts(self, exam: PaperSitting) -> None:
        """A list of all numbers where the book is read, else one question with the board."""
        rows = self.query_one("#rows", VirtualList)
        self.set_class(exam.is_from_book, "-listed")
        if exam.is_from_book:
            self.query_one("#heads", TextBlock).show(number_heads)
            rows.show(range(len(exam.questions)), partial(number_line, exam), selected=exam.index)

    def show_question(self) -> None:
        """The question that is up, with its answer ticked."""
        answer = self.exam.answer
        self.picked = frozenset(answer.chosen or ()) if answer else frozenset()
        self._confidence = answer.confidence if answer else Confidence.SURE
        self._unsaved = ""
        typed = self.query_one("#typed", Input)
        typed.display = self.exam.shown.is_typed
        typed.value = given_words(self.exam.shown, answer) if answer and typed.display else ""
        page = None if self.exam.is_from_book else self.query_one("#page")
        self.set_focus(typed if typed.display else page)
        self._show()
        self._page.to_top()
        self._show_prompt()

    def _show(self) -> None:
        shown = self.exam.shown
        with self.app.batch_update():
            self._show_prompt()
            self._title()
            if self.exam.is_from_book:
                rows = self.query_one("#rows", VirtualList)
                rows.redraw()
                rows.selected = self.exam.index
                return
            place = Content.styled(f"{self.exam.index + 1}.  {where(shown)}", "dim")
            blocks: list[Setter] = [
                lambda width: place.truncate(width, ellipsis=True),
                partial(question_text, shown),
                partial(options_text, shown, None, self.picked),
            ]
            self._page.show(blocks if shown.seating.options else blocks[:_OPTIONS])
            self.query_one("#aside", Static).update(navigator_text(self.exam, self.exam.index))

    @property
    def _page(self) -> ScrollText:
        return self.query_one("#page", ScrollText)

    @property
    def _has_seen_options(self) -> bool:
        """Whether all options were in view, so that a letter can be meant."""
        return self.exam.is_from_book or self._page.has_seen(_OPTIONS)

    def _show_prompt(self) -> None:
        if self._exam is not None:
            self.query_one("#prompt", Static).update(Content(self._prompt()), layout=False)

    def _prompt(self) -> str:
        if self._unsaved:
            return f"not saved yet: give it again to retry ({self._unsaved})"
        if not self._has_seen_options:
            return below_words(self._page)
        state = self.exam.state(self.exam.index)
        if state is AnswerState.PARKED:
            return "parked: it comes back at the end"
        if self._confidence is Confidence.GUESS:
            return "a guess · , cancels"
        if state is AnswerState.ANSWERED:
            return f"answered, {self._confidence} · another letter changes it · delete clears it"
        if self.exam.shown.takes_several:
            return "letters tick · Enter submits"
        if self.exam.shown.is_typed:
            return "type your response, then Enter"
        letters = self.exam.shown.seating.letters
        return f"{letters[:1]}–{letters[-1:]} answer · Shift: unsure · space leaves it blank"

    def _title(self) -> None:
        exam = self.exam
        parked = f" · {exam.count(AnswerState.PARKED)} parked" if exam.parked else ""
        clock = "" if exam.left is None else f" · {clock_words(exam.left)} left"
        kind = (self._sitting.opened.paper_kind or self.HEADING).capitalize()
        self.set_title(
            f"{kind} · {exam.index + 1} of {len(exam.questions)}",
            f"{exam.count(AnswerState.ANSWERED)} answered{parked}{clock}",
        )

    def check_time(self) -> None:
        """Each second: the clock, and at nought the paper is handed in as it stands."""
        if self._exam is None or self.app.screen is not self:
            return
        self._title()
        if self.exam.is_up:
            self.hand_in("Time is up: the paper is handed in as it is.")

    def on_mount(self) -> None:
        """Tell what lies below while a long question is scrolled."""
        for change in ("scroll_y", "virtual_size"):
            self.watch(self._page, change, self._show_prompt, init=False)
        super().on_mount()

    def on_resize(self, event: Resize) -> None:
        """The board stands beside the question where there is room for it."""
        self.set_class(event.size.width < WIDE, "-narrow")

    # answering

    def take(self, event: Key) -> bool:
        """Remember which of an action's keys it was."""
        self._pressed = event.key
        return False

    def action_answer(self) -> None:
        """The option at this letter, sure (or the guess that was announced)."""
        is_guess = self._confidence is Confidence.GUESS and not self.exam.answer
        self._choose("answer", Confidence.GUESS if is_guess else Confidence.SURE)

    def action_answer_unsure(self) -> None:
        """The option at this letter, unsure."""
        self._choose("answer_unsure", Confidence.UNSURE)

    def _choose(self, action: str, confidence: Confidence) -> None:
        option = self.exam.shown.option_at(self._position(action))
        if option is None or self.exam.shown.is_typed or not self._has_seen_options:
            return
        if self.exam.shown.takes_several:
            self.picked, self._confidence = self.picked ^ {option}, confidence
            self._show()
        else:
            self._give((option,), confidence)

    def _position(self, name: str) -> int:
        return key_place(self.ACTIONS, name, self.NAME, self._pressed, self.app.set_keys)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """A text or number was typed."""
        event.stop()
        try:
            chosen, confidence = typed_response(self.exam.shown, event.value)
        except ResieveError as problem:
            self.tell(problem)
            return
        self._give(chosen, confidence)

    def _give(self, chosen: tuple[str, ...], confidence: Confidence) -> None:
        try:
            self.exam.give(chosen, confidence)
        except ResieveError as problem:
            self.picked, self._unsaved = frozenset(chosen), str(problem)
            self._show()
            return
        self.exam.go_on()
        self.show_question()

    def action_guess(self) -> None:
        """What comes next is a guess, or an answer given already was one."""
        is_guess = self._confidence is Confidence.GUESS
        self._confidence = Confidence.SURE if is_guess else Confidence.GUESS
        answer = self.exam.answer
        if answer and not self.exam.shown.takes_several:
            try:
                self.exam.give(answer.chosen or (), self._confidence)
            except ResieveError as problem:
                self.tell(problem)
        self._show()

    def action_clear(self) -> None:
        """Take the answer back."""
        if self.exam.answer is None:
            return
        try:
            self.exam.give(())
        except ResieveError as problem:
            self.tell(problem)
        self.show_question()

    # moving

    def action_go(self, step: int) -> None:
        """A question on or back; what is ticked and not yet given is given first.

        On a long question it first scrolls on, until the options were in view.
        """
        if step > 0 and not self._has_seen_options:
            self._page.turn(step)
            return
        answer = self.exam.answer
        given = frozenset(answer.chosen or ()) if answer else frozenset()
        if self.exam.shown.takes_several and self.picked and self.picked != given:
            self._give(tuple(sorted(self.picked)), self._confidence)
            return
        self.exam.go(self.exam.index + step)
        self.show_question()

    def action_park(self) -> None:
        """Put it aside and go on, or take it back."""
        self.exam.park()
        if self.exam.state(self.exam.index) is AnswerState.PARKED:
            self.exam.go_on()
        self.show_question()

    def action_board(self) -> None:
        """All numbers."""

        def chosen(index: int | None) -> None:
            if index is not None:
                self.exam.go(index)
            self.show_question()

        self.app.push_screen(QuestionNavigator(self.exam), chosen)

    # ending

    def action_hand_in(self) -> None:
        """Hand in, once that is confirmed."""
        left = len(self.exam.questions) - self.exam.count(AnswerState.ANSWERED)
        words = (
            f"Hand the paper in? {left} are unanswered and count as blank."
            if left
            else ("Hand the paper in? Every question is answered.")
        )
        question = ConfirmDialog(words, "Hand in", "Keep going")
        self.app.push_screen(question, confirmed(partial(self.hand_in, "")))

    def hand_in(self, words: str) -> None:
        """Hand the paper in, saying `words` if there are any, and show its result."""
        try:
            self.exam.hand_in()
        except ResieveError as problem:
            self.app.push_screen(
                ChoiceDialog(f"{problem}. The paper is not handed in yet.", [("t", "Try again")]),
                given(lambda _: self.hand_in(words)),
            )
            return
        self.app.switch_screen(paper_screen(self.library, self._sitting))
        if words:
            self.notify(words, timeout=8)


def paper_screen(library: Library, sitting: Sitting) -> AppScreen:
    """Where a paper goes on: its questions, then its answer key if that is missing, its result."""
    if not sitting.closed:
        return PaperSittingScreen(sitting)
    if awaiting_key(library, sitting):
        from tui.screens.paper_key import PaperKeyScreen

        return PaperKeyScreen(sitting)
    from tui.screens.paper_result import PaperResult

    return PaperResult(sitting.opened.id)
