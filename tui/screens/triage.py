"""The tiers and what is in them."""

from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Resize
from textual.widgets import Input, Static

from banks.views.drill import context, show_question
from banks.views.listing import Listing
from banks.views.triage import Filter, Row, by_urgency, counts, explanation
from domain.errors import ResieveError
from domain.questions import Chapter
from domain.responses import HandTier, Purpose, Reason
from domain.tiers import HARD_TIERS, TIER_BY_WORD, SubjectCounts, Tier
from tui.actions import Action
from tui.base_app import DRILL_FORM
from tui.base_screen import READING
from tui.dialogs import ChoiceDialog, PickDialog, TextDialog
from tui.question_list import AT_ONCE, PRINT, SEARCH, QuestionListScreen
from tui.screens.launch import begin, mark, print_sheet
from tui.screens.question_details import QuestionDetails
from tui.tier_reasons import plain_waiting_words
from tui.widgets.text_block import ScrollText, TextBlock
from tui.widgets.triage_lines import (
    are_printed,
    board_text,
    columns,
    counts_text,
    details_text,
    filter_words,
    listed_words,
    row_line,
    subject_head,
    subject_line,
    trail_text,
)
from tui.widgets.virtual_list import VirtualList

_WIDE, _TALL = 110, 34
_MANY = 200
"""A go over more questions than this is asked about first."""
_REASONS = {"i": Reason.UNKNOWN, "m": Reason.MIXED_UP, "r": Reason.MISREAD, "s": Reason.SLIP}
_SURE_WRONG, _ANY = "K", "0"
"""What is pressed for a reason: the keys that say it while marking."""
_STEPS = 4
"""Steps of the trail under the list."""
_BOARD_LINES = 14
"""Lines of the board of subjects and tiers, its head among them."""
_NO_MATCH = "No questions match. 0 clears all filters."
_NOTHING_YET = "Nothing tried yet: mark or drill a chapter first."
_TIERS = (Tier.HARD, Tier.HARDER, Tier.HARDEST, Tier.CLEAR, Tier.UNTRIED)


class TriageScreen(QuestionListScreen):
    """Counts, a filtered list, why each question stands where it does, and what to do with them."""

    NAME = "triage"
    HEADING = "Triage"
    ABOUT = (
        "Questions by tier, hardest first. Filter by tier, subject, chapter, days missed, text "
        "or waiting; then sweep, drill or mark the list. Below the list you see why the "
        "selected question is in its tier."
    )
    ACTIONS = (
        Action("sweep", "w", "Sweep", "Sweep the listed questions, on screen or on paper."),
        Action("drill", "d", "Drill", "Drill the listed questions."),
        DRILL_FORM,
        Action(
            "other_way",
            "o",
            "Screen/paper",
            "Sweep on paper instead of on screen, or the reverse.",
            footer=False,
        ),
        SEARCH,
        Action("subject", "s", "Subject", "Choose a subject; shows each one's counts."),
        Action("chapter", "c", "Chapter", "Choose a chapter of the subject."),
        Action("tier('hard')", "1", "Hard", "Show or hide tier hard.", footer=False),
        Action("tier('harder')", "2", "Harder", "Show or hide tier harder.", footer=False),
        Action("tier('hardest')", "3", "Hardest", "Show or hide tier hardest.", footer=False),
        Action("tier('clear')", "4", "Clear", "Show or hide tier clear.", footer=False),
        Action("tier('untried')", "5", "Untried", "Show or hide untried questions.", footer=False),
        Action(
            "waiting",
            "6",
            "Waiting",
            "Show only waiting questions: tried, not settled, long unseen.",
            footer=False,
        ),
        Action("all", "0", "All", "Clear all filters.", footer=False),
        Action("missed(1)", "plus", "Missed more", "Require one more day missed.", footer=False),
        Action("missed(-1)", "minus", "Missed less", "Require one day missed less.", footer=False),
        Action("set_tier", "t", "Set tier", "Set a tier by hand, with a reason."),
        Action("reason", "7", "Reason", "List what you said a reason for, such as mixed up."),
        PRINT,
        Action("undo", "u,backspace", "Undo", "Undo the last tier set by hand."),
        Action("details", "enter", "Open", "Show the question with its history.", footer=False),
    )
    ORDER = staticmethod(by_urgency)
    CSS = """
    TriageScreen #counts { height: auto; padding: 1 1 0 1; }
    TriageScreen #filter { height: 2; padding: 0 2; color: $text-muted; }
    TriageScreen #columns { height: 1; padding: 0 1 0 2; color: $text-muted; }
    TriageScreen #trail { height: 6; padding: 1 1 0 2; color: $text-muted; }
    TriageScreen #aside { width: 44; padding: 0 1 0 2; border-left: solid $panel; }
    TriageScreen #board { height: 15; padding: 1 1 0 2; display: none; }
    TriageScreen.-narrow #aside { display: none; }
    TriageScreen.-wide #trail { display: none; }
    TriageScreen.-wide.-tall #board { display: block; }
    """

    def __init__(self, chosen: Filter | None = None) -> None:
        super().__init__()
        self.wanted = chosen or Filter(tiers=frozenset(HARD_TIERS))
        self._board: tuple[Listing, tuple[str, str]] | None = None

    def body(self) -> ComposeResult:
        """Counts, what is listed, the list with the question beside it, its trail."""
        yield TextBlock(id="counts")
        yield Static(READING, id="filter", markup=False)
        yield self.search_line()
        with Horizontal():
            with Vertical():
                yield TextBlock(id="columns")
                yield VirtualList(id="list")
                yield TextBlock(id="board")
            yield ScrollText(id="aside", can_focus=False)
        yield ScrollText(id="trail", can_focus=False)

    def on_resize(self, event: Resize) -> None:
        """The question stands beside the list where there is room, the board of tiers under it."""
        self.set_class(event.size.width < _WIDE, "-narrow")
        self.set_class(event.size.width >= _WIDE, "-wide")
        self.set_class(event.size.height >= _TALL, "-tall")

    def on_mount(self) -> None:
        """Tell about the selected question from now on."""
        self.rows.follow = self._tell_about

    # showing

    def show_list(self) -> None:
        """Everything that passes, hardest first; the selected question stays selected."""
        rows = self.rows
        self.wanted = replace(self.wanted, text=self.sought)
        kept = rows.item.id if rows.item else ""
        placed = self.listing.find(replace(self.wanted, tiers=frozenset(), waiting=False))
        matches = self.listing.find(self.wanted)
        self._in_print = are_printed(matches)
        heads = partial(columns, in_print=self._in_print)
        self.query_one("#columns", TextBlock).show(heads)
        if not matches:
            is_tried = any(row.standing.tier is not Tier.UNTRIED for row in self.listing.rows)
            rows.empty = _NO_MATCH if is_tried else _NOTHING_YET
        rows.show(matches, self._line, selected=_place_of(kept, matches))
        self._show_head(placed, matches)
        if not self.focused:
            rows.focus()

    def _show_head(self, placed: Sequence[Row], rows: Sequence[Row]) -> None:
        state = counts(placed)
        counted = partial(counts_text, state, self.wanted)
        self.query_one("#counts", TextBlock).show(counted)
        words = f"{listed_words(self.wanted)}: {filter_words(self.library, self.wanted)}"
        words += f"  ·  {plain_waiting_words(state)}"
        self.query_one("#filter", Static).update(Content(words[:1].upper() + words[1:]))
        self.set_title("Triage", f"{len(rows):,} of {len(self.listing.rows):,} questions")

    def _line(self, row: Row, width: int) -> Content:
        with_subject = not self.wanted.subject
        match = self.listing.match(row, self.wanted.text)
        return row_line(row, width, with_subject=with_subject, in_print=self._in_print, match=match)

    def _tell_about(self, row: Row | None) -> None:
        """Why the selected question stands where it does."""
        if row is None:
            for name in ("#trail", "#aside"):
                self.query_one(name, ScrollText).show([])
            return
        explained = explanation(self.library, row.id)
        self.query_one("#trail", ScrollText).show([partial(trail_text, explained, _STEPS)])
        self.query_one("#aside", ScrollText).show([lambda width: self._beside(row, width)])
        own = row.location.bank.id, row.location.subject.id
        if self._board != (self.listing, own):
            subjects = [each for each in self.listing.subjects if each.bank_id == own[0]]
            board = partial(board_text, subjects, own, row.location.bank.title, height=_BOARD_LINES)
            self.query_one("#board", TextBlock).show(board)
            self._board = self.listing, own

    def _beside(self, row: Row, width: int) -> Content:
        shown = show_question(self.library, row.question, None)
        return details_text(shown, context(self.library, shown), width)

    # narrowing

    def _narrow(self, **fields: object) -> None:
        self.wanted = replace(self.wanted, **fields)
        if self.is_listed:
            self.show_list()

    def action_tier(self, word: str) -> None:
        """List a tier, or no more."""
        self._narrow(tiers=self.wanted.tiers ^ {TIER_BY_WORD[word]})

    def action_waiting(self) -> None:
        """List all that waits; again: the hard-tiers."""
        is_on = not self.wanted.waiting
        self._narrow(waiting=is_on, tiers=frozenset() if is_on else frozenset(HARD_TIERS))

    def action_reason(self) -> None:
        """Choose a reason to list by; what was sure and wrong is one too."""
        choices = [(key, str(reason)) for key, reason in _REASONS.items()]

        def chosen(key: str | None) -> None:
            if key is None:
                return
            narrow = partial(
                self._narrow,
                reason=_REASONS.get(key),
                sure_wrong=key == _SURE_WRONG,
                tiers=frozenset(HARD_TIERS if key == _ANY else ()),
            )
            if key == _ANY or self.library.question_count <= AT_ONCE:
                narrow()
            else:
                self.in_background(lambda: self._read_records(narrow), loads=True)

        self.app.push_screen(
            ChoiceDialog(
                "List by which reason?",
                [*choices, (_SURE_WRONG, "sure and wrong"), (_ANY, "any or none")],
            ),
            chosen,
        )

    def _read_records(self, then: Callable[[], None]) -> None:
        """What was said of responses is in their records alone."""
        self.library.read_records()
        self.hand_over(then)

    def action_all(self) -> None:
        """No filter at all."""
        self.query_one("#search", Input).value = ""
        self.wanted = Filter()
        self._narrow()

    def action_missed(self, step: int) -> None:
        """One day more, or less."""
        self._narrow(missed=max(0, self.wanted.missed + step))

    def action_subject(self) -> None:
        """Choose among the subjects, each with its counts."""
        if not self.is_listed:
            return
        subjects = self._subjects()
        every = SubjectCounts("", "", "All subjects", counts(self.listing.rows))

        def chosen(subject: SubjectCounts | None) -> None:
            if subject:
                self._narrow(bank=subject.bank_id, subject=subject.subject_id, chapter="")

        self.app.push_screen(
            PickDialog(
                "Which subject?",
                [every, *subjects],
                subject_line,
                head=subject_head,
            ),
            chosen,
        )

    def _subjects(self) -> list[SubjectCounts]:
        """Every subject with its counts; of two with one title each names its bank."""
        subjects = self.listing.subjects
        times = Counter(subject.title for subject in subjects)
        return [
            replace(subject, title=f"{subject.title} · {self.library.bank(subject.bank_id).title}")
            if times[subject.title] > 1
            else subject
            for subject in subjects
        ]

    def action_chapter(self) -> None:
        """Choose among the subject's chapters."""
        if not self.wanted.subject:
            self.tell(f"Choose a subject first, with {self.key_of('subject')}.")
            return
        bank = self.library.bank(self.wanted.bank)
        subject = next(subject for subject in bank.subjects if subject.id == self.wanted.subject)
        every = Chapter("", "All chapters")

        def chosen(chapter: Chapter | None) -> None:
            if chapter:
                self._narrow(chapter=chapter.id)

        def line(chapter: Chapter, _: int) -> Content:
            return Content(chapter.title)

        chapters = [every, *subject.chapters]
        self.app.push_screen(PickDialog(subject.title, chapters, line), chosen)

    # doing

    def action_details(self) -> None:
        """The selected question in full."""
        if row := self.rows.item:
            self.app.push_screen(QuestionDetails(self.library, row.question))

    def on_virtual_list_picked(self, _: VirtualList.Picked) -> None:
        """Enter on a line."""
        self.action_details()

    def action_sweep(self) -> None:
        """Sweep what is listed."""
        self._go("Sweep", Purpose.SWEEP)

    def action_other_way(self) -> None:
        """Sweep what is listed, with the book open where it would be on screen, and vice versa."""
        self._go("Sweep", Purpose.SWEEP, other_way=True)

    def action_drill(self) -> None:
        """Drill what is listed."""
        self._go("Drill", Purpose.FREE)

    def _go(self, verb: str, purpose: Purpose, *, other_way: bool = False) -> None:
        ids = [row.id for row in self.rows.items]
        self._ask_how_many(
            verb,
            ids,
            lambda ids: begin(self.app, self._title(), purpose, ids, other_way=other_way),
        )

    def _title(self) -> str:
        title = f"{listed_words(self.wanted)}, {filter_words(self.library, self.wanted)}"
        return title[:1].upper() + title[1:]

    def _ask_how_many(self, verb: str, ids: list[str], then: Callable[[list[str]], None]) -> None:
        if len(ids) <= _MANY:
            if ids:
                then(ids)
            return

        def answered(text: str | None) -> None:
            if text is None:
                return
            if text.strip().isdecimal() and int(text) > 0:
                then(ids[: int(text)])
            else:
                self.tell("That is not a number of questions; type one such as 40.")

        question = f"{verb} how many of {len(ids):,}? The hardest come first."
        self.app.push_screen(TextDialog(question, "100"), answered)

    def mark_selected(self) -> bool:
        """Mark what is listed, for the day's line that holds it."""
        ids = [row.id for row in self.rows.items]
        self._ask_how_many("Mark", ids, lambda ids: mark(self.app, self._title(), None, ids))
        return bool(ids)

    def action_print(self) -> None:
        """Print what is listed."""
        ids = [row.id for row in self.rows.items]
        self._ask_how_many("Print", ids, self._print)

    def _print(self, ids: list[str]) -> None:
        from banks.sittings.printed_sheets import print_list

        print_sheet(
            self,
            f"triage-{self.library.today()}.pdf",
            lambda path: print_list(self.library, path, self._title(), Purpose.SWEEP, ids),
        )

    def action_set_tier(self) -> None:
        """Ask for the tier, then for the reason."""
        row = self.rows.item
        if row is None:
            return
        choices = [(str(key), tier.word) for key, tier in enumerate(_TIERS, 1)]

        def chosen(key: str | None) -> None:
            if key is not None:
                self._ask_reason(row.id, _TIERS[int(key) - 1])

        self.app.push_screen(ChoiceDialog("Which tier?", choices), chosen)

    def _ask_reason(self, question_id: str, tier: Tier) -> None:
        def answered(reason: str | None) -> None:
            if reason is not None:
                self._try(lambda: self.library.set_tier(question_id, tier, reason))

        self.app.push_screen(TextDialog(f"Why {tier.word}? The reason is saved with it."), answered)

    def action_undo(self) -> None:
        """Undo the tier set last."""
        newest = self.library.newest
        if newest is None or not any(isinstance(record, HandTier) for record in newest.records):
            self.tell("Nothing to undo here.")
            return
        if self._try(self.library.undo):
            self.notify(f"Undone: {newest.label}.", timeout=2)

    def _try(self, intent: Callable[[], object]) -> bool:
        """Do it and show what it changed; whether it was done."""
        try:
            intent()
        except ResieveError as problem:
            self.tell(problem)
            return False
        self.ready()
        return True


def _place_of(question_id: str, rows: Sequence[Row]) -> int:
    return next((at for at, row in enumerate(rows) if row.id == question_id), 0)
