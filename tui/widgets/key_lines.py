"""What stands under the grid while an answer key is typed. Values in, `Content` out."""

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from banks.importers.answer_keys import KeyProblem
from domain.printed.entry import AnswerKeyGrid
from domain.questions import LETTERS
from tui.widgets.grid import Face

_LABEL = 9
_GAPS = 5
"""So many gaps are listed, then they are counted."""


def face(desk: AnswerKeyGrid, slot: int) -> Face:
    """How a number with its key looks: a star on what is not saved yet, a plus on several."""
    number = desk.numbers[slot]
    letters = desk.keys.get(number, ())
    if not letters:
        return Face(now="·")
    letter = letters[0] if len(letters) == 1 else "+"
    if desk.before.get(number) == letters:
        return Face(now=letter, style="right")
    return Face(now=f"{letter}*", style="unsure")


def here(desk: AnswerKeyGrid) -> Content:
    """The number under the cursor, its key, and what it was."""
    if desk.typed:
        return Content.assemble("go on from ", (desk.typed.text, "bold underline"), "▏")
    if desk.cursor >= len(desk.numbers):
        return Content("Past the last number.")
    number = desk.numbers[desk.cursor]
    key, before = desk.keys.get(number, ()), desk.before.get(number, ())
    was = f"   (was {', '.join(before)})" if before and before != key else ""
    return Content.assemble((str(number), "bold"), f"   key: {', '.join(key) or 'none yet'}{was}")


def tally(desk: AnswerKeyGrid) -> Content:
    """How many have a key, how many are not saved, and where the gaps are."""
    gaps = desk.gaps
    stretches = _stretches(gaps)
    listed = ", ".join(stretches[:_GAPS]) + (" …" if len(stretches) > _GAPS else "")
    parts = [f"{len(desk.keys)} of {len(desk.numbers)} have a key"]
    parts += [f"* {len(desk.changed)} not saved"] if desk.changed else []
    parts += [f"{len(gaps)} without: {listed}"] if gaps else ["no gaps"]
    return Content("   ".join(parts))


def _stretches(numbers: Sequence[int]) -> list[str]:
    """Ascending numbers as they are written: "9", "28–40"."""
    ends: list[list[int]] = []
    for number in numbers:
        if ends and number == ends[-1][1] + 1:
            ends[-1][1] = number
        else:
            ends.append([number, number])
    return [str(first) if first == last else f"{first}–{last}" for first, last in ends]


def legend(key: Callable[[str], str], option_count: int) -> Content:
    """The ways to put a key in."""
    last = LETTERS[option_count - 1]
    ways = (
        ("Letters", f"a–{last} for the > and on; 40 b goes on from 40; + c: c counts too"),
        ("Paste", "the key as printed: 1 b 2 c, 1. (b), columns, rows of letters"),
        ("Then", f"{key('save')} saves it, and what was marked before is graded again"),
    )
    return Content("\n").join(
        Content.assemble((label.ljust(_LABEL), "bold"), words) for label, words in ways
    )


class KeyLines(Vertical):
    """The lines under the grid of a key: the number, what came of it, the count, the ways."""

    DEFAULT_CSS = """
    KeyLines { height: auto; padding: 0 1; }
    KeyLines Static { height: 1; }
    KeyLines #problems { height: auto; max-height: 7; color: $text-error; }
    KeyLines #legend { height: 3; color: $foreground 80%; }
    """

    def compose(self) -> ComposeResult:
        """A line each; the problems of a pasted key as many as there are."""
        for name in ("problems", "here", "said", "tally", "legend"):
            yield Static(id=name, markup=False)

    def show(self, desk: AnswerKeyGrid, said: Content, legend: Content) -> None:
        """Show the desk as it is; `said` is what the last key came to."""
        lines = {"here": here(desk), "said": said, "tally": tally(desk), "legend": legend}
        for name, content in lines.items():
            self.query_one(f"#{name}", Static).update(content, layout=False)

    def show_problems(self, problems: Sequence[KeyProblem]) -> None:
        """What is wrong with a pasted key, by number."""
        lines = [f"! {problem.reason}" for problem in problems]
        if len(lines) > 6:
            lines = [*lines[:6], f"… and {len(lines) - 6} more"]
        self.query_one("#problems", Static).update(Content("\n".join(lines)))
