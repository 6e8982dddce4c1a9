"""What stands around the grid of a printed sitting. Values in, `Content` out."""

from collections import Counter
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from banks.intake.keying import letters_of
from banks.library import Outcome
from banks.sittings.printed_sitting import QuestionRecord
from domain.printed.marking_grid import GridMark, GridPart, MarkingGrid
from domain.questions import LETTERS, Question
from domain.text import counted
from domain.tiers import Standing
from domain.verdicts import Confidence, Verdict
from tui.tier_reasons import trail_words, why_words
from tui.widgets.grid import Face
from tui.widgets.question_text import VERDICT_MARKS
from tui.widgets.tiers import standing_mark

KINDS = ("right", "unsure", "wrong", "blank")
SIGNS = {"unsure": "?"} | {str(verdict): sign for verdict, sign in VERDICT_MARKS.items()}
STYLES = {
    "right": "$success", "unsure": "bold $warning", "wrong": "bold $error", "blank": "bold $accent",
}  # fmt: skip
_TRAIL = 8
"""So many steps of a trail are shown, the newest."""
_LABEL = 12
"""Cells of the labels at the left of the legend."""


def kind_of(mark: GridMark) -> str:
    """right, unsure (right, but not sure), wrong or blank."""
    if mark.verdict is Verdict.RIGHT and mark.confidence is not Confidence.SURE:
        return "unsure"
    return str(mark.verdict)


def face(mark: GridMark | None, standing: Standing) -> Face:
    """How a slot looks in the grid: its mark of this sitting, else what the pencil left before."""
    if mark is None:
        return Face(standing.mark, "sign" if standing.open else "open")
    kind = kind_of(mark)
    return Face(f"{mark.letter}{SIGNS[kind]}", kind)


def tally(desk: MarkingGrid) -> Content:
    """How many of each kind, and how many are left."""
    counted = Counter(map(kind_of, desk.marks.values()))
    parts = [
        Content.styled(f"{SIGNS[kind]} {counted[kind]} {kind}", STYLES[kind]) for kind in KINDS
    ]
    count = len(desk.slots)
    left = f"· {count - len(desk.marks)} left of {count}"
    return Content("   ").join(
        [*parts, Content(left if desk.open_slots() else f"all {count} marked")]
    )


def typed_line(desk: MarkingGrid, width: int) -> Content:
    """The line of numbers as typed, its newest end in sight; empty when there is none."""
    parts = [
        Content.styled(f"{text}{SIGNS[kind_of(mark)]} ", STYLES[kind_of(mark)])
        for text, mark in desk.line
    ]
    line = Content.assemble(*parts, (desk.typed.text, "bold underline"), "▏")
    surplus = line.cell_length - width
    return Content.assemble("…", line[surplus + 1 :]) if surplus > 0 else line


def outcome_line(
    questions: Sequence[Question], marks: Sequence[GridMark], outcomes: Sequence[Outcome]
) -> Content:
    """What an act came to: of one question with what its tier did, of several their count."""
    kind = kind_of(marks[0])
    what = Content.styled(f"{SIGNS[kind]} {kind}", STYLES[kind])
    if len(questions) > 1:
        return Content.assemble(f"{len(questions)} questions ", what)
    before, after = (standing_mark(outcomes[0].before), standing_mark(outcomes[0].after))
    letter = f"{marks[0].letter} " if marks[0].letter else ""
    moved = (before, " → ", after) if before != after else (after,)
    return Content.assemble(f"{questions[0].number} {letter}", what, "   ", *moved)


def about_line(about: QuestionRecord) -> Content:
    """The question under the cursor in one line."""
    return Content.assemble(
        (f"{about.question.number}", "bold"), "  ", standing_mark(about.standing), _missed(about),
        *(f"  {part}" for part in (about.question.reference, about.note) if part),
        (f"  {' '.join(about.question.stem.split())}", "$foreground 70%"),
    )  # fmt: skip


def about_head(about: QuestionRecord) -> Content:
    """The question under the cursor: which it is, and its tier."""
    return Content.assemble(
        (f"{about.location.chapter.title} · {about.question.number}", "bold"), "\n",
        standing_mark(about.standing), _missed(about),
    )  # fmt: skip


def about_text(about: QuestionRecord, *, tell_key: bool) -> Content:
    """The question under the cursor with its text and its trail; the key only when marked."""
    question = about.question
    lines = [Content(question.stem or "The text is in the printed bank.")]
    lines += [
        Content(f"{letter}) {option.text}")
        for letter, option in zip(LETTERS, question.options, strict=False)
    ]
    if tell_key and question.answer_key:
        lines.append(Content.styled(f"key: {', '.join(letters_of(question))}", "bold"))
    lines += [Content(part) for part in (question.reference, about.note) if part]
    lines.append(Content(""))
    lines.append(Content(why_words(about.explanation)))
    lines += [
        Content.assemble((f"{day:%d %b}  ", "$foreground 60%"), words)
        for day, words in trail_words(about.explanation)[-_TRAIL:]
    ]
    return Content("\n").join(lines)


def legend(key: Callable[[str], str], part: GridPart) -> Content:
    """The three ways, always in sight. `key` gives the key of an action, as it is set."""
    graded = next((question for question in part.questions if question.answer_key), None)
    last = LETTERS[(len(graded.options) or part.option_count) - 1] if graded else ""
    letters = (
        f"a–{last} as chosen, Shift = unsure, {key('space')} blank; 7b goes on from 7"
        if graded
        else f"no answer key yet: enter it with {key('key')}, then a–d are graded"
    )
    walk = ", ".join(
        f"{key(name)} {kind}"
        for name, kind in (
            ("judge('right')", "right"), ("judge('wrong')", "wrong"),
            ("judge('unsure')", "unsure"), ("space", "blank"),
        )
    )  # fmt: skip
    numbers = f"3 7 12-15 wrong, 40? unsure, 9. blank; then {key('rest')}: the rest right"
    ways = (("One by one", walk), ("Exceptions", numbers), ("Responses", letters))
    return Content("\n").join(
        Content.assemble((label.ljust(_LABEL), "bold"), words) for label, words in ways
    )


def _missed(about: QuestionRecord) -> str:
    days = about.standing.missed_days
    return f", missed on {counted(days, 'day')}" if days else ""


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
    Side { padding: 0 1 0 2; width: 1fr; height: 1fr; display: none; }
    Side #head { height: 3; }
    Side #text { height: 1fr; }
    """

    def show(self, about: QuestionRecord, *, tell_key: bool) -> None:
        """Show this question, if the panel is in sight."""
        if self.display:
            self.put("head", about_head(about))
            self.put("text", about_text(about, tell_key=tell_key))


class Under(_Lines):
    """Under the grid: the question, what was typed and came of it, the count, the ways."""

    NAMES = ("about", "typed", "tally", "legend")
    DEFAULT_CSS = """
    Under { height: 6; padding: 0 1; }
    Under Static { height: 1; }
    Under #legend { height: 3; color: $foreground 80%; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._part: GridPart | None = None

    def show(
        self, desk: MarkingGrid, about: QuestionRecord, said: Content, key: Callable[[str], str]
    ) -> None:
        """Show the desk as it is; `said` is what the last key came to."""
        self.put("about", about_line(about))
        self.put("typed", self._typed(desk, said))
        self.put("tally", tally(desk))
        part = desk.parts[desk.part]
        if part is not self._part:
            self._part = part
            self.put("legend", legend(key, part))

    def _typed(self, desk: MarkingGrid, said: Content) -> Content:
        if not (desk.typed or desk.line):
            return said
        width = self.size.width - 6 - said.cell_length
        return Content.assemble("> ", typed_line(desk, max(12, width)), "  ", said)
