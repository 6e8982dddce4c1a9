"""The form of a free drill: conditions, number, order, time; counted while they change."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from random import Random, getrandbits

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key, Resize
from textual.widgets import Static

from banks.views.drill import drill_candidates, last_choice
from banks.views.headings import BankHeading, headings
from domain.drill_choice import DrillCandidate, DrillChoice, TierChoice, drawn, matching
from domain.errors import ResieveError
from domain.responses import Purpose, Reason
from domain.text import counted
from tui.actions import Action
from tui.base_screen import READING, AppScreen
from tui.dialogs import PickDialog
from tui.question_list import AT_ONCE
from tui.screens.launch import begin
from tui.widgets.bank_lines import heading_line
from tui.widgets.text_block import ScrollText, stacked
from tui.widgets.virtual_list import VirtualList

_REASONS: tuple[Reason | None, ...] = (None, *Reason)
_LABEL = 26
_UNSET = ("All questions", "any", "all", "no limit", "no")
_MOST_DIGITS, _STEP = 4, 5
_WIDE = 110
"""From so many cells on the form says beside it where the questions are."""


@dataclass(frozen=True)
class FormLine:
    """A line of the form. `field` is that of `DrillChoice`; `values` are stepped through, without
    any the number is typed.
    """

    field: str
    label: str
    values: tuple[object, ...] = ()


LINES = (
    FormLine("chapter", "Subject or chapter"),
    FormLine("tier", "Tier", tuple(TierChoice)),
    FormLine("waiting", "Waiting", (False, True)),
    FormLine("unsure", "Unsure last time", (False, True)),
    FormLine("reason", "Reason you said", _REASONS),
    FormLine("noted", "With a note", (False, True)),
    FormLine("flagged", "Flagged", (False, True)),
    FormLine("with_text", "With its text here", (False, True)),
    FormLine("questions", "How many at most"),
    FormLine("in_random_order", "Order", (True, False)),
    FormLine("minutes", "Minutes"),
)
_PLACES = {line.field: place for place, line in enumerate(LINES)}
NUMBERS = ("questions", "minutes")


class DrillFormScreen(AppScreen):
    """One small form, as it was left last time: Enter begins. `heading` is chosen in it."""

    NAME = "drill-form"
    HEADING = "Drill"
    ABOUT = (
        "Choose what to drill; a question has to meet every condition. The line below counts "
        "while you choose; a wide terminal shows where the questions are. The form opens as you "
        "left it: Enter drills the same again. From Bank it opens on the heading selected there. "
        "A free drill counts in the tiers, and in today's lines where they hold its questions."
    )
    ACTIONS = (
        Action("begin", "enter", "Begin", "Drill these questions.", palette=False),
        Action("change(1)", "right,space", "Change", "The selected line's next value."),
        Action("change(-1)", "left", "Back", "The selected line's value before.", footer=False),
        Action("scope", "s", "Subject", "Choose a subject or chapter."),
        Action("step('tier')", "t", "Tier", "Draw from another tier."),
        Action("step('flagged')", "asterisk", "Flag", "Only flagged questions.", footer=False),
        Action(
            "step('in_random_order')", "o", "Order", "Random order or book order.", footer=False
        ),
        Action("clear", "a", "Any", "Drop every condition."),
    )
    TYPED = frozenset("0123456789")
    CSS = """
    DrillFormScreen VirtualList { height: 11; margin: 1 0; }
    DrillFormScreen #count { height: auto; padding: 0 2; }
    DrillFormScreen #aside { width: 52; margin: 1 0; padding: 0 2; border-left: solid $panel; }
    DrillFormScreen.-narrow #aside { display: none; }
    """

    _candidates: Sequence[DrillCandidate] = ()
    _typed_in = ""
    """The field whose number is being typed: the next digit is added to it."""

    def __init__(self, heading: BankHeading | None = None) -> None:
        super().__init__()
        self._heading = heading
        self._is_opened = self._with_reasons = False

    def body(self) -> ComposeResult:
        """The conditions, what they come to, and where that is."""
        with Horizontal():
            with Vertical():
                yield VirtualList()
                yield Static(READING, id="count", markup=False)
            yield ScrollText(id="aside", can_focus=False)

    def on_resize(self, event: Resize) -> None:
        """What matches is counted by subject where there is room."""
        self.set_class(event.size.width < _WIDE, "-narrow")

    def ready(self) -> None:
        """The form as it was left, counted; what is chosen in it stays as the screen comes back."""
        self._places = [heading for heading in headings(self.library) if heading.questions]
        if not self._is_opened:
            self._is_opened = True
            self._choice = _known(last_choice(self.library), self._places)
            if self._heading is not None:
                self._choice = _within(self._choice, self._heading)
        self._with_reasons = self._choice.reason is not None
        self._count()

    def _count(self) -> None:
        if self.library.question_count <= AT_ONCE:
            self._show_counted(self._read())
        else:
            self.in_background(self._read_behind, loads=True)

    def _read(self) -> list[DrillCandidate]:
        return list(drill_candidates(self.library, with_reasons=self._with_reasons))

    def _read_behind(self) -> None:
        self.hand_over(self._show_counted, self._read())

    def _show_counted(self, candidates: Sequence[DrillCandidate]) -> None:
        self._candidates = candidates
        self._use(self._choice)
        self._lines.focus()

    @property
    def _lines(self) -> VirtualList[FormLine]:
        return self.query_one(VirtualList)

    def _use(self, choice: DrillChoice) -> None:
        """Show these conditions and what they come to."""
        self._choice = choice
        if choice.reason is not None and not self._with_reasons:
            self._with_reasons = True
            self._count()
            return
        self._matching = matching(self._candidates, choice)
        self.query_one("#aside", ScrollText).show([partial(self._where, self._matching)])
        self._lines.show(LINES, self._line, selected=self._lines.selected)
        self.query_one("#count", Static).update(Content(self._count_words()))

    def _line(self, line: FormLine, _: int) -> Content:
        words = self._value_words(line)
        style = "" if words in _UNSET else "bold"
        return Content.assemble((f"{line.label:<{_LABEL}}", "$foreground 65%"), (words, style))

    def _where(self, candidates: Sequence[DrillCandidate], width: int) -> Content:
        """What matches by bank and subject; by chapter within a subject that is chosen."""
        counts: Counter[tuple[str, str, str]] = Counter()
        for candidate in candidates:
            bank, subject, chapter = candidate.chapter
            counts.update([(bank, "", ""), (bank, subject, ""), (bank, subject, chapter)])
        deepest = 3 if self._choice.subject else 2
        lines = [
            heading_line(replace(heading, questions=count), width)
            for heading in self._places
            if 0 < heading.depth <= deepest
            and (count := counts[heading.bank, heading.subject, heading.chapter])
        ]
        return stacked([Content.styled("Where they are", "bold"), *lines] if lines else [])

    def _value_words(self, line: FormLine) -> str:
        value = getattr(self._choice, line.field)
        match line.field:
            case "chapter":
                return scope_words(self._choice, self._places)
            case "reason":
                return value or "any"
            case "questions":
                return f"{value:,}" if value else "all"
            case "in_random_order":
                return "random" if value else "as in the book"
            case "minutes":
                return f"{value:,}" if value else "no limit"
        return ("yes" if value else "no") if isinstance(value, bool) else str(value)

    def _count_words(self) -> str:
        matching, most = len(self._matching), self._choice.questions
        words = f"{counted(matching, 'question')} {'matches' if matching == 1 else 'match'}."
        if most and most < matching:
            words += f" {most:,} of them are drilled."
        if matching and self._choice.minutes:
            words += f" After {counted(self._choice.minutes, 'minute')} it ends."
        return words

    # choosing

    def action_change(self, by: int) -> None:
        """Another value on the selected line."""
        line = self._lines.item
        if line is None:
            return
        if line.field == "chapter":
            self.action_scope()
        elif line.field in NUMBERS:
            number = max(0, getattr(self._choice, line.field) + _STEP * by)
            self._use(replace(self._choice, **{line.field: number}))
        else:
            self.action_step(line.field, by)

    def action_step(self, field: str, by: int = 1) -> None:
        """The next value of this line, which is selected with it."""
        values = LINES[_PLACES[field]].values
        place = values.index(getattr(self._choice, field)) + by
        self._lines.selected = _PLACES[field]
        self._use(replace(self._choice, **{field: values[place % len(values)]}))

    def action_scope(self) -> None:
        """Choose a heading that has questions, or all."""
        self._lines.selected = _PLACES["chapter"]

        def chosen(heading: BankHeading | None) -> None:
            if heading is not None:
                self._use(_within(self._choice, heading))

        self.app.push_screen(
            PickDialog("Drill which part?", self._places, heading_line),
            chosen,
        )

    def action_clear(self) -> None:
        """No condition; how many, the order and the time stay."""
        kept = {name: getattr(self._choice, name) for name in (*NUMBERS, "in_random_order")}
        self._use(DrillChoice(**kept))

    def on_key(self, event: Key) -> None:
        """Digits type the number of the selected line, else how many questions."""
        if not self._candidates or not (event.key in self.TYPED or event.key == "backspace"):
            return
        event.stop()
        line = self._lines.item
        field = line.field if line and line.field in NUMBERS else "questions"
        is_begun = self._lines.selected == _PLACES[field] and self._typed_in == field
        typed = str(getattr(self._choice, field) or "") if is_begun else ""
        typed = typed[:-1] if event.key == "backspace" else (typed + event.key)[:_MOST_DIGITS]
        self._lines.selected, self._typed_in = _PLACES[field], field
        self._use(replace(self._choice, **{field: int(typed or 0)}))

    # beginning

    def on_virtual_list_picked(self) -> None:
        """Enter, wherever the selection is."""
        self.action_begin()

    def action_begin(self) -> None:
        """Keep the choice and drill."""
        if not self._matching:
            self.tell(
                f"No question meets all of that. {self.key_of('clear')} drops every condition."
            )
            return
        choice = self._choice
        title = f"Drill · {choice_words(choice, self._places)}"
        try:
            self.library.keep_drill_choice(choice)
        except ResieveError as problem:
            self.tell(problem)
            return
        matching_ids = [candidate.question for candidate in self._matching]
        ids = drawn(matching_ids, choice, Random(getrandbits(32)))
        self.app.pop_screen()
        begin(self.app, title, Purpose.FREE, ids, minutes=choice.minutes)


def _known(choice: DrillChoice, places: Sequence[BankHeading]) -> DrillChoice:
    """The choice, over everything where its heading is gone."""
    scope = (choice.bank, choice.subject, choice.chapter)
    if any((heading.bank, heading.subject, heading.chapter) == scope for heading in places):
        return choice
    return _within(choice, BankHeading(""))


def _within(choice: DrillChoice, heading: BankHeading) -> DrillChoice:
    return replace(choice, bank=heading.bank, subject=heading.subject, chapter=heading.chapter)


def scope_words(choice: DrillChoice, places: Sequence[BankHeading]) -> str:
    """The heading chosen: "Clouds · 3 Genera"."""
    titles = [
        next(
            (
                heading.title
                for heading in places
                if (heading.bank, heading.subject, heading.chapter) == key
            ),
            "",
        )
        for key in (
            (choice.bank, choice.subject, ""),
            (choice.bank, choice.subject, choice.chapter),
        )
    ]
    return " · ".join(dict.fromkeys(title for title in titles if title)) or "all"


def choice_words(choice: DrillChoice, places: Sequence[BankHeading]) -> str:
    """The conditions in words, for the sitting's title."""
    words = [scope_words(choice, places) if choice.bank else "all subjects"]
    if choice.tier is not TierChoice.ANY:
        words.append(choice.tier)
    conditions: dict[str, bool | str | None] = {
        "waiting": choice.waiting,
        "unsure last time": choice.unsure,
        "noted": choice.noted,
        "flagged": choice.flagged,
        "with text": choice.with_text,
    }
    words += [word for word, is_asked in conditions.items() if is_asked]
    if choice.reason:
        words.append(choice.reason)
    return ", ".join(words)
