"""How a paper went: what brought the marks; and an outside paper's result, as a short form."""

from collections.abc import Iterable, Sequence
from datetime import date
from fractions import Fraction
from functools import partial

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from banks.library import Library
from banks.views.evidence_log import evidence_log
from banks.views.papers import PaperReport, paper_report
from banks.views.score import OutsideFigures, parse_by_subject, record_outside
from domain.errors import InputError, ResieveError
from domain.marking.results import ConfidencePart, PaperPart, PaperQuarter, Result
from domain.marking.schemes import plain
from domain.plan.parsing import parse_day
from domain.text import counted
from tui.actions import Action
from tui.base_screen import SCROLL, AppScreen
from tui.plots import bar
from tui.score_words import too_short_words
from tui.widgets.text_block import TextBlock, beside, hanging, stacked


class PaperResult(AppScreen):
    """The result of a paper that was handed in."""

    NAME = "result"
    HEADING = "Result"
    ABOUT = (
        "What the paper came to, under its own scheme and the answer keys in force now: by what "
        "you said, by quarter, by subject. Read it through to see every question with your "
        "response and its key."
    )
    ACTIONS = (
        Action("read_through", "V", "Read through", "Read it through, question by question."),
        Action("missed", "enter", "Take misses", "Drill or mark what was wrong or blank."),
        *SCROLL,
    )
    CSS = """
    PaperResult #sheet { padding: 1 2 0 2; scrollbar-size-vertical: 1; }
    """

    def __init__(self, sitting_id: str) -> None:
        super().__init__()
        self._sitting_id = sitting_id
        self._report: PaperReport | None = None

    def body(self) -> ComposeResult:
        """One page of text."""
        with VerticalScroll(id="sheet"):
            yield TextBlock(id="result")

    def ready(self) -> None:
        """Mark the paper."""
        report = paper_report(self.library, self.library.sitting(self._sitting_id))
        self._report = report
        self.set_title(f"Result · {report.title}", report.scheme)
        self.query_one("#result", TextBlock).show(partial(result_text, report))

    def action_read_through(self) -> None:
        """Every question with the response and the answer key."""
        from tui.screens.read_through import ReadThroughScreen

        self.app.push_screen(ReadThroughScreen(self._sitting_id))

    def action_missed(self) -> None:
        """Take what was missed: drilled, or marked where it is in the book."""
        missed = self._report.missed if self._report else []
        if missed:
            self.app.begin_free_drill("Missed in the paper", missed)
        else:
            self.tell("Nothing was missed.")


WIDE, GAP = 112, 4
TABLE = 64
"""Cells of the table of subjects beside the rest."""
_QUARTERS = ("first quarter", "second", "third", "last")
_COLUMN = 34


def result_text(report: PaperReport, width: int) -> Content:
    """The whole page."""
    result = report.result
    head = stacked([*_head(report, result, width), Content("")])
    side = width - TABLE - GAP if width >= WIDE else width
    confidence = stacked([*_said(result.confidence)])
    quarters = stacked([*_by_quarter(report, result.quarters)])
    if side >= _COLUMN * 2 + GAP:
        tables = beside(confidence, quarters, _COLUMN, GAP)
    else:
        tables = stacked([confidence, Content(""), quarters])
    sentences = [line for words in _sentences(result) for line in Content(words).wrap(side)]
    story = stacked([tables, Content(""), *sentences])
    subjects = stacked([*_by_subject(report, TABLE if width >= WIDE else width)])
    if width >= WIDE:
        return stacked([head, beside(subjects, story, TABLE, GAP)])
    return stacked([head, story, Content(""), subjects])


def _head(report: PaperReport, result: Result, width: int) -> Iterable[Content]:
    share = max(0.0, float(result.marks / result.best)) if result.best else 0.0
    marks = f"{_signed(result.marks)} of {plain(result.best)} marks, {share:.0%}"
    if report.predicted:
        low, high = report.predicted
        marks += f"  (predicted before: {low:.0f} to {high:.0f})".replace("-", "−")
    right, wrong, blank = (
        sum(getattr(part, name) for part in result.parts) for name in ("right", "wrong", "blank")
    )
    counts = (
        f"{right} right, {wrong} wrong, {blank} blank; won {plain(result.won)}, "
        f"lost {plain(result.lost)}"
    )
    yield Content.styled(marks, "bold").truncate(width, ellipsis=True)
    yield Content(counts)
    if awaiting := sum(question.verdict is None for question in report.questions):
        yield Content.styled(
            f"{counted(awaiting, 'answer')} without a key yet: not counted here.", "$warning"
        )
    if words := too_short_words(report):
        yield hanging(Content(""), Content.styled(words, "$warning"), width)


def _said(parts: Sequence[ConfidencePart]) -> Iterable[Content]:
    yield Content.styled(f"{'You said':10}{'right':>14}{'marks':>8}", "$muted")
    for part in parts:
        share = f"{part.right / part.questions:.0%}" if part.confidence != "blank" else ""
        of = f"{part.right} of {part.questions}" if share else f"{part.questions}"
        yield Content(f"{part.confidence:10}{of:>9}{share:>5}{_signed(part.marks):>8}")


def _by_quarter(report: PaperReport, quarters: Sequence[PaperQuarter]) -> Iterable[Content]:
    is_timed = any(quarter.seconds for quarter in quarters)
    head = f"s (exam {report.seconds:.0f})" if is_timed else ""
    yield Content.styled(f"{'Paper':14}{'right':>6}{head:>14}", "$muted")
    for name, quarter in zip(_QUARTERS, quarters, strict=False):
        seconds = f"{quarter.seconds:.0f}" if quarter.seconds else ""
        share = f"{quarter.right / quarter.questions:.0%}"
        style = "$warning" if quarter.seconds > report.seconds else ""
        yield Content.assemble(f"{name:14}{share:>6}", (f"{seconds:>14}", style))


def _by_subject(report: PaperReport, width: int) -> Iterable[Content]:
    result = report.result
    numbers = f"{'marks':>12}{'right':>6}{'wrong':>6}{'blank':>6}{'s':>5}"
    name = max(12, min(34, width - len(numbers) - 1))
    yield Content.styled(f"{'':{name}}{numbers}", "$muted")
    for part in result.parts:
        yield _part(part, report.titles.get(part.subject, part.subject), name, width)


def _part(part: PaperPart, title: str, name: int, width: int) -> Content:
    count = part.right + part.wrong + part.blank
    seconds = f"{part.seconds / count:.0f}" if part.seconds else ""
    numbers = (
        f"{_signed(part.marks) + ' of ' + plain(part.best):>12}"
        f"{part.right:>6}{part.wrong:>6}{part.blank:>6}{seconds:>5}"
    )
    room = width - name - len(numbers) - 2
    share = max(0.0, float(part.marks / part.best)) if part.best else 0.0
    drawn = ("  ", bar(share, min(room, 24))) if room >= 8 else ()
    return Content.assemble(Content(title).truncate(name, ellipsis=True, pad=True), numbers, *drawn)


def _sentences(result: Result) -> Iterable[str]:
    filled = result.filled
    if filled.questions:
        yield (
            f"{counted(filled.questions, 'blank')}, filled at random: {_about(filled.at_random)}; "
            f"with one wrong option of each struck out: {_about(filled.one_struck)}."
        )
    if result.guesses:
        gain = result.marks - result.without_guesses
        better = "gained" if gain > 0 else "cost"
        what = f"guessing {better} you {plain(abs(gain))}" if gain else "it made no difference"
        which = "guess" if result.guesses == 1 else f"{result.guesses} guesses"
        yield f"Had you left your {which} blank: {_signed(result.without_guesses)} marks; {what}."
    if result.reasons:
        reasons = ", ".join(f"{reason} {number}" for reason, number in result.reasons.items())
        yield f"Why you missed or doubted: {reasons}."
    right = sum(part.right for part in result.parts)
    if result.known < right:
        known = max(0, round(result.known))
        yield f"Corrected for guessing: about {known} known of {right} right."
    changes = result.changes
    total = changes.to_right + changes.to_wrong + changes.neither
    if total:
        yield (
            f"Of {counted(total, 'changed answer')} {changes.to_right} became right, "
            f"{changes.to_wrong} had been right, {changes.neither} made no difference."
        )
    if result.seconds_right >= 1 and result.seconds_wrong >= 1:
        yield (
            f"Half of the right answers took up to {result.seconds_right:.0f} s, of the wrong ones "
            f"up to {result.seconds_wrong:.0f} s."
        )


def _about(marks: Fraction) -> str:
    """What chance brings on average, to the mark: nobody can use a quarter of one."""
    if abs(marks) < 1:
        return "less than 1 mark"
    return f"about {_signed(Fraction(round(marks)), plus=True)} marks"


def _signed(marks: Fraction, *, plus: bool = False) -> str:
    """Marks as a reader writes them, with a minus sign; decimals where they are no whole number."""
    text = plain(marks) if (marks * 100).denominator == 1 else f"{float(marks):.1f}"
    return f"+{text}" if plus and marks > 0 else text.replace("-", "−")


FIELDS = {
    "day": ("Day", "such as 2027-03-14"),
    "questions": ("Questions", ""),
    "right": ("Right", ""),
    "wrong": ("Wrong", "the rest was blank"),
    "met": ("Met before", "how many you knew; empty: not known"),
    "by_subject": ("By subject", "Clouds 12/4/2; Wind 9/1; empty: not told"),
}


class OutsidePaperForm(ModalScreen[bool]):
    """Asks for a day and a few numbers; gives whether something was recorded."""

    DEFAULT_CSS = """
    OutsidePaperForm Horizontal { height: 1; }
    OutsidePaperForm Horizontal Static { width: 13; }
    OutsidePaperForm Input { width: 1fr; }
    OutsidePaperForm #wrong-words { color: $warning; text-style: bold; height: auto; }
    """

    def __init__(self, library: Library) -> None:
        super().__init__()
        self._library = library

    def compose(self) -> ComposeResult:
        """A line for each figure."""
        today = self._library.today()
        with Vertical(classes="dialog"):
            yield Static(Content.styled("A paper sat elsewhere", "bold"))
            yield Static("")
            for name, (label, hint) in FIELDS.items():
                with Horizontal():
                    yield Static(Content(label))
                    value = str(today) if name == "day" else ""
                    yield Input(value, placeholder=hint, compact=True, id=f"outside-{name}")
            yield Static("", id="wrong-words", markup=False)
            keys = (
                ("enter", " next, at the end saves   "),
                ("ctrl+r", " save   "),
                ("esc", " back"),
            )
            yield Static(
                Content.assemble(
                    *(part for key, words in keys for part in ((key, "bold $accent"), words))
                )
            )

    def on_mount(self) -> None:
        """Today's date stands there already."""
        self._field("questions" if self._field("day").value else "day").focus()

    def _field(self, name: str) -> Input:
        return self.query_one(f"#outside-{name}", Input)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """To the next line; from the last one, save."""
        event.stop()
        names = list(FIELDS)
        place = names.index((event.input.id or "").removeprefix("outside-"))
        if place + 1 < len(names):
            self._field(names[place + 1]).focus()
        else:
            self._save()

    def on_key(self, event: Key) -> None:
        """Lines up and down, save, leave."""
        moves = {"up": self.focus_previous, "down": self.focus_next}
        if event.key in moves:
            moves[event.key]()
        elif event.key == "ctrl+r":
            self._save()
        elif event.key == "escape":
            self.dismiss(False)
        else:
            return
        event.stop()

    def _save(self) -> None:
        try:
            read = evidence_log(self._library)
            figures = OutsideFigures(
                day=self._day(),
                questions=self._number("questions") or 0,
                right=self._number("right") or 0,
                wrong=self._number("wrong") or 0,
                met=self._number("met"),
                by_subject=parse_by_subject(read, self._field("by_subject").value),
            )
            record_outside(self._library, read, figures)
        except ResieveError as problem:
            self.query_one("#wrong-words", Static).update(f"! {problem}")
        else:
            self.dismiss(True)

    def _day(self) -> date:
        return parse_day(self._field("day").value)

    def _number(self, name: str) -> int | None:
        """The number typed; None for an empty line. Raises InputError."""
        text = self._field(name).value.strip()
        if text and not (text.isdecimal() and len(text) < 6):
            raise InputError(f"{FIELDS[name][0]}: expected a whole number, not {text!r}")
        return int(text) if text else None
