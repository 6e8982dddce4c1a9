"""What a drill shows: the question, its history beside it, and what can be pressed."""

from functools import partial

from textual.app import ComposeResult
from textual.content import Content
from textual.events import Resize
from textual.widgets import Input

from banks.sittings.drill_sitting import DrillSitting
from banks.views.drill import ShownQuestion
from banks.views.results import SittingScore, TierMoves
from domain.questions import Bank, Question
from domain.verdicts import Confidence, Verdict
from tui.widgets.question_text import (
    context_text,
    feedback_text,
    options_text,
    place_text,
    question_text,
    verdict_mark,
)
from tui.widgets.text_block import (
    Column,
    ScrollText,
    Setter,
    SideBySide,
    TextLines,
    below_words,
    hanging,
    stacked,
)

_OPTIONS = 2
"""The place of the options among the blocks of the page, behind where and stem."""
JUDGING = "j right · l right but unsure · k wrong · . don't know"


def prompt_words(shown: ShownQuestion, confidence: Confidence, *, has_picked: bool) -> str:
    """What the candidate can press for a question that has no response yet."""
    if shown.is_typed:
        what = f"a–{shown.seating.letters[-1]}, " if shown.seating.options else ""
        return f"{what}Enter submits · ? unsure, ?? guess · empty: don't know"
    last = shown.seating.letters[-1:]
    if not last:
        return f"Check the book: {JUDGING}"
    span, capitals = f"a–{last}", f"A–{last.upper()}"
    if not shown.is_graded:
        return f"No answer key. {JUDGING}" if has_picked else f"{span} choose · no answer key yet"
    if confidence is Confidence.GUESS:
        return f"A guess: {span} · , cancels"
    if shown.takes_several:
        state = "unsure" if confidence is Confidence.UNSURE else "sure"
        return f"{span} tick · {capitals} tick, unsure · Enter submits ({state})"
    return f"{span} sure · {capitals} unsure · . don't know · , then letter: a guess"


def progress_words(index: int, score: SittingScore) -> str:
    """ "12 of 40 · 9 right of 11"."""
    so_far = f" · {score.right} right of {score.given}" if score.given else ""
    return f"{min(index + 1, score.total)} of {score.total}{so_far}"


def summary_text(score: SittingScore, moved: TierMoves, missed: int) -> Content:
    """How the sitting went."""
    if not score.given:
        return Content("No questions left.")
    lines = [Content.styled(f"{score.given} of {score.total} answered", "bold"), Content("")]
    for verdict, count in (
        (Verdict.RIGHT, score.right),
        (Verdict.WRONG, score.wrong),
        (Verdict.BLANK, score.blank),
    ):
        share = f"{count / score.given:6.0%}"
        lines.append(Content.assemble(f"{count:5}  ", verdict_mark(verdict).pad_right(2), share))
    lines += [Content(""), Content(f"{score.unsure:5}  unsure or guessed")]
    lines += [Content(f"{moved.promoted:5}  promoted"), Content(f"{moved.settled:5}  settled")]
    if score.seconds:
        pace = score.seconds / score.given
        reading = f" · reading {_minutes(score.reading)}" if score.reading >= 1 else ""
        lines.append(
            Content(f"\nthinking {_minutes(score.seconds)}, {pace:.0f} s per question{reading}")
        )
    again = "w: missed ones again · " if missed else ""
    lines.append(Content(f"\n{again}V: read through · Enter: close. Everything is saved."))
    return stacked(lines)


def line_words(title: str, score: SittingScore, before: int | None, moved: TierMoves) -> str:
    """A line of the day that is done: "Genera · 1–28: 19 of 28 right, 9 missed (12 last time)"."""
    missed = score.wrong + score.blank
    last = f" ({before} last time)" if before is not None else ""
    settled = f", {moved.settled} settled" if moved.settled else ""
    return f"{title}: {score.right} of {score.given} right, {missed} missed{last}{settled}"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"


WIDE, _MARGINS = 110, 4


class DrillView(Column):
    """Changes in place: nothing is composed anew at a key, and as a rule nothing laid out."""

    DEFAULT_CSS = """
    DrillView #page { width: 1fr; padding: 1 1 0 2; }
    DrillView #aside { width: 44; margin: 1 0; padding: 0 1 0 2; border-left: solid $panel; }
    DrillView.-narrow #aside { display: none; }
    DrillView #typed { margin: 0 0 1 0; padding: 0 2; }
    DrillView #prompt { height: 1; padding: 0 2; color: $text-muted; }
    DrillView #prompt.-alarm { height: auto; color: $error; text-style: bold; }
    """

    _waits = False
    _words = ""
    _set: tuple[Question, Bank, Setter] | None = None

    def compose(self) -> ComposeResult:
        """The page with the context beside it, the line to type in, the prompt."""
        self._page, self._aside = ScrollText(id="page"), ScrollText(id="aside", can_focus=False)
        self._typed = Input(id="typed", placeholder="your response", compact=True)
        self._prompt = TextLines(id="prompt")
        with SideBySide():
            yield self._page
            yield self._aside
        yield self._typed
        yield self._prompt

    def show(
        self,
        run: DrillSitting,
        picked: frozenset[str],
        confidence: Confidence,
        *,
        is_back: bool = False,
        before: str = "",
    ) -> None:
        """The question that is up, or how the sitting went. `is_back`: it was gone back to;
        `before`: what came of the question or line before it, where that was not shown; it stands
        in the place of the keys where both have no room.
        """
        if run.is_over:
            summary = summary_text(run.score, run.moved(), len(run.missed()))
            self._page.show([lambda _: summary])
            self._aside.show([])
        else:
            self._show_question(run, picked)
        asking = not run.is_over and run.feedback is None
        self._waits = asking and bool(run.shown.seating.options)
        self._typed.display = asking and run.shown.is_typed
        self.screen.set_focus(self._typed if self._typed.display else self._page)
        if asking:
            words = prompt_words(run.shown, confidence, has_picked=bool(picked))
            both = f"{before} · {words}" if before else words
            has_space = len(both) <= self.app.size.width - _MARGINS
            self._words = before if before and not has_space else both
            self._scrolled()
        else:
            again = " · = answers again" if run.shown.is_typed else " · a letter answers again"
            self._words = ""
            words = "Enter: next question" + (again if is_back else "")
            self.prompt("" if run.is_over else words)

    def _show_question(self, run: DrillSitting, picked: frozenset[str]) -> None:
        question, feedback = run.shown, run.feedback
        blocks: list[Setter] = [partial(place_text, question), self._stem(question)]
        if question.seating.options:
            blocks.append(partial(options_text, question, feedback, picked))
        if feedback:
            remarks = run.remarks()
            blocks.append(
                lambda width: feedback_text(
                    question, feedback, remarks, width, has_history=not self.has_class("-narrow")
                )
            )
        self._page.show(blocks, reveal=len(blocks) - 1 if feedback else -1)
        self._aside.show([lambda width: context_text(run.context(), feedback is not None, width)])

    def _stem(self, shown: ShownQuestion) -> Setter:
        """The same setter for as long as the question is up: its text is set once."""
        question, bank = shown.question, shown.location.bank
        if self._set is None or self._set[0] is not question or self._set[1] is not bank:
            self._set = question, bank, partial(question_text, shown)
        return self._set[2]

    @property
    def has_seen_options(self) -> bool:
        """Whether all options were in view, so that a letter can be meant."""
        return not self._waits or self._page.has_seen(_OPTIONS)

    def on_mount(self) -> None:
        """Tell what lies below while a long question is scrolled."""
        for change in ("scroll_y", "virtual_size"):
            self.watch(self._page, change, self._scrolled, init=False)

    def _scrolled(self) -> None:
        if not self._words:
            return
        if self.has_seen_options:
            self.prompt(self._words)
        else:
            self.prompt(below_words(self._page))

    def prompt(self, words: str, *, alarm: bool = False) -> None:
        """What can be pressed, or what went wrong, which no scrolling replaces."""
        text = Content(words)
        if alarm:
            self._words = ""
            self._prompt.show(lambda width: hanging(Content(""), text, width), layout=True)
        else:
            self._prompt.show(lambda width: text.truncate(width, ellipsis=True))
        self._prompt.set_class(alarm, "-alarm")

    def on_resize(self, event: Resize) -> None:
        """The context stands beside the question where there is room for it."""
        self.set_class(event.size.width < WIDE, "-narrow")

    @property
    def typed(self) -> str | None:
        """What stands in the line to type in, None where nothing is typed."""
        return self._typed.value if self._typed.display else None

    def clear(self) -> None:
        """Empty the line to type in."""
        self._typed.value = ""

    def to_top(self) -> None:
        """Show what comes next from its beginning."""
        self._page.to_top()

    def page(self, step: int) -> None:
        """Scroll a page up (-1) or down (1)."""
        self._page.turn(step)
