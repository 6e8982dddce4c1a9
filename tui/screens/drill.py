"""The runner: one question after another, answered by one key each."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from functools import partial
from random import getrandbits
from time import monotonic
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.events import Key
from textual.widgets import Input

from banks.library import Given
from banks.sittings.drill_sitting import DrillSitting
from banks.views.drill import ANSWER_KEYS, typed_response
from banks.views.results import missed_last_time
from domain import editing
from domain.errors import ResieveError, StoreError
from domain.questions import bank_of
from domain.responses import Purpose
from domain.verdicts import Confidence, Verdict
from tui.actions import Action, key_place
from tui.dates import clock_words
from tui.dialogs import ConfirmDialog, confirmed
from tui.save_in_background import save_edit
from tui.screens.annotations import AnnotatedScreen
from tui.widgets.drill_view import DrillView, line_words, progress_words
from tui.widgets.question_text import REASON_KEYS

if TYPE_CHECKING:
    from tui.base_app import BaseApp


class Phase(StrEnum):
    """Where the candidate is with a sitting: judging where there is no key to grade by."""

    ASKING = "asking"
    JUDGING = "judging"
    TOLD = "told"
    OVER = "over"


ACTIONS = (
    Action(
        "answer",
        ",".join(ANSWER_KEYS),
        "Answer",
        "Answer with this option, sure.",
        footer=False,
        palette=False,
    ),
    Action(
        "answer_unsure",
        ",".join(ANSWER_KEYS.upper()),
        "Unsure",
        "Answer with this option, unsure.",
        footer=False,
        palette=False,
    ),
    Action("right", "j", "Right", "You were right (check the book)."),
    Action("right_unsure", "l", "Unsure", "You were right but unsure (check the book)."),
    Action("wrong", "k,x", "Wrong", "You were wrong (check the book)."),
    Action("proceed", "enter,space", "Next", "Submit the ticked options; next question."),
    Action("undo", "u,backspace", "Undo", "Undo the last action."),
    Action("blank", "full_stop", "Don't know", "Leave it blank: you don't know."),
    Action("guess", "comma", "Guess", "Mark your next response as a guess."),
    Action("note", "n", "Note", "Write a note on this question."),
    Action("dispute", "y", "Dispute", "Dispute the answer key; the history is re-graded."),
    Action("checked", "exclamation_mark", "Checked", "Say that the question is as printed."),
    Action("flag", "asterisk", "Flag", "Flag this question, or remove the flag.", footer=False),
    Action("edit", "ctrl+e", "Edit", "Edit this question's text or answer key.", footer=False),
    Action(
        "retire",
        "ctrl+x",
        "Retire",
        "Retire this question; its history stays.",
        footer=False,
    ),
    Action(
        "reason",
        ",".join(REASON_KEYS),
        "Why",
        "Say why you missed it or were unsure.",
        footer=False,
        palette=False,
    ),
    Action("figure", "v", "Figure", "Show the question's figure."),
    Action("again", "w", "Missed again", "Repeat what you missed in this sitting."),
    Action("read_through", "V", "Read through", "Read this sitting through, question by question."),
    Action("previous", "left", "Previous", "Go to the previous question.", footer=False),
    Action("later", "right", "Later", "Leave this question for later.", footer=False),
    Action("reanswer", "equals_sign", "Answer again", "Answer this question again.", footer=False),
    Action("finish", "z", "End", "End this sitting.", footer=False),
    Action("page(-1)", "pageup", "Page up", "Scroll up.", footer=False, palette=False),
    Action("page(1)", "pagedown", "Page down", "Scroll down.", footer=False, palette=False),
)

_ASKED = frozenset({Phase.ASKING, Phase.JUDGING})
_UP = _ASKED | {Phase.TOLD}
WHEN = {
    "answer": _ASKED,
    "answer_unsure": _ASKED,
    "guess": _ASKED,
    "blank": _ASKED,
    "right": {Phase.JUDGING},
    "right_unsure": {Phase.JUDGING},
    "wrong": {Phase.JUDGING},
    "reason": {Phase.TOLD},
    "dispute": {Phase.TOLD},
    "reanswer": {Phase.TOLD},
    "note": _UP,
    "checked": _UP,
    "figure": _UP,
    "previous": _UP,
    "later": _UP,
    "finish": _UP,
    "flag": _UP,
    "edit": _UP,
    "retire": _UP,
    "again": {Phase.OVER},
    "read_through": {Phase.OVER},
}
"""In which phases an action makes sense; those not named always do."""
ANSWERS = frozenset({"answer", "answer_unsure", "blank", "guess", "right", "right_unsure", "wrong"})
"""Actions that answer; on a question gone back to, they answer it again."""
SINGLE_KEYS = frozenset(
    {"blank", "checked", "flag", "guess", "note", "figure", "previous", "later", "finish"}
)
"""Actions whose keys are typed characters where a text is typed."""


def phase_of(run: DrillSitting, picked: frozenset[str]) -> Phase:
    """Where the candidate is; without a key an option is chosen first, then judged."""
    if run.is_over:
        return Phase.OVER
    if run.feedback:
        return Phase.TOLD
    has_to_choose = run.shown.seating.options and not picked
    return Phase.ASKING if run.shown.is_graded or has_to_choose else Phase.JUDGING


@dataclass(frozen=True)
class DayRun:
    """A drill or grid that is a line of the day: at its end `ended` is called with its sitting
    ("" of a printed one) and one line of result, in place of a page of it. `result` is what the
    line before came to, `previous` its sitting, "" for none: undo goes back to it.
    """

    ended: Callable[[str, str], None]
    result: str = ""
    previous: str = ""


class DrillScreen(AnnotatedScreen):
    """A sitting, question by question. The screen changes in place at every key."""

    NAME = "drill"
    HEADING = "Drill"
    ABOUT = (
        "Answer with the option's letter; Shift and the letter means unsure. The result appears "
        "below the options once it is saved. The arrows scroll a long question. You can close "
        "this screen at any time and resume from Today."
    )
    ACTIONS = ACTIONS
    BACK = Action("back", "escape,q", "Leave", "Close; you can resume this sitting.")

    def __init__(
        self,
        sitting_id: str,
        tick: Callable[[], float] = monotonic,
        day_run: DayRun | None = None,
    ) -> None:
        super().__init__()
        self._sitting_id, self._tick, self._day_run = sitting_id, tick, day_run
        self._picked: frozenset[str] = frozenset()
        self._confidence = Confidence.SURE
        self._unsaved: Callable[[], None] | None = None
        self._problem = ""
        self._pressed = ""
        self._is_back = False
        self._went_on = day_run.result if day_run else ""

    def body(self) -> ComposeResult:
        """The question, and what came of its response."""
        self._desk = DrillView()
        yield self._desk

    def ready(self) -> None:
        """Go on where the sitting was left."""
        if self.started is None:
            try:
                self.started = DrillSitting(self.library, self._sitting_id, self._tick)
                if self.run.seconds_left is not None:
                    self.set_interval(1, self._show_title)
            except ResieveError as problem:
                self.app.go_back()
                self.tell(problem)
                return
        elif not self.run.is_over:
            self.run.reread()
        self._show()

    # what is up

    @property
    def phase(self) -> Phase:
        """Where the candidate is with it."""
        return phase_of(self.run, self._picked)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys that make no sense now are neither shown nor taken."""
        if action == "proceed" and self.started is not None:
            is_next = self.phase in (Phase.TOLD, Phase.OVER) or self.run.shown.takes_several
            return is_next or not self._desk.has_seen_options
        if action not in WHEN or self.started is None:
            return action not in WHEN
        if action == "figure" and not self.run.is_over:
            return bool(self.run.shown.question.figures)
        if action == "checked" and not self.run.is_over:
            is_doubtful = bool(self.run.shown.question.to_check)
            return is_doubtful and self._desk.typed is None
        if self._is_back and action in ANSWERS and self.phase is Phase.TOLD:
            return not self.run.shown.is_typed or action == "blank"
        is_typing = self._desk.typed is not None
        return self.phase in WHEN[action] and not (is_typing and action in SINGLE_KEYS)

    def _show(self) -> None:
        """Everything anew, in place."""
        with self.app.batch_update():
            self._show_title()
            self._desk.show(
                self.run,
                self._picked,
                self._confidence,
                is_back=self._is_back,
                before=self._went_on,
            )
            if self._unsaved:
                self._desk.prompt(
                    f"{self._problem}. Any key tries again; esc gives up.", alarm=True
                )
        self.refresh_bindings()

    def _show_title(self) -> None:
        title, purpose = self.run.sitting.opened.title, str(self.run.purpose)
        if not title.casefold().startswith((purpose, "drill · ")):
            title += f" · {purpose}"
        progress, left = progress_words(self.run.index, self.run.score), self.run.seconds_left
        if left is not None:
            progress += f" · {clock_words(timedelta(seconds=left))} left"
        self.set_title(title, progress)

    # answering

    def take(self, event: Key) -> bool:
        """Remember which of an action's keys it was; while something is unsaved, try again."""
        self._pressed = event.key
        if not self._unsaved:
            return event.key == "backspace" and self._undo_while_typing()
        unsaved, self._unsaved = self._unsaved, None
        if event.key == "escape":
            self._show()
        else:
            self.save(unsaved)
        return True

    def place_of_key(self, action: str) -> int:
        """Which of the action's keys was pressed, from 0."""
        return key_place(ACTIONS, action, self.NAME, self._pressed, self.app.set_keys)

    def action_answer(self) -> None:
        """The option at this letter, sure (or the guess that was announced)."""
        self._choose(self.place_of_key("answer"), self._confidence)

    def action_answer_unsure(self) -> None:
        """The option at this letter, unsure."""
        self._choose(self.place_of_key("answer_unsure"), Confidence.UNSURE)

    def action_take(self, position: int) -> None:
        """A click on an option."""
        if self.phase in (Phase.ASKING, Phase.JUDGING):
            self._choose(position, self._confidence)

    def _choose(self, position: int, confidence: Confidence) -> None:
        shown = self.run.shown
        option = shown.option_at(position)
        if option is None or shown.is_typed or not self._desk.has_seen_options:
            return
        if self.run.feedback and not (shown.is_graded and not shown.takes_several):
            self.run.reopen()
        if shown.takes_several:
            self._picked, self._confidence = self._picked ^ {option}, confidence
            self._show()
        elif not shown.is_graded:
            self._picked, self._confidence = frozenset({option}), confidence
            self._show()
        else:
            self._give((option,), confidence=confidence)

    def action_guess(self) -> None:
        """What comes next is a guess, or is not after all."""
        is_guess = self._confidence is Confidence.GUESS
        self._confidence = Confidence.SURE if is_guess else Confidence.GUESS
        self._show()

    def action_blank(self) -> None:
        """Don't know."""
        self._give(())

    def action_right(self) -> None:
        """Right, by the candidate's own judgement."""
        self._judge(Verdict.RIGHT, self._confidence)

    def action_right_unsure(self) -> None:
        """Right but unsure."""
        self._judge(Verdict.RIGHT, Confidence.UNSURE)

    def action_wrong(self) -> None:
        """Wrong, by the candidate's own judgement."""
        self._judge(Verdict.WRONG, self._confidence)

    def _judge(self, verdict: Verdict, confidence: Confidence) -> None:
        self._give(tuple(sorted(self._picked)) or None, verdict, confidence)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """A text or number was typed."""
        event.stop()
        try:
            chosen, confidence = typed_response(self.run.shown, event.value)
        except ResieveError as problem:
            self.tell(problem)
            return
        self._give(chosen, confidence=confidence)

    def _give(
        self,
        chosen: tuple[str, ...] | None,
        verdict: Verdict | None = None,
        confidence: Confidence = Confidence.SURE,
    ) -> None:
        given = self.run.given(chosen, verdict, confidence)
        self.save(partial(self._record, given))

    def _record(self, given: Given) -> None:
        self.run.record(given)
        was_back, self._is_back = self._is_back, False
        self._clear()
        if self.run.goes_on and not was_back:
            self._went_on = f"✓ {self.run.shown.question.number} right"
            self.run.next()
            self._desk.to_top()

    def action_reanswer(self) -> None:
        """Ask the question that is up again."""
        self.save(self.run.reopen)

    def save(self, intent: Callable[[], None]) -> None:
        """Do it, or keep it on the screen until it can be saved."""
        self._unsaved = None
        try:
            intent()
        except StoreError as problem:
            self._unsaved, self._problem = intent, str(problem)
        self._show()

    def _clear(self) -> None:
        self._picked, self._confidence = frozenset(), Confidence.SURE
        self._went_on = ""
        self._desk.clear()

    def action_checked(self) -> None:
        """The question was compared with the print."""
        question = self.run.shown.question
        bank = self.library.bank(bank_of(question.id))
        changed = bank.with_questions(editing.checked([question]))

        def checked() -> None:
            self.run.reread()
            self._show()

        save_edit(self, changed, [question.id], f"question {question.number} checked", checked)

    # moving

    def action_proceed(self) -> None:
        """Give what is ticked; from a response on to the next question; at the end leave."""
        if self.phase is Phase.OVER:
            self.action_back()
        elif self.phase is Phase.TOLD:
            self._move(self.run.next, goes_back=False)
        elif not self._desk.has_seen_options:
            self._desk.page(1)
        elif self.run.shown.takes_several and self.run.shown.is_graded and self._picked:
            self._give(tuple(sorted(self._picked)), confidence=self._confidence)

    def action_previous(self) -> None:
        """The question before."""
        self._move(partial(self.run.step, -1))

    def action_later(self) -> None:
        """The question after; one without a response comes again at the end."""
        self._move(partial(self.run.step, 1))

    def _move(self, step: Callable[[], None], *, goes_back: bool = True) -> None:
        def move() -> None:
            step()
            self._is_back = goes_back
            self._clear()
            self._desk.to_top()

        self.save(move)
        if self._unsaved is None and self.run.is_over and self._day_run is not None:
            self._end_line(self._day_run)

    def _end_line(self, day_run: DayRun) -> None:
        """On to the day's next line, with what this one came to in a line."""
        self._attempt(self.run.close)
        missed = missed_last_time(self.library, self.run.sitting)
        words = line_words(self.run.sitting.opened.title, self.run.score, missed, self.run.moved())
        day_run.ended(self._sitting_id, words)
        self.app.go_back()

    def action_page(self, step: int) -> None:
        """Scroll a page."""
        self._desk.page(step)

    def action_back(self) -> None:
        """Leave; a sitting with nothing left is over for good."""
        if self.started:
            self._attempt(self.run.close if self.run.is_over else self.run.stop_reading)
        self.app.go_back()

    def action_finish(self) -> None:
        """End here, once that is confirmed."""

        left = self.run.score.total - self.run.score.given
        self.app.push_screen(
            ConfirmDialog(f"End this sitting with {left} questions not answered?"),
            confirmed(self._end),
        )

    def _end(self) -> None:
        self._attempt(self.run.close)
        self.app.go_back()

    def on_unmount(self) -> None:
        """Left by a key that leads elsewhere: what was read so far counts."""
        if self.started and self.started.is_reading:
            with suppress(StoreError):
                self.started.stop_reading()

    def _attempt(self, save: Callable[[], None]) -> None:
        try:
            save()
        except StoreError as problem:
            self.tell(problem)

    def action_again(self) -> None:
        """A new sitting over what was missed."""
        missed = [question.id for question in self.run.missed()]
        if missed:
            self._attempt(self.run.close)
            title = f"{self.run.sitting.opened.title}, missed again"
            self.app.pop_screen()
            start_drill(self.app, title, Purpose.FREE, missed)

    def action_read_through(self) -> None:
        """Every question with what came of it."""
        from tui.screens.read_through import ReadThroughScreen

        self.app.push_screen(ReadThroughScreen(self._sitting_id))

    # changing the question

    def action_flag(self) -> None:
        """Flag it, or take the flag off."""
        self.save(self.run.flag)

    def action_edit(self) -> None:
        """The form with this question; back from it the drill goes on with what was saved."""
        from tui.screens.question_form import QuestionForm

        self.save(self.run.stop_reading)
        self.app.push_screen(QuestionForm(self.run.shown.question.id))

    def action_retire(self) -> None:
        """Take it out of use, once that is confirmed."""
        question = "Retire this question? Its history stays, and this can be undone."
        self.app.push_screen(
            ConfirmDialog(question), confirmed(partial(self._move, self.run.retire))
        )

    # saying

    def action_undo(self) -> None:
        """Undo the newest thing said in this sitting."""

        def undo() -> None:
            undone = self.run.undo()
            if undone is None and self._day_run and self._day_run.previous:
                self._back_to(self._day_run.previous)
                return
            self._clear()
            words = f"Undone: {undone.label}." if undone else "Nothing to undo here."
            self.notify(words, timeout=2)

        self.save(undo)

    def _back_to(self, sitting_id: str) -> None:
        """Undo what was said last in the line before, and go there."""
        before = DrillSitting(self.library, sitting_id, self._tick)
        if before.undo() is None:
            self.notify("Nothing to undo here.", timeout=2)
            return
        day_run = replace(self._day_run, previous="") if self._day_run else None
        self.app.switch_screen(DrillScreen(sitting_id, self._tick, day_run))

    def _undo_while_typing(self) -> bool:
        """Backspace in an empty line has nothing else to undo."""
        if self._desk.typed != "":
            return False
        self.action_undo()
        return True


def start_drill(
    app: "BaseApp",
    title: str,
    purpose: Purpose,
    question_ids: Sequence[str],
    *,
    minutes: int = 0,
    day_run: DayRun | None = None,
) -> None:
    """Open a sitting over these questions and begin it; `minutes` 0 sets no time."""
    try:
        sitting = app.library.open_sitting(
            title, purpose, question_ids, getrandbits(32), minutes=minutes
        )
    except StoreError as problem:
        app.notify(str(problem))
    else:
        app.push_screen(DrillScreen(sitting, day_run=day_run))
