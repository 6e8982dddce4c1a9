"""The mock paper: what it is made of, how the earlier ones went, and the way into one."""

from collections.abc import Iterable, Sequence
from functools import partial
from random import getrandbits
from typing import Any, NamedTuple

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content

from banks.library import Library
from banks.views.evidence_log import EvidenceLog, evidence_log
from banks.views.exam import changed, drawable, sections_text
from banks.views.papers import Sat, begin, deadline, next_mark, sat, under_way
from domain.errors import ResieveError
from domain.history import Sitting
from domain.marking.blueprint import Blueprint, Draw
from domain.marking.schemes import PRESETS, MultipleRule, blind_guess, break_even
from domain.text import counted
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dialogs import ConfirmDialog, TextDialog, confirmed, given
from tui.plots import bar
from tui.widgets.text_block import TextBlock, beside, hanging, stacked

_WIDE, _GAP = 106, 4
_NAME, _BAR = 34, 24
"""Cells of a subject's title and of a bar, at most."""
_PAPERS = 8
"""Papers listed, the newest."""
FOUR = 4
"""The options of the guess that the front page weighs."""


class _Next(NamedTuple):
    """The next paper, and the history that it is drawn from."""

    reading: EvidenceLog
    paper: Blueprint


class MockScreen(AppScreen):
    """The blueprint with its settings, and the papers handed in."""

    NAME = "mock"
    HEADING = "Mock paper"
    ABOUT = (
        "A paper under exam conditions: the clock keeps running even if the app is closed, and "
        "no results are shown before you hand in. Questions whose text is only in the printed "
        "bank are answered by letter, with the book open."
    )
    ACTIONS = (
        Action("begin", "enter", "Begin", "Begin a paper, or resume the one in progress."),
        Action("ask('questions')", "n", "Questions", "Set the number of questions."),
        Action("ask('minutes')", "m", "Minutes", "Set the minutes allowed."),
        Action("ask('scheme')", "s", "Scheme", "Set the marking scheme."),
        Action("result", "r", "Last result", "Show the latest result."),
        Action(
            "ask('sections')", "e", "Subjects", "Set the questions subject by subject.",
            footer=False,
        ),
        Action(
            "ask('hard_share')", "h", "Hard share", "Set the share of hard-tier questions, 0 to 1.",
            footer=False,
        ),
        Action(
            "multiple", "k", "Several keys",
            "Choose how questions with several right options are marked.", footer=False,
        ),
        Action("draw", "d", "Draw", "Choose how questions are drawn.", footer=False),
    )  # fmt: skip
    CSS = """
    MockScreen #sheet { padding: 1 2; scrollbar-size-vertical: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._next: _Next | None = None

    def body(self) -> ComposeResult:
        """One sheet of text."""
        with VerticalScroll(id="sheet"):
            yield TextBlock(id="lines")

    @property
    def _lines(self) -> TextBlock:
        return self.query_one("#lines", TextBlock)

    def ready(self) -> None:
        """Read the log in a thread: the first time it takes a moment."""
        if self._next is None:
            self._lines.show(lambda _: Content.styled("Reading your history …", "$muted"))
        self.in_background(self._read, loads=self._next is None)

    def _read(self) -> None:
        read = evidence_log(self.library)
        try:
            paper = drawable(self.library, read)
        except ResieveError as problem:
            self.hand_over(self._show_none, str(problem))
        else:
            self.hand_over(self._show, read, paper)

    def _show_none(self, words: str) -> None:
        self._next = None
        self._lines.show(lambda width: hanging(Content(""), Content(words), width))

    def _show(self, read: EvidenceLog, paper: Blueprint) -> None:
        self._next = _Next(read, paper)
        self.set_title("Mock paper", f"{paper.questions} questions · {paper.minutes} min")
        under_way, papers = _under_way(self.library), sat(self.library)
        self._lines.show(lambda width: _page(under_way, read, paper, papers, width))

    # setting it

    def action_ask(self, field: str) -> None:
        """Ask for one of the blueprint's numbers."""
        if self._next is None:
            return
        read, paper = self._next
        share = "" if paper.hard_share is None else f"{paper.hard_share:g}"
        question, value = {
            "questions": ("How many questions? They are shared by weight.", str(paper.questions)),
            "minutes": ("How many minutes?", str(paper.minutes)),
            "scheme": (f"Marks right/wrong, as {', '.join(PRESETS)}", paper.scheme),
            "hard_share": ("The share from the hard-tiers, 0 to 1", share),
            "sections": (
                "Questions per subject, with their own scheme if any, as Clouds 20; Wind 10 +2/−1",
                sections_text(read, paper),
            ),
        }[field]
        self.app.push_screen(TextDialog(question, value), given(partial(self._try, field)))

    def _try(self, field: str, text: str) -> None:
        kinds: dict[str, type[int] | type[float]] = {
            "questions": int,
            "minutes": int,
            "hard_share": float,
        }
        try:
            value = kinds[field](text.replace(",", ".")) if field in kinds else text
            self._change(**{field: value})
        except ValueError:
            self.tell(f"“{text}” is not a number; nothing was changed.")

    def action_draw(self) -> None:
        """The other way of drawing."""
        if self._next:
            is_random = self._next.paper.draw is Draw.RANDOM
            self._change(draw=Draw.WEIGHTED if is_random else Draw.RANDOM)

    def action_multiple(self) -> None:
        """The other way of marking questions with several keys."""
        if self._next:
            rules = list(MultipleRule)
            self._change(multiple=rules[1 - rules.index(self._next.paper.multiple)])

    def _change(self, **fields: Any) -> None:
        from msgspec.structs import replace

        if self._next is None:
            return
        read = self._next.reading
        try:
            paper = changed(read, self._next.paper, **fields)
            self.library.save_settings(replace(self.library.settings, paper=paper))
        except ResieveError as problem:
            self.tell(problem)
        else:
            self._show(read, paper)

    # taking it

    def action_begin(self) -> None:
        """Into the paper: on with the one under way, or a new one once that is meant."""
        if sitting := under_way(self.library):
            self._enter(sitting)
        elif self._next:
            paper = self._next.paper
            words = (
                f"Begin {counted(paper.questions, 'question')} in "
                f"{counted(paper.minutes, 'minute')}? The clock runs from then on."
            )
            question = ConfirmDialog(words, "Begin", "Not yet")
            self.app.push_screen(question, confirmed(self._begin))

    def _begin(self) -> None:
        if self._next is None:
            return
        try:
            sitting = begin(self.library, *self._next, getrandbits(32))
        except ResieveError as problem:
            self.tell(problem)
        else:
            self._enter(self.library.sitting(sitting))

    def _enter(self, sitting: Sitting) -> None:
        from tui.screens.mock_sitting import MockSittingScreen

        self.app.push_screen(MockSittingScreen(sitting))

    def action_result(self) -> None:
        """The newest paper's result."""
        from tui.screens.paper_result import PaperResult

        if papers := sat(self.library):
            self.app.push_screen(PaperResult(papers[-1].sitting))
        else:
            self.tell("No papers yet.")


def _page(
    under_way: Sequence[Content],
    read: EvidenceLog,
    paper: Blueprint,
    papers: Sequence[Sat],
    width: int,
) -> Content:
    """The next paper and the past ones, the subjects beside them where there is room."""
    column = width // 2 if width >= _WIDE else width
    own = [*under_way, *_blueprint(paper, column), Content(""), *_earlier(papers, column)]
    subjects = [*_subjects(read, paper, width - column - _GAP if width >= _WIDE else width)]
    if width >= _WIDE:
        return beside(stacked(own), stacked(subjects), column, _GAP)
    return stacked([*own, Content(""), *subjects])


def _under_way(library: Library) -> list[Content]:
    sitting = under_way(library)
    if sitting is None:
        return []
    until = deadline(sitting).astimezone(library.now().tzinfo)
    words = f"Paper in progress: {len(sitting.left)} unanswered, time is up at {until:%H:%M}."
    return [Content.styled(words, "bold $accent"), Content.styled("Enter: resume.", "$accent"),
            Content("")]  # fmt: skip


def _blueprint(paper: Blueprint, width: int) -> Iterable[Content]:
    share = "as drawn" if paper.hard_share is None else f"{paper.hard_share:.0%}"
    how = "at random" if paper.draw is Draw.RANDOM else "more of what was missed"
    questions = counted(paper.questions, "question")
    yield Content.styled("The next paper", "bold")
    yield Content(f"{questions} in {counted(paper.minutes, 'minute')}, {paper.scheme}")
    scheme = paper.marking().scheme
    guess, threshold = float(blind_guess(scheme, FOUR)), float(break_even(scheme))
    advice = f"Answer if you are at least {threshold:.0%} sure"
    if guess > 0:
        advice += f"; a blind guess among four gains {guess:.2f} on average"
    for words in (advice, f"Drawn {how}; hard-tiers {share}; several keys: {paper.multiple}"):
        yield hanging(Content(""), Content(words), width).stylize("$muted")


def _subjects(read: EvidenceLog, paper: Blueprint, width: int) -> Iterable[Content]:
    """Questions per subject as bars of one scale, with a scheme where it has its own."""
    most = max((part.questions for part in paper.sections), default=0) or 1
    figures = 7 + max((len(part.scheme) for part in paper.sections), default=0)
    name = max(16, min(_NAME, width - figures - _BAR))
    length = max(4, min(_BAR, width - figures - name))
    yield Content.styled("Questions per subject", "bold")
    for part in paper.sections:
        title = Content(read.title(part.subject)).truncate(name, ellipsis=True, pad=True)
        drawn = bar(part.questions / most, length)
        yield Content.assemble(title, f" {part.questions:>4} ", drawn, f" {part.scheme}")


def _earlier(papers: Sequence[Sat], width: int) -> Iterable[Content]:
    yield Content.styled("Past papers", "bold")
    if not papers:
        yield Content.styled("None yet.", "$muted")
    for one in papers[: -_PAPERS - 1 : -1]:
        share = one.marks / one.best if one.best else 0.0
        numbers = f"  {one.marks:g} of {one.best:g}; {one.right} right, {one.wrong} wrong"
        length = bar(share, max(8, min(_BAR, width - 12 - len(numbers))))
        yield Content.assemble(f"{one.at.date()}  ", length, numbers)
    if expected := next_mark(papers):
        low, high = (min(max(share, -1.0), 1.0) for share in expected)
        yield Content.styled(f"Next result: {low:.0%} to {high:.0%} (90 % range)", "$muted")
