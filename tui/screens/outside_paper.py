"""The result of a paper sat elsewhere, as a short form: Enter goes on, the last line saves."""

from datetime import date

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from banks.library import Library
from banks.views.evidence_log import evidence_log
from banks.views.score import OutsideFigures, parse_by_subject, record_outside
from domain.errors import InputError, ResieveError
from domain.plan.parsing import parse_day

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
            yield Static(Content.assemble(
                *(part for key, words in keys for part in ((key, "bold $accent"), words))
            ))  # fmt: skip

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
                day=self._day(), questions=self._number("questions") or 0,
                right=self._number("right") or 0, wrong=self._number("wrong") or 0,
                met=self._number("met"),
                by_subject=parse_by_subject(read, self._field("by_subject").value),
            )  # fmt: skip
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
