"""What stands around the grid of a printed sitting. Values in, `Content` out."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from banks.intake.keying import letters_of
from banks.library import Outcome
from banks.sittings.printed_sitting import (
    DayOfQuestions,
    QuestionPast,
    QuestionRecord,
    SittingResult,
)
from banks.views.today import TodayView
from domain.printed.marking_grid import GridMark, GridPart, MarkingGrid, TypedEntry
from domain.questions import LETTERS, Question
from domain.responses import Reason
from domain.text import counted
from domain.tiers import Standing
from domain.verdicts import Confidence, Verdict
from tui.dates import day_near, short_day
from tui.tier_reasons import why_words
from tui.widgets.grid import Face
from tui.widgets.question_text import VERDICT_MARKS, trail_lines
from tui.widgets.text_block import Setter, TextLines, hanging, stacked
from tui.widgets.tiers import standing_mark

KINDS = ("right", "unsure", "wrong", "blank")
SIGNS = {"unsure": "?"} | {str(verdict): sign for verdict, sign in VERDICT_MARKS.items()}
STYLES = {
    "right": "$right",
    "unsure": "bold $unsure",
    "wrong": "bold $wrong",
    "blank": "bold $accent",
}
REASON_LETTERS = {
    Reason.UNKNOWN: "i",
    Reason.MIXED_UP: "m",
    Reason.MISREAD: "r",
    Reason.SLIP: "s",
}
"""The reasons by the keys that say them."""
MISSED, DOUBTED = "x", "~"
"""What the last response before was, where it was not simply right."""
_TRAIL = 8
"""So many steps of a trail are shown, the newest."""
_DAYS = 6
_BAR = 20


def kind_of(mark: GridMark) -> str:
    """right, unsure (right, but not sure), wrong or blank."""
    if mark.verdict is Verdict.RIGHT and mark.confidence is not Confidence.SURE:
        return "unsure"
    return str(mark.verdict)


def mark_words(mark: GridMark) -> str:
    """The mark in words: "sure and wrong", "unsure, mixed up", "didn't know"."""
    kind = "sure and wrong" if mark.was_sure else kind_of(mark)
    if mark.reason is None:
        return kind
    return f"{mark.reason}" if kind == "blank" else f"{kind}, {mark.reason}"


def mark_sign(mark: GridMark) -> str:
    """The mark in up to three cells: the letter chosen, the verdict, why: `b✗m`, `✗✗`, `–i`."""
    sign = SIGNS[kind_of(mark)] * (1 + mark.was_sure)
    return f"{mark.letter}{sign}{REASON_LETTERS[mark.reason] if mark.reason else ''}"


def face(mark: GridMark | None, past: QuestionPast) -> Face:
    """How a slot looks in the grid: what the pencil left before, and the mark of this sitting."""
    standing = past.standing
    last = MISSED if past.missed else DOUBTED if past.doubted else ""
    before = Face(standing.mark, _brief(standing), _style(standing), last)
    if mark is None:
        return before
    kind = kind_of(mark)
    return Face(
        before.before, before.brief, before.before_style, last, mark_sign(mark), SIGNS[kind], kind
    )


def _brief(standing: Standing) -> str:
    """The pencil's mark in two cells: `!3` for three signs and more, `●2` settled with two."""
    if standing.settled:
        return f"●{min(standing.signs, 9) or ''}"
    return f"!{min(standing.signs, 9)}" if standing.signs > 2 and standing.open else standing.mark


def _style(standing: Standing) -> str:
    return "settled" if standing.settled else standing.tier.word


def tally(grid: MarkingGrid) -> Content:
    """How many of each kind, and how many are left."""
    counts = Counter(map(kind_of, grid.marks.values()))
    parts = [Content.styled(f"{SIGNS[kind]} {counts[kind]} {kind}", STYLES[kind]) for kind in KINDS]
    count, left = len(grid.slots), len(grid.open_slots())
    rest = f"· {left} left of {count}" if left else f"all {count} marked"
    return Content("   ").join([*parts, Content(rest)])


def typed_line(grid: MarkingGrid, width: int) -> Content:
    """The line of numbers as typed, its newest end in sight; empty when there is none."""
    line = Content.assemble(*map(_entry, grid.line), (grid.typed.text, "bold underline"), "▏")
    surplus = line.cell_length - width
    return Content.assemble("…", line[surplus + 1 :]) if surplus > 0 else line


def _entry(entry: TypedEntry) -> Content:
    if entry.mark is None:
        return Content.styled(f"({entry.text} left out) ", "$muted")
    return Content.styled(f"{entry.text}{mark_sign(entry.mark)} ", STYLES[kind_of(entry.mark)])


def outcome_line(
    questions: Sequence[Question], marks: Sequence[GridMark], outcomes: Sequence[Outcome]
) -> Content:
    """What an act came to: of one question with what its tier did, of several their count."""
    kind = kind_of(marks[0])
    what = Content.styled(f"{SIGNS[kind]} {mark_words(marks[0])}", STYLES[kind])
    if len(questions) > 1:
        return Content.assemble(f"{len(questions)} questions ", what)
    before, after = (standing_mark(outcomes[0].before), standing_mark(outcomes[0].after))
    letter = f"{marks[0].letter} " if marks[0].letter else ""
    moved = (before, " → ", after) if before != after else (after,)
    return Content.assemble(f"{questions[0].number} {letter}", what, "   ", *moved)


def result_words(result: SittingResult, following: str = "") -> str:
    """How it went in one plain line: "28 done, 9 missed (12 last time), 3 settled"."""
    before = "" if result.missed_before is None else f" ({result.missed_before} last time)"
    words = f"{result.done} done, {result.missed} missed{before}"
    if result.settled:
        words += f", {result.settled} settled"
    return f"{words}. {following}".rstrip()


def next_words(view: TodayView) -> str:
    """What comes next of the plan: the day's next line, else the next day with work."""
    line = next((line for line in view.planned if line.left), None)
    if line is not None:
        numbers = f" {line.numbers}" if line.numbers else ""
        title = f"sweep {line.subject_title}"
        if line.chapter_title:
            title = f"{line.subject_title} · {line.chapter_title}"
        return f"Next: {title}{numbers}."
    later = view.next_work
    if not view.is_set_up or later is None:
        return ""
    with_it = f", and round {view.round} with it" if view.ends_round else ""
    return f"All of today is done{with_it}. {short_day(later.day)}: {later.subject_title}."


def about_line(about: QuestionRecord) -> Content:
    """The question under the cursor in one line."""
    return Content.assemble(
        (f"{about.question.number}", "bold"),
        "  ",
        standing_mark(about.standing),
        "  ",
        (why_words(about.explanation), "$muted"),
    )


def days_line(days: Sequence[DayOfQuestions], today: date) -> Content:
    """What earlier days brought: "last time 12 Oct: 9 of 28 missed · 3 Sep: 14 of 28"."""
    if not days:
        return Content.styled("not done as a whole before", "$muted")
    first, *rest = days
    parts = [f"last time {day_near(first.day, today)}: {first.missed} of {first.done} missed"]
    parts += [
        f"{day_near(day.day, today)}: {day.missed} of {day.done}" for day in rest[: _DAYS - 1]
    ]
    return Content.styled(" · ".join(parts), "$muted")


def days_bars(days: Sequence[DayOfQuestions], today: date) -> list[Content]:
    """The same as bars on one scale, a line per day, newest first."""
    most = max((day.done for day in days), default=1)
    return [
        Content.assemble(
            (f"{day_near(day.day, today):>11}  ", "$muted"),
            ("█" * round(_BAR * day.missed / most), "$wrong"),
            ("░" * (round(_BAR * day.done / most) - round(_BAR * day.missed / most)), "$muted"),
            f"  {day.missed} missed of {day.done}",
        )
        for day in days[:_DAYS]
    ]


def question_lines(about: QuestionRecord, width: int) -> list[Content]:
    """What there is of the question beside its number: its text, its page, its note."""
    question = about.question
    texts = [
        question.stem and f"{question.number}  {question.stem}",
        question.reference,
        about.note and f"Note: {about.note}",
    ]
    return [line for text in texts if text for line in Content(text).wrap(max(8, width))]


def about_head(about: QuestionRecord, width: int) -> Content:
    """The question under the cursor: which it is, and its tier."""
    number = f" · {about.question.number}"
    chapter = Content.styled(about.location.chapter.title, "bold")
    days = about.standing.missed_days
    missed = f", missed on {counted(days, 'day')}" if days else ""
    return Content.assemble(
        chapter.truncate(width - len(number), ellipsis=True),
        (number, "bold"),
        "\n",
        standing_mark(about.standing),
        missed,
    )


def about_text(about: QuestionRecord, width: int, *, tell_key: bool) -> Content:
    """The question under the cursor with its text and its trail; the key only when marked."""
    question = about.question
    lines = [Content(question.stem or "The text is in the printed bank.")]
    lines += [
        hanging(Content(f"{letter}) "), Content(option.text), width)
        for letter, option in zip(LETTERS, question.options, strict=False)
    ]
    if tell_key and question.answer_key:
        lines.append(Content.styled(f"Answer key: {', '.join(letters_of(question))}", "bold"))
    lines += [Content(question.reference)] if question.reference else []
    lines += [hanging(Content("Note: "), Content(about.note), width)] if about.note else []
    lines.append(Content(""))
    lines.append(hanging(Content(""), Content(why_words(about.explanation)), width))
    lines += trail_lines(about.explanation, _TRAIL, width)
    return Content("\n").join(lines)


def legend(key: Callable[[str], str], part: GridPart) -> Content:
    """What is typed, always in sight. `key` gives the key of an action, as it is set."""
    graded = next((question for question in part.questions if question.answer_key), None)
    last = LETTERS[(len(graded.options) or part.option_count) - 1] if graded else ""
    letters = (
        f"a–{last} the option chosen, Shift: unsure; 7b goes on from 7"
        if graded
        else f"No answer key yet: {key('key')} enters it, then a–d are graded"
    )
    signs = (
        ("right", "right"),
        ("wrong", "wrong"),
        ("sure-wrong", "sure, wrong"),
        ("unsure", "unsure"),
        ("mixed-up", "mixed up"),
        ("unknown", "didn't know"),
        ("blank", "blank"),
    )
    walk = [Content.assemble((key(f"judge('{n}')"), "bold"), f" {word}") for n, word in signs]
    mixed_up, unsure = key("judge('mixed-up')"), key("judge('unsure')")
    numbers = (
        f"7 12-15 Space: wrong · 7{mixed_up}: mixed up · 40{unsure}: unsure"
        f" · then {key('rest')}: the rest right"
    )
    return Content("\n").join([Content("  ").join(walk), Content(numbers), Content(letters)])


class _Lines(Vertical):
    """Lines of which only those are drawn again that are other ones than before."""

    NAMES: ClassVar[tuple[str, ...]] = ()

    def __init__(self) -> None:
        super().__init__()
        self._shown: dict[str, Content] = {}

    def compose(self) -> ComposeResult:
        """A widget each."""
        for name in self.NAMES:
            yield Static(id=name, markup=False)

    def put(self, name: str, content: Content) -> None:
        """Set one of them."""
        if self._shown.get(name) != content:
            self._shown[name] = content
            self.query_one(f"#{name}", Static).update(content, layout=False)


class Side(_Lines):
    """The question under the cursor, on terminals wide enough."""

    NAMES = ("head", "text")
    DEFAULT_CSS = """
    Side { padding: 0 1 0 2; width: 1fr; height: 1fr; display: none; border-left: solid $panel; }
    Side #head { height: 3; }
    Side #text { height: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._setters: dict[str, Setter] = {}

    def show(self, about: QuestionRecord, *, tell_key: bool) -> None:
        """Show this question, if the panel is in sight."""
        self._setters = {
            "head": partial(about_head, about),
            "text": partial(about_text, about, tell_key=tell_key),
        }
        self._set()

    def on_resize(self, _: Resize) -> None:
        """Fit the new width, of which the screen knows nothing yet where a dialog lies on it."""
        self._set()

    def _set(self) -> None:
        if self.display:
            width = max(8, self.size.width - 4)
            for name, setter in self._setters.items():
                self.put(name, setter(width))


class FreeRows(TextLines):
    """What the rows left under the grid are good for, as many lines as there are."""

    DEFAULT_CSS = "FreeRows { height: 1fr; padding: 0 1; }"

    def put(self, lines: Iterable[Content]) -> None:
        """Show these from the bottom up to the grid, the first ones surely."""
        self.show(partial(self._rows, tuple(lines)))

    def _rows(self, lines: Sequence[Content], width: int) -> Content:
        """As many as fit, under an empty line where there is one to spare."""
        height = self.size.height
        rows = [line.truncate(width, ellipsis=True) for line in lines[:height]]
        return Content("\n").join([*([Content("")] if height > len(rows) else []), *rows])


class Under(TextLines):
    """Under the grid: the question, what was typed and came of it, the count, the ways."""

    DEFAULT_CSS = "Under { height: 7; padding: 0 1; border-top: solid $panel; }"

    def __init__(self) -> None:
        super().__init__()
        self._legend: tuple[GridPart, Content] | None = None

    def put(
        self, grid: MarkingGrid, about: QuestionRecord, message: Content, key: Callable[[str], str]
    ) -> None:
        """Show the grid's state; `message` is what the last key came to."""
        part = grid.parts[grid.part]
        if self._legend is None or self._legend[0] is not part:
            self._legend = part, legend(key, part).stylize_before("$muted")
        self.show(partial(_under, grid, about, message, self._legend[1]))


def _under(
    grid: MarkingGrid, about: QuestionRecord, message: Content, ways: Content, width: int
) -> Content:
    typed = message
    if grid.typed or grid.line:
        space = max(12, width - 6 - message.cell_length)
        typed = Content.assemble("> ", typed_line(grid, space), "  ", message)
    return stacked([about_line(about).truncate(width, ellipsis=True), typed, tally(grid), ways])
