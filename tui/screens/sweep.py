"""What to take in the minutes there are: the picks, what is left out, and the way into them."""

from functools import partial

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from banks.views.drill import show_question
from banks.views.evidence_log import evidence_log
from banks.views.figures import USUAL_MINUTES, sweep_of_now
from banks.views.sweeping import SweepPick, SweepView
from banks.views.triage import explanation
from domain.questions import normal_text
from domain.responses import Purpose
from domain.tiers import Tier
from tui.actions import Action
from tui.base_screen import READING, AppScreen
from tui.dialogs import TextDialog
from tui.screens.launch import begin, print_sheet
from tui.sweep_words import gain_words, left_out_parts, left_out_words, pick_words
from tui.widgets.question_text import options_text, place_text, question_text
from tui.widgets.text_block import ScrollText, Setter, stacked
from tui.widgets.tiers import WIDTH, tier_mark
from tui.widgets.triage_lines import trail_text
from tui.widgets.virtual_list import VirtualList

STEP = 10.0
_WIDE = 110
_NUMBER = 6
"""Cells of a question's number."""
_STEPS = 6
"""Days of the trail shown, the newest."""


class SweepScreen(AppScreen):
    """Minutes in, questions out: those that are worth most."""

    NAME = "sweep"
    HEADING = "Sweep"
    ABOUT = (
        "Picks the questions worth the most in the time you have, in book order: first what is not "
        "settled, by what answering it today changes about the exam, then the longest unseen. "
        "Questions tried in the last 4 days are left out unless you choose a subject or tiers. "
        "The selected question stands beside the list, or under it where there is no room."
    )
    ACTIONS = (
        Action("drill", "enter", "Start", "Answer the picks; mark bare ones with the book open."),
        Action(
            "other_way",
            "o",
            "Screen/paper",
            "Take them with the book open instead of on screen, or the reverse.",
            footer=False,
        ),
        Action("more(1)", "plus,equals_sign", "Longer", "Ten minutes more."),
        Action("more(-1)", "minus", "Shorter", "Ten minutes less.", footer=False),
        Action("minutes", "m", "Minutes", "Set the minutes you have."),
        Action("subject(1)", "s", "Subject", "Only the next subject, or all subjects."),
        Action("tier(1)", "1", "hard", "With or without the tier hard.", footer=False),
        Action("tier(2)", "2", "harder", "With or without the tier harder.", footer=False),
        Action("tier(3)", "3", "hardest", "With or without the tier hardest.", footer=False),
        Action("tier(0)", "4", "clear", "With or without the tier clear.", footer=False),
        Action("subject(-1)", "S", "Subject before", "Only the previous subject.", footer=False),
        Action("print", "P", "Print", "Print the picks as a sheet, to enter later."),
    )
    CSS = """
    SweepScreen #chosen { padding: 0 2; text-style: bold; }
    SweepScreen #left-out { padding: 0 2; color: $muted; }
    SweepScreen #columns { height: 1; padding: 0 2; color: $muted; margin-top: 1; }
    SweepScreen #why { height: 4; padding: 0 2; border-top: solid $panel; }
    SweepScreen #aside { width: 46; padding: 0 1 0 2; border-left: solid $panel; }
    SweepScreen.-narrow #aside { display: none; }
    SweepScreen.-wide #why, SweepScreen.-wide #left-out { display: none; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._minutes = USUAL_MINUTES
        self._tiers = set[Tier]()
        self._subject = 0
        self.view: SweepView | None = None

    def body(self) -> ComposeResult:
        """What is chosen from, the picks, the question and why it is in, what is left out."""
        yield Static(READING, id="chosen", markup=False)
        yield Static(id="left-out", markup=False)
        with Horizontal():
            with Vertical():
                yield Static(_columns(), id="columns", markup=False)
                yield VirtualList(
                    empty="Nothing to choose from. 1 to 4: other tiers; s: a subject.",
                    id="picks",
                )
            yield ScrollText(id="aside", can_focus=False)
        yield Static(id="why", markup=False)

    def on_resize(self, event: Resize) -> None:
        """The question stands beside the list where there is room for it."""
        self.set_class(event.size.width < _WIDE, "-narrow")
        self.set_class(event.size.width >= _WIDE, "-wide")

    def ready(self) -> None:
        """Choose in a thread: the first time the log has to be read."""
        self.query_one(VirtualList).focus()
        self._choose()

    def _choose(self) -> None:
        self.in_background(self._read, loads=self.view is None)

    def _read(self) -> None:
        minutes, tiers = self._minutes, tuple(sorted(self._tiers))
        subject, title = "", "all subjects"
        if self._subject:
            read = evidence_log(self.library)
            subjects = ["", *read.subjects]
            subject = subjects[self._subject % len(subjects)]
            title = read.title(subject) if subject else title
        self.hand_over(self._show, sweep_of_now(self.library, minutes, subject, tiers), title)

    def _show(self, view: SweepView, subject: str) -> None:
        self.view = view
        self.set_title("Sweep", f"{view.minutes:g} minutes · {subject}")
        tiers = ", ".join(tier.word for tier in Tier if tier in self._tiers) or "all tiers"
        chosen = f"{len(view.picks)} of {view.pool:,} questions ({tiers})"
        gain = gain_words(view) or f"{view.seconds / 60:.0f} minutes"
        self.query_one("#chosen", Static).update(Content(f"{chosen}, {gain}"))
        self.query_one("#left-out", Static).update(Content(left_out_words(view)))
        self.query_one(VirtualList).show(view.picks, _line)
        self._explain()

    def on_virtual_list_moved(self, event: VirtualList.Moved) -> None:
        """Another pick is selected."""
        event.stop()
        self._explain()

    def on_virtual_list_picked(self, event: VirtualList.Picked) -> None:
        """Enter, or a click on the selected line."""
        event.stop()
        self.action_drill()

    def _explain(self) -> None:
        pick, view = self.query_one(VirtualList).item, self.view
        stem = normal_text(pick.question.stem) if pick else ""
        why = Content(f"{pick_words(pick)}\n{stem}" if pick else "")
        self.query_one("#why", Static).update(why)
        blocks: list[Setter] = []
        if pick:
            blocks = [partial(self._question, pick), partial(self._trail, pick)]
        if view and view.left_out:
            blocks.append(lambda _: _left_out(view))
        self.query_one("#aside", ScrollText).show(blocks)

    def _question(self, pick: SweepPick, width: int) -> Content:
        """Its text and options; never the answer key, as it is about to be asked."""
        shown = show_question(self.library, pick.question, None)
        options = options_text(shown, None, frozenset(), width) if pick.question.options else None
        head = [place_text(shown, width), Content("")]
        return stacked([*head, question_text(shown, width), options])

    def _trail(self, pick: SweepPick, width: int) -> Content:
        explained = explanation(self.library, pick.question.id)
        head = Content.styled(pick_words(pick), "bold")
        return stacked([head, trail_text(explained, _STEPS, width)])

    # changing what is chosen from

    def action_more(self, step: int) -> None:
        """Ten minutes more or less."""
        self._set_minutes(self._minutes + step * STEP)

    def action_minutes(self) -> None:
        """Ask for the minutes."""

        def said(text: str | None) -> None:
            try:
                self._set_minutes(float((text or "").replace(",", ".")))
            except ValueError:
                if text:
                    self.tell(f"“{text}” is not a number of minutes.")

        self.app.push_screen(
            TextDialog("How many minutes do you have?", f"{self._minutes:g}"), said
        )

    def _set_minutes(self, minutes: float) -> None:
        if not 0 < minutes <= 1440:
            self.tell("Type more than 0 and at most 1440 minutes.")
            return
        self._minutes = minutes
        self._choose()

    def action_subject(self, step: int) -> None:
        """The next subject, the one before, or all."""
        self._subject += step
        self._choose()

    def action_tier(self, tier: int) -> None:
        """With or without a tier."""
        self._tiers ^= {Tier(tier)}
        self._choose()

    # going on with the picks

    def action_drill(self) -> None:
        """Take the picks, in the grid where most are only in the book."""
        self._begin(other_way=False)

    def action_other_way(self) -> None:
        """Take them in the grid instead of one by one, or the reverse."""
        self._begin(other_way=True)

    def _begin(self, *, other_way: bool) -> None:
        if picks := self._picked():
            begin(self.app, self._title(), Purpose.SWEEP, picks, other_way=other_way)

    def _picked(self) -> list[str]:
        return [pick.question.id for pick in self.view.picks] if self.view else []

    def _title(self) -> str:
        return f"Sweep, {self._minutes:g} min"

    def action_print(self) -> None:
        """Print the picks."""
        from banks.exporters.sheets.question_sheet import Order
        from banks.sittings.printed_sheets import print_list

        if picks := self._picked():
            print_sheet(
                self,
                f"sweep-{self.library.today()}.pdf",
                lambda path: print_list(
                    self.library, path, self._title(), Purpose.SWEEP, picks, order=Order.HARDEST
                ),
            )


def _columns() -> Content:
    return Content(f"{'':{WIDTH}}{'no.':>{_NUMBER}}  subject and chapter")


def _line(pick: SweepPick, width: int) -> Content:
    """One pick: tier, number in the book, subject and chapter."""
    place = Content(f"{pick.subject} · {pick.chapter}")
    return Content.assemble(
        tier_mark(pick.tier, pad=True),
        (f"{pick.question.number:>{_NUMBER}}  ", "bold"),
        place.truncate(max(10, width - WIDTH - _NUMBER - 2), ellipsis=True),
    )


def _left_out(view: SweepView) -> Content:
    lines = [Content.styled("Left out", "bold"), *map(Content, left_out_parts(view.left_out))]
    return Content("\n").join(lines)
