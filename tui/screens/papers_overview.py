"""Papers: those to go on with, the kinds to take, and how the earlier ones went."""

from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from random import getrandbits
from typing import Any, NamedTuple

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.events import Resize

from banks.library import Library
from banks.views.evidence_log import EvidenceLog, evidence_log
from banks.views.exam import changed, sections_text
from banks.views.papers import (
    FEWEST_MARKED,
    DrawnPaper,
    awaiting_key,
    begin,
    deadline,
    draw,
    papers_to_finish,
)
from banks.views.score import PaperLine, paper_lines, predicted_for
from domain.errors import ResieveError
from domain.history import Sitting
from domain.marking.blueprint import Draw
from domain.marking.schemes import PRESETS, MultipleRule
from domain.responses import PaperKind
from domain.text import counted
from tui.actions import Action
from tui.base_screen import READING, AppScreen
from tui.dates import day_near
from tui.dialogs import ChoiceDialog, ConfirmDialog, TextDialog, confirmed, given
from tui.plots import bar
from tui.score_words import bounds_words
from tui.widgets.text_block import TextBlock, hanging, stacked
from tui.widgets.virtual_list import VirtualList

WIDE = 104
_WITH_PREDICTED = 64
"""Cells from which on a taken paper's line has room for what was predicted before it."""
_TITLE = 14
"""Cells of a paper's title at least: it is not cut for the words behind it."""
_BAR, _LEAST_BAR = 20, 6
"""Cells of a bar, at most and at least: titles have what they need before it."""
ABOUT_KIND = {
    PaperKind.SAMPLE: (
        "Drawn evenly over the whole bank: it measures. Two recent ones, each with at least "
        f"{FEWEST_MARKED} questions marked, anchor the predicted score for questions of your bank."
    ),
    PaperKind.REHEARSAL: "Full length, made and marked like the exam.",
    PaperKind.MOCK: "Practice with settings of its own, from questions with an answer key.",
}
MOCK_SETTINGS = {
    "questions": ("n", "Number of questions"),
    "minutes": ("m", "Minutes allowed"),
    "scheme": ("s", "Marking scheme"),
    "sections": ("b", "Questions by subject"),
    "hard_share": ("h", "Share of hard-tier questions"),
    "draw": ("d", "How questions are drawn"),
    "multiple": ("k", "How several right options are marked"),
}
"""What can be set of a mock paper: its key in the dialog, and words."""


class PaperOnOffer(NamedTuple):
    """A kind of paper with one drawn of it and where its score is predicted to lie, or why none
    can be drawn.
    """

    kind: PaperKind
    seed: int
    paper: DrawnPaper | None
    problem: str = ""
    predicted: tuple[float, float] | None = None


ListedPaper = Sitting | PaperOnOffer | PaperLine


class PapersScreen(AppScreen):
    """A list of papers; what the selected one is made of stands beside or below it."""

    NAME = "papers"
    HEADING = "Papers"
    ABOUT = (
        "Questions taken as in the exam: the clock runs on even if the app is closed, and nothing "
        "is told before you hand in. What is only in your printed bank is answered by letter, "
        "with the book open, and its answer key typed afterwards. A paper can also be printed "
        "and entered later."
    )
    ACTIONS = (
        Action("open", "enter", "Take", "Take or resume the paper, or open its result."),
        Action("print", "P", "Print", "Print the paper's numbers, to enter the letters later."),
        Action("outside", "R", "Outside paper", "Record the result of a paper sat elsewhere."),
        Action("discard", "x", "End", "End a paper begun, without a result."),
        Action("settings", "K", "Mock settings", "Set what a mock paper is made of."),
    )
    CSS = """
    PapersScreen #detail { padding: 1 2; height: 11; scrollbar-size-vertical: 1; }
    PapersScreen.-wide #detail { width: 46; height: 1fr; border-left: solid $panel; }
    PapersScreen VirtualList { height: 1fr; margin: 1 0 0 0; }
    PapersScreen #parts { layout: vertical; }
    PapersScreen.-wide #parts { layout: horizontal; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._reading: EvidenceLog | None = None

    def body(self) -> ComposeResult:
        """The list and what is told of its selected line."""
        with Horizontal(id="parts"):
            yield VirtualList[ListedPaper]()
            with VerticalScroll(id="detail", can_focus=False):
                yield TextBlock(READING, id="lines")

    @property
    def _rows(self) -> "VirtualList[ListedPaper]":
        return self.query_one(VirtualList)

    def on_resize(self, event: Resize) -> None:
        """What is told stands beside the list where there is room."""
        self.set_class(event.size.width >= WIDE, "-wide")

    def ready(self) -> None:
        """Read the log in a thread: the first time it takes a moment."""
        self.in_background(self._read, loads=self._reading is None)

    def _read(self) -> None:
        reading = evidence_log(self.library)
        offers = [offer_of(self.library, kind) for kind in ABOUT_KIND]
        taken = paper_lines(self.library)[::-1]
        self.hand_over(self._show, reading, [*papers_to_finish(self.library), *offers, *taken])

    def _show(self, reading: EvidenceLog, lines: Sequence[ListedPaper]) -> None:
        self._reading = reading
        taken = sum(isinstance(line, PaperLine) for line in lines)
        self.set_title(self.HEADING, f"{counted(taken, 'paper')} taken")
        rows = self._rows
        rows.follow = self._tell_of
        rows.show(lines, partial(_line, self.library), selected=rows.selected)
        if self.app.screen is self:
            rows.focus()

    def _tell_of(self, item: ListedPaper | None) -> None:
        reading = self._reading
        if reading is not None:
            self.query_one("#lines", TextBlock).show(partial(_detail, reading, item))
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only the keys that fit the selected line."""
        if not self.is_mounted or action not in ("print", "discard", "settings"):
            return True
        match self._rows.item:
            case Sitting(closed=is_closed):
                return action == "discard" and not is_closed
            case PaperOnOffer(kind=kind, paper=DrawnPaper()):
                return action == "print" or (action == "settings" and kind is PaperKind.MOCK)
        return False

    # taking

    def on_virtual_list_picked(self) -> None:
        """Enter, or a click."""
        self.action_open()

    def action_open(self) -> None:
        """Into the paper that is under way, a new one once that is meant, or a result."""
        match self._rows.item:
            case Sitting() as sitting:
                self._enter(sitting)
            case PaperLine(sitting=""):
                self.tell("Only the figures of an outside paper are recorded.")
            case PaperLine() as taken:
                self._enter(self.library.sitting(taken.sitting))
            case PaperOnOffer(paper=None) as offer:
                self.tell(offer.problem)
            case PaperOnOffer() as offer:
                ask_to_begin(self, offer)

    def _enter(self, sitting: Sitting) -> None:
        from tui.screens.paper_sitting import paper_screen

        self.app.push_screen(paper_screen(self.library, sitting))

    def action_print(self) -> None:
        """Ask for the file, and write the paper's sheet."""
        match self._rows.item:
            case PaperOnOffer(paper=DrawnPaper()) as offer:
                name = f"{offer.kind.replace(' ', '-')}-{self.library.today()}.pdf"
                dialog = TextDialog("Print to (.pdf .html .md .txt)", name)
                self.app.push_screen(dialog, given(partial(self._print, offer)))

    def _print(self, offer: PaperOnOffer, name: str) -> None:
        from banks.sittings.paper_sitting import print_paper

        assert offer.paper is not None
        try:
            path = Path(name).expanduser()
            print_paper(self.library, offer.paper, offer.seed, path, offer.predicted)
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.notify(f"Written: {name}. Enter it from this list.")
            self.ready()

    def action_outside(self) -> None:
        """Ask for the figures of a paper sat elsewhere."""
        from tui.screens.paper_result import OutsidePaperForm

        def recorded(is_recorded: bool | None) -> None:
            if is_recorded:
                self.notify("Outside paper recorded; u on Today undoes it.")
            self.ready()

        self.app.push_screen(OutsidePaperForm(self.library), recorded)

    def action_discard(self) -> None:
        """End a paper that was begun."""
        if isinstance(item := self._rows.item, Sitting):
            words = "End this paper? What was answered stays on record; it gets no result."
            question = ConfirmDialog(words, "End it", "Keep it")
            self.app.push_screen(question, confirmed(partial(self._discard, item)))

    def _discard(self, sitting: Sitting) -> None:
        try:
            self.library.close_sitting(sitting.opened.id, discarded=True)
        except ResieveError as problem:
            self.tell(problem)
        self.ready()

    # setting a mock paper

    def action_settings(self) -> None:
        """Ask which of them to set."""
        choices = list(MOCK_SETTINGS.values())
        names = {key: name for name, (key, _) in MOCK_SETTINGS.items()}
        dialog = ChoiceDialog("Mock paper: set what?", choices)
        self.app.push_screen(dialog, given(lambda key: self._ask(names[key])))

    def _ask(self, field: str) -> None:
        item = self._rows.item
        if self._reading is None or not isinstance(item, PaperOnOffer) or item.paper is None:
            return
        paper = item.paper.blueprint
        if field == "draw":
            is_random = paper.draw is Draw.RANDOM
            self._change(draw=Draw.WEIGHTED if is_random else Draw.RANDOM)
            return
        if field == "multiple":
            rules = list(MultipleRule)
            self._change(multiple=rules[1 - rules.index(paper.multiple)])
            return
        share = "" if paper.hard_share is None else f"{paper.hard_share:g}"
        question, value = {
            "questions": ("How many questions? They are shared by weight.", str(paper.questions)),
            "minutes": ("How many minutes?", str(paper.minutes)),
            "scheme": (f"Marks right/wrong, as {', '.join(PRESETS)}", paper.scheme),
            "hard_share": ("The share from the hard-tiers, 0 to 1", share),
            "sections": (
                "Questions per subject, with their own scheme if any, as Clouds 20; Wind 10 +2/−1",
                sections_text(self._reading, paper),
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

    def _change(self, **fields: Any) -> None:
        item = self._rows.item
        if self._reading is None or not isinstance(item, PaperOnOffer) or item.paper is None:
            return
        try:
            paper = changed(self._reading, item.paper.blueprint, **fields)
            self.library.change_settings(paper=paper)
        except ResieveError as problem:
            self.tell(problem)
        else:
            self.ready()


def ask_to_begin(screen: AppScreen, offer: PaperOnOffer) -> None:
    """Ask whether to begin a paper on screen, and go into it."""
    from tui.screens.paper_sitting import PaperSittingScreen

    paper = offer.paper
    if paper is None:
        screen.tell(offer.problem)
        return

    def begun() -> None:
        try:
            sitting = begin(screen.library, paper, offer.seed, predicted=offer.predicted)
        except ResieveError as problem:
            screen.tell(problem)
        else:
            screen.app.push_screen(PaperSittingScreen(screen.library.sitting(sitting)))

    words = (
        f"Begin {counted(len(paper.questions), 'question')} in "
        f"{counted(paper.blueprint.minutes, 'minute')}? The clock runs from then on."
    )
    screen.app.push_screen(ConfirmDialog(words, "Begin", "Not yet"), confirmed(begun))


def offer_of(library: Library, kind: PaperKind, questions: int | None = None) -> PaperOnOffer:
    """A paper of this kind drawn anew, of so many questions where that is its to say.

    Meant for a thread: the log may have to be read, and learnt from.
    """
    seed, reading = getrandbits(32), evidence_log(library)
    try:
        paper = draw(library, reading, kind, seed, questions)
    except ResieveError as problem:
        return PaperOnOffer(kind, seed, None, str(problem))
    return PaperOnOffer(kind, seed, paper, "", predicted_for(library, reading, paper))


# the lines


def _line(library: Library, item: ListedPaper, width: int) -> Content:
    match item:
        case Sitting():
            return _columns("Resume", item.opened.title, _state(library, item), width, "$accent")
        case PaperOnOffer(paper=None):
            return _columns("–", item.kind.capitalize(), item.problem, width, "$muted")
        case PaperOnOffer():
            paper = item.paper
            assert paper is not None
            words = (
                f"{counted(len(paper.questions), 'question')} in "
                f"{counted(paper.blueprint.minutes, 'minute')}, {paper.blueprint.scheme}"
            )
            return _columns("Take", item.kind.capitalize(), words, width)
        case PaperLine():
            return _taken(library, item, width)


def _columns(first: str, title: str, words: str, width: int, style: str = "") -> Content:
    space = max(min(len(title), _TITLE), width - 12 - len(words) - 2)
    name = Content(title).truncate(space, ellipsis=True, pad=True)
    return Content.assemble((f"{first:<12}", style or "bold"), name, "  ", (words, "$muted"))


def _state(library: Library, sitting: Sitting) -> str:
    if (missing := len(awaiting_key(library, sitting))) and sitting.closed:
        return f"type the key of {counted(missing, 'question')}"
    until = deadline(sitting)
    left = f"{len(sitting.left)} unanswered"
    if until is None:
        return f"printed, {left}"
    return f"{left}, time is up at {until.astimezone(library.now().tzinfo):%H:%M}"


def _taken(library: Library, paper: PaperLine, width: int) -> Content:
    day = day_near(paper.day, library.today())
    share = paper.marks / paper.best if paper.best else 0.0
    numbers = f"{paper.marks:>7.4g} of {paper.best:<5g}"
    if width >= _WITH_PREDICTED:
        before = f"predicted {bounds_words(*paper.predicted)}" if paper.predicted else ""
        numbers += f"{before:>19}"
    right = Content.assemble(bar(max(0.0, share), 10), numbers)
    name = Content(paper.kind.capitalize())
    name = name.truncate(max(8, width - 12 - right.cell_length), ellipsis=True, pad=True)
    return Content.assemble(f"{day:<12}", name, right)


# what is told of a line


def _detail(reading: EvidenceLog, item: ListedPaper | None, width: int) -> Content:
    match item:
        case PaperOnOffer(kind=kind, paper=DrawnPaper() as paper):
            about = ABOUT_KIND[kind]
            if item.predicted:
                about += f" Predicted now: {bounds_words(*item.predicted)} marks (90 % range)."
            head = hanging(Content(""), Content(about), width)
            return stacked([head, *_made_of(paper, kind, width), *_subjects(reading, paper, width)])
        case PaperOnOffer(kind=kind, problem=problem):
            words = f"{ABOUT_KIND[kind]} {problem[:1].upper()}{problem[1:]}."
            return hanging(Content(""), Content(words), width)
        case PaperLine():
            counts = f"{item.right} right, {item.wrong} wrong, {item.blank} blank"
            before = "Predicted before: "
            before += bounds_words(*item.predicted) if item.predicted else "too little was tried"
            lines = [Content.styled(item.title, "bold"), Content(counts), Content(before)]
            if item.is_too_short:
                words = f"Fewer than {FEWEST_MARKED} questions marked: no part of the score."
                lines.append(hanging(Content(""), Content.styled(words, "$warning"), width))
            return stacked(lines)
        case Sitting():
            return hanging(Content(""), Content(item.opened.title), width)
    return Content("")


def _made_of(paper: DrawnPaper, kind: PaperKind, width: int) -> Iterable[Content]:
    if kind is not PaperKind.MOCK:
        return
    blueprint = paper.blueprint
    share = "as drawn" if blueprint.hard_share is None else f"{blueprint.hard_share:.0%}"
    how = "at random" if blueprint.draw is Draw.RANDOM else "more of what was missed"
    words = f"Drawn {how}; hard-tiers {share}; several keys: {blueprint.multiple}"
    yield hanging(Content(""), Content(words), width).stylize("$muted")


def _subjects(reading: EvidenceLog, paper: DrawnPaper, width: int) -> Iterable[Content]:
    """Questions per subject as bars of one scale, with a scheme where it has its own."""
    sections = paper.blueprint.sections
    most = max((part.questions for part in sections), default=0) or 1
    figures = 7 + max((len(part.scheme) for part in sections), default=0)
    titles = [Content(reading.title(part.subject)) for part in sections]
    longest = max((title.cell_length for title in titles), default=0)
    name = max(8, min(longest, width - figures - _LEAST_BAR))
    length = max(_LEAST_BAR, min(_BAR, width - figures - name))
    yield Content("")
    yield Content.styled("Questions per subject", "bold")
    for title, part in zip(titles, sections, strict=True):
        title = title.truncate(name, ellipsis=True, pad=True)
        drawn = bar(part.questions / most, length)
        yield Content.assemble(title, f" {part.questions:>4} ", drawn, f" {part.scheme}")
