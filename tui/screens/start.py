"""The first two minutes: the bank, the exam day and the time there is; the plan shows at once."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from math import isfinite, nan

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.events import DescendantFocus, Resize
from textual.widgets import Input, Label, Static, TextArea

from banks.planning.first_study import StudiedAlready, studied_text, waiting_subjects
from banks.planning.set_up import PRACTICE, USUAL_ATTENDANCE, BankText, SetUp, TriedPlan
from banks.planning.workload import exam_is_over, inputs_to_change
from banks.views.exam import told_exam
from domain.errors import InputError, ResieveError
from domain.marking.blueprint import ExamBlueprint, parse_exam
from domain.plan.changes import with_spare_days_reserved
from domain.plan.inputs import DAYS_A_WEEK, PlanInputs
from domain.plan.parsing import (
    format_minutes,
    format_off,
    format_passes,
    format_roles,
    format_times,
    parse_day,
    parse_minutes,
    parse_off,
    parse_passes,
    parse_roles,
    parse_times,
)
from domain.plan.study_plan import StudyPlan
from domain.text import counted
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dates import long_day
from tui.plan_words import fits_words


@dataclass(frozen=True)
class PlanFormLine:
    """One input. `change` gives the inputs with the typed text, or raises InputError."""

    name: str
    label: str
    hint: str
    show: Callable[[PlanInputs], str]
    change: Callable[[PlanInputs, str], PlanInputs]


LAST_WEEK = ("full", "light")

USUAL_TIMES = format_times(PlanInputs().starts)
LINES = (
    PlanFormLine(
        "exam",
        "Exam day",
        "such as 2027-05-15 or 15 May 2027",
        lambda inputs: inputs.exam.isoformat() if inputs.exam else "",
        lambda inputs, text: replace(inputs, exam=day_in("Exam day", text)),
    ),
    PlanFormLine(
        "minutes",
        "Minutes per day",
        "mon-fri 30+60, sat 300, sun 0",
        lambda inputs: format_minutes(inputs.minutes),
        lambda inputs, text: replace(inputs, minutes=parse_minutes(text, inputs.minutes)),
    ),
    PlanFormLine(
        "roles",
        "What days are for",
        "mon-fri revision, sat sweep, sun rest",
        lambda inputs: format_roles(inputs.roles),
        lambda inputs, text: replace(inputs, roles=parse_roles(text, inputs.roles)),
    ),
    PlanFormLine(
        "off",
        "Days off",
        "empty: none; or 2027-03-01..2027-03-07",
        lambda inputs: format_off(inputs.off),
        lambda inputs, text: replace(inputs, off=parse_off(text)),
    ),
    PlanFormLine(
        "start",
        "First day",
        "empty: today",
        lambda inputs: inputs.start.isoformat() if inputs.start else "",
        lambda inputs, text: replace(inputs, start=day_in("First day", text) if text else None),
    ),
    PlanFormLine(
        "rounds",
        "Rounds",
        "how often the whole bank is revised",
        lambda inputs: str(inputs.rounds),
        lambda inputs, text: replace(inputs, rounds=_whole_number("rounds", text)),
    ),
    PlanFormLine(
        "seconds",
        "Seconds/question",
        "until your own pace is known",
        lambda inputs: f"{inputs.seconds:g}",
        lambda inputs, text: replace(inputs, seconds=_number("seconds per question", text)),
    ),
    PlanFormLine(
        "passes",
        "Passes",
        "on, off, or spare weeks to keep free",
        format_passes,
        parse_passes,
    ),
    PlanFormLine(
        "final",
        "Final revision",
        "days before the exam at which a short plan asks; 0: never",
        lambda inputs: str(inputs.final_revision),
        lambda inputs, text: replace(inputs, final_revision=_whole_number("final revision", text)),
    ),
    PlanFormLine(
        "last",
        "Last week",
        "light: half days of passes and a free eve; or full",
        lambda inputs: LAST_WEEK[inputs.last_week],
        lambda inputs, text: replace(inputs, last_week=_one_of("last week", text, LAST_WEEK)),
    ),
    PlanFormLine(
        "times",
        "Parts begin at",
        "06:30, 19:00; for the calendar file; empty: the usual times",
        lambda inputs: format_times(inputs.starts),
        lambda inputs, text: replace(inputs, starts=parse_times(text or USUAL_TIMES)),
    ),
)
"""Everything that a plan needs to know of the candidate, in the order it is asked."""


def read_lines(before: PlanInputs, typed: dict[str, str]) -> PlanInputs:
    """The inputs with all the typed lines. Raises InputError naming the first that doesn't fit."""
    inputs = before
    for line in LINES:
        inputs = line.change(inputs, typed[line.name].strip())
    return inputs


def day_in(field: str, text: str) -> date:
    """The day typed into a field. Raises InputError, which names the field."""
    try:
        return parse_day(text)
    except InputError as problem:
        raise InputError(f"{field}: {problem}") from None


def _one_of(field: str, text: str, words: tuple[str, str]) -> bool:
    """Whether the second of the two words was typed. Raises InputError for any other."""
    if text.casefold() not in words:
        raise InputError(f"{field}: expected {' or '.join(words)}, not {text!r}")
    return text.casefold() == words[1]


def _whole_number(field: str, text: str) -> int:
    if not text.isdecimal() or len(text) > 6:
        raise InputError(f"{field}: expected a whole number, not {text!r}")
    return int(text)


def _number(field: str, text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = nan
    if not isfinite(number):
        raise InputError(f"{field}: expected a number, not {text!r}")
    return number


_ABOUT_BANK = (
    "One line per subject with the questions of its chapters:\n"
    "Clouds 60 45 62   or   Clouds: Genera 60, Species 45\n"
    f"Or paste an outline, or type a file's name, or {PRACTICE} for a bank to try things on."
)
_OWN = {
    "paper": ("The exam", "200 questions, 180 minutes, +4/−1, 10:00, target 300; or empty"),
    "studied": ("Studied already", "all, none, or subjects: Clouds, Wind; empty: not said"),
    "others": ("Revise others from", "the day from which the rest can be revised"),
}
"""Lines of the form that are no input of the plan: name, label and hint."""
_HINTS = {line.name: line.hint for line in LINES} | {name: own[1] for name, own in _OWN.items()}
_MOST_FINDINGS = 3
_TALL = 32
"""Lines from which on all of the form fits."""


class StartScreen(AppScreen):
    """A form: the bank if there is none yet, then the exam, then the time there is."""

    NAME = "start"
    HEADING = "Exam and time"
    ABOUT = (
        "What the plan needs to know. Enter and Tab go to the next line. The plan that follows "
        "stands below as you type; ctrl+r keeps it. All of it can be changed at any time, here."
    )
    ACTIONS = (
        Action("save", "ctrl+r", "Keep this plan", "Keep the plan that stands below."),
        Action(
            "reserve",
            "ctrl+l",
            "Reserve days",
            "Name some of the spare days as reserve days, to take when you need one; or none.",
            footer=False,
        ),
    )
    BACK = Action("back", "escape", "Back", "Leave without a change.")
    CSS = """
    StartScreen #form { padding: 0 2; height: 1fr; }
    StartScreen.-tall #form { padding: 1 2; height: auto; }
    StartScreen .line { height: 1; }
    StartScreen .line Label { width: 20; color: $text-muted; }
    StartScreen .line Input { width: 1fr; }
    StartScreen #bank-line { height: auto; }
    StartScreen #bank-line Label { width: 20; }
    StartScreen #bank { width: 1fr; height: 3; padding: 0; }
    StartScreen #bank:focus { height: 7; }
    StartScreen .needed Label { color: $foreground; text-style: bold; }
    StartScreen #usual { color: $text-muted; }
    StartScreen #hint { height: 1; padding: 0 2; color: $text-muted; }
    StartScreen #said { height: auto; max-height: 6; padding: 0 2; }
    """

    _is_filled = False

    def body(self) -> ComposeResult:
        """What is needed, what is asked, what has usual values; then what comes of it."""
        needed, *usual = LINES
        with VerticalScroll(id="form", can_focus=False):
            with Horizontal(id="bank-line", classes="needed"):
                yield Label("Your bank")
                yield TextArea(id="bank", tab_behavior="focus", compact=True)
            yield from _line(needed.name, needed.label, classes="line needed")
            for name, (label, _) in _OWN.items():
                yield from _line(name, label)
            yield Label("The rest has usual values:", id="usual")
            for line in usual:
                yield from _line(line.name, line.label)
        yield Static("", id="hint", markup=False)
        yield Static("", id="said")

    def on_resize(self, event: Resize) -> None:
        """Where the whole form is in sight, what comes of it stands right below."""
        self.set_class(event.size.height >= _TALL, "-tall")

    def ready(self) -> None:
        """Fill the form with what is set."""
        self._set_up = SetUp(self.library)
        self._inputs = inputs_to_change(self.library)
        bank = self._set_up.planned_bank()
        self._has_bank = bank is not None
        exam = told_exam(self.library)
        waiting = waiting_subjects(self.library).values()
        shown = {line.name: line.show(self._inputs) for line in LINES} | {
            "paper": exam.text if exam else "",
            "studied": studied_text(self.library, bank) if bank else "",
            "others": min(waiting).isoformat() if waiting else "",
        }
        for name, text in shown.items():
            field = self.query_one(f"#{name}", Input)
            field.placeholder = _HINTS[name]
            with self.prevent(Input.Changed):
                field.value = text
        self._before = shown
        self._is_filled = True
        self.query_one("#bank-line").display = bank is None
        self.query_one("#exam" if bank else "#bank").focus()
        if bank and exam_is_over(self.library):
            self.set_title(f"Another exam · {bank.title}", "the rounds begin anew")
        elif bank:
            self.set_title(f"{self.HEADING} · {bank.title}", "all of it can be changed later")
        else:
            self.set_title("Welcome", "two minutes; all of it can be changed later")
        self._tell()

    # typing

    def on_input_changed(self) -> None:
        """Show the plan as it would be."""
        self._tell()

    def on_text_area_changed(self) -> None:
        """Count what is typed."""
        self._tell()

    def on_descendant_focus(self, event: DescendantFocus) -> None:
        """Say what the line takes."""
        name = event.widget.id or ""
        self.query_one("#hint", Static).update(_HINTS.get(name, ""))
        if self._is_filled:
            self._tell()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter leads to the next line, from the last one to the plan."""
        if event.input.id == LINES[-1].name:
            self.action_save()
        else:
            self.focus_next()

    @property
    def _bank_text(self) -> str:
        return "" if self._has_bank else self.query_one("#bank", TextArea).text

    def _typed(self, name: str) -> str:
        return self.query_one(f"#{name}", Input).value.strip()

    # the plan

    def _tell(self) -> None:
        """What comes of what is typed: the bank's size, then the plan, or what is missing."""
        if not self._has_bank and (self.query_one("#bank").has_focus or not self._typed("exam")):
            self._say(self._about_bank())
            return
        try:
            inputs, studied, _ = self._read()
            tried = self._set_up.try_out(inputs, studied, self._bank_text)
            self._say(_summary(tried, self.key_of("reserve")))
        except ResieveError as problem:
            self._say(Content(str(problem)))

    def _about_bank(self) -> Content:
        text = self._bank_text
        if not text.strip():
            return Content(_ABOUT_BANK)
        area = self.query_one("#bank", TextArea)
        being_typed = area.cursor_location[0] + 1 if area.has_focus else 0
        try:
            return _bank_words(self._set_up.read(text), being_typed)
        except ResieveError as problem:
            return Content(str(problem) if being_typed != 1 else _ABOUT_BANK)

    def _studied(self) -> StudiedAlready | None:
        """What is said of first study; None where the lines are as they were."""
        typed = {name: self._typed(name) for name in ("studied", "others")}
        if all(typed[name] == self._before[name] for name in typed):
            return None
        others_from = day_in(_OWN["others"][0], typed["others"]) if typed["others"] else None
        return self._set_up.studied(typed["studied"], others_from, self._bank_text)

    def _read(self) -> tuple[PlanInputs, StudiedAlready | None, ExamBlueprint | None]:
        """All that is typed, read from the top. Raises InputError for the first that can't be."""
        typed = {line.name: self._typed(line.name) for line in LINES}
        if not self._has_bank and not self._bank_text.strip():
            raise InputError("First the bank: one line per subject, in the field at the top.")
        if not typed["exam"]:
            raise InputError("Now the exam day.")
        exam = parse_exam(self._typed("paper"), told_exam(self.library))
        return read_lines(self._inputs, typed), self._studied(), exam

    def action_reserve(self) -> None:
        """Name reserve days among the spare days of the plan that stands below, or drop them."""
        with suppress(ResieveError):  # what is wrong with the lines stands there already
            inputs, studied, _ = self._read()
            plan = self._set_up.try_out(inputs, studied, self._bank_text).plan
            if _offers_reserve(plan):
                named = with_spare_days_reserved(inputs, plan)
                reserve = () if _reserve_days(plan) else named.reserve
                self._inputs = replace(self._inputs, reserve=reserve)
                self._tell()

    def action_save(self) -> None:
        """Keep the plan and go to it."""
        try:
            self._set_up.keep(*self._read(), self._bank_text)
        except ResieveError as problem:
            self._say(Content.styled(f"! {problem}", "bold"))
            return
        self.app.go_back()

    def _say(self, words: Content) -> None:
        self.query_one("#said", Static).update(words)


def _line(name: str, label: str, classes: str = "line") -> ComposeResult:
    with Horizontal(classes=classes):
        yield Label(label)
        yield Input(id=name, compact=True)


def _bank_words(bank: BankText, being_typed: int) -> Content:
    """The bank's size, and the lines that can't be read; the one being typed may yet become one."""
    if bank.is_practice:
        return Content(f"{bank.title}, to find your way around. Now the exam day: press tab.")
    parts = (
        counted(bank.subjects, "subject"),
        counted(bank.chapters, "chapter"),
        counted(bank.questions, "question"),
    )
    name = f"{bank.title}: " if bank.is_file else ""
    lines = [Content.styled(name + ", ".join(parts), "bold")]
    findings = [finding for finding in bank.findings if finding.line != being_typed]
    lines += [
        Content.styled(f"line {finding.line}: {finding.reason}", "$warning")
        for finding in findings[:_MOST_FINDINGS]
    ]
    if len(findings) > _MOST_FINDINGS:
        lines.append(Content(f"and {len(findings) - _MOST_FINDINGS} more"))
    if not findings:
        lines.append(Content("tab goes on to the exam day."))
    return Content("\n").join(lines)


def _at_usual(tried: TriedPlan) -> str:
    """What comes of it where only the usual share of the days is kept, if the plan needs more."""
    if (tried.plan.needs_attendance or 0) <= USUAL_ATTENDANCE:
        return ""
    reached = f"{counted(tried.unreached, 'question')} are not reached"
    return f" At {USUAL_ATTENDANCE} of 100, {reached if tried.unreached else 'it still fits'}."


def _offers_reserve(plan: StudyPlan) -> bool:
    return plan.feasible and plan.slack_days >= DAYS_A_WEEK


def _reserve_days(plan: StudyPlan) -> int:
    return len({entry.day for entry in plan.entries if entry.reserve})


def _reserve_words(plan: StudyPlan, key: str) -> str:
    """The offer to name reserve days, or what comes of it."""
    if named := _reserve_days(plan):
        return f"{named} of them are reserve days, to take when you need one; {key}: none."
    return f"{key} names some of them as reserve days, to take when you need one."


def _summary(tried: TriedPlan, reserve_key: str) -> Content:
    plan = tried.plan
    fits, _, rest = fits_words(plan).partition(";")
    lines = [Content.styled(fits, "bold")]
    for span in plan.rounds:
        if span.first_day and span.last_day:
            first, last = long_day(span.first_day), long_day(span.last_day)
            lines.append(Content(f"Round {span.round}: {first} to {last}"))
    if plan.feasible:
        lines.append(Content(f"{rest.strip().capitalize()}{_at_usual(tried)}"))
        if _offers_reserve(plan):
            lines.append(Content.styled(_reserve_words(plan, reserve_key), "$text-muted"))
    else:
        lines.append(Content("The Plan screen (f3) lists what would make it fit."))
    return Content("\n").join(lines)
