"""How a paper went: marks by subject, guesses, time, changed answers."""

from collections.abc import Iterable, Sequence

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content

from banks.library import Library
from banks.views.papers import blueprint, marked
from domain.history import Sitting
from domain.marking.results import PaperPart, Result
from domain.marking.schemes import plain
from domain.responses import Purpose
from domain.verdicts import Verdict
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.plots import bar
from tui.widgets.text_block import TextBlock, stacked


class PaperResult(AppScreen):
    """The result of a paper that was handed in."""

    NAME = "result"
    HEADING = "Result"
    ABOUT = "What the paper came to, under its own scheme and the keys in force now."
    ACTIONS = (
        Action("missed", "enter,m", "Missed again", "Drill what was wrong or blank in the paper."),
        Action(
            "read_through", "V", "Read through", "Read the paper through, question by question."
        ),
        Action("scroll(1)", "down,j", "Down", "Scroll down.", footer=False, palette=False),
        Action("scroll(-1)", "up,k", "Up", "Scroll up.", footer=False, palette=False),
    )
    CSS = """
    PaperResult #sheet { padding: 1 2 0 2; scrollbar-size-vertical: 1; }
    """

    def __init__(self, sitting_id: str) -> None:
        super().__init__()
        self._sitting_id = sitting_id

    def body(self) -> ComposeResult:
        """One sheet."""
        with VerticalScroll(id="sheet"):
            yield TextBlock(id="result")

    def ready(self) -> None:
        """Mark the paper."""
        sitting = self.library.sitting(self._sitting_id)
        found = marked(self.library, sitting)
        titles = _titles(self.library, sitting)
        self.set_title("Result", f"{sitting.opened.title} · {blueprint(sitting).scheme}")
        self.query_one("#result", TextBlock).show(lambda width: result_text(found, titles, width))

    def action_scroll(self, step: int) -> None:
        """Scroll a result that is longer than the screen."""
        self.query_one("#sheet").scroll_relative(y=step * 3, animate=False)

    def action_read_through(self) -> None:
        """Every question with the response and the answer key."""
        from tui.screens.read_through import ReadThroughScreen

        self.app.push_screen(ReadThroughScreen(self._sitting_id))

    def action_missed(self) -> None:
        """Drill what was missed."""
        from tui.screens.drill import start_drill

        missed = _missed(self.library, self.library.sitting(self._sitting_id))
        if missed:
            start_drill(self.app, "Missed in the paper", Purpose.FREE, missed)
        else:
            self.tell("Nothing was missed.")


def result_text(found: Result, titles: dict[str, str], width: int) -> Content:
    """The whole result, set to a width."""
    share = float(found.marks / found.best) if found.best else 0.0
    lines = [
        Content.styled(f"{plain(found.marks)} of {plain(found.best)} marks, {share:.0%}", "bold"),
        Content(f"won {plain(found.won)}, lost {plain(found.lost)}"),
        Content(""),
        Content.styled(
            f"{'':28}{'marks':>8}{'of':>6}{'right':>7}{'wrong':>7}{'blank':>7}{'s each':>8}", "dim"
        ),
    ]
    lines += [_part(part, titles.get(part.subject, part.subject), width) for part in found.parts]
    lines += [
        Content(""),
        *(line for words in _sentences(found) for line in _wrapped(words, width)),
    ]
    return stacked(lines)


def _part(part: PaperPart, title: str, width: int) -> Content:
    count = part.right + part.wrong + part.blank
    share = max(0.0, float(part.marks / part.best)) if part.best else 0.0
    name = Content(title).truncate(27, ellipsis=True, pad=True)
    numbers = (
        f"{plain(part.marks):>8}{plain(part.best):>6}{part.right:>7}{part.wrong:>7}{part.blank:>7}"
        f"{part.seconds / count:>8.0f}"
    )
    room = width - 73
    return Content.assemble(name, " ", numbers, *((" ", bar(share, room)) if room >= 10 else ()))


def _sentences(found: Result) -> Iterable[str]:
    if found.guesses:
        gain = found.marks - found.without_guesses
        better = "gained" if gain > 0 else "cost"
        told = f"guessing {better} you {plain(abs(gain))}" if gain else "it made no difference"
        which = "guess" if found.guesses == 1 else f"{found.guesses} guesses"
        yield f"Had you left your {which} blank: {plain(found.without_guesses)} marks; {told}."
    right = sum(part.right for part in found.parts)
    if found.known < right:
        yield f"Corrected for guessing that is {float(found.known):.1f} known of {right} right."
    changes = found.changes
    total = changes.to_right + changes.to_wrong + changes.neither
    if total:
        yield (
            f"Of {total} changed answers {changes.to_right} became right, {changes.to_wrong} were "
            f"right before, {changes.neither} made no difference."
        )
    if found.seconds_right >= 1 and found.seconds_wrong >= 1:
        yield (
            f"Half of the right answers took up to {found.seconds_right:.0f} s, of the wrong ones "
            f"up to {found.seconds_wrong:.0f} s."
        )


def _wrapped(words: str, width: int) -> Sequence[Content]:
    return Content(words).wrap(max(width, 1))


def _titles(library: Library, sitting: Sitting) -> dict[str, str]:
    titles: dict[str, str] = {}
    for question_id in sitting.opened.questions:
        if question := library.question(question_id):
            location = library.location(question)
            titles[f"{location.bank.id}/{location.subject.id}"] = location.subject.title
    return titles


def _missed(library: Library, sitting: Sitting) -> list[str]:
    given = sitting.given
    return [
        question
        for question in sitting.opened.questions
        if library.question(question) is not None
        and (question not in given or library.history.verdict(given[question]) is not Verdict.RIGHT)
    ]
