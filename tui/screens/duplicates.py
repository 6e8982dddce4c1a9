"""Questions that are there twice, side by side, with a proposal which one stays."""

from functools import partial

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content

from banks.find_duplicates import Likeness, Pair, find_duplicates, merge
from banks.views.drill import key_words, show_question
from domain.questions import Question
from domain.text import counted
from tui.actions import Action
from tui.base_screen import AppScreen
from tui.dialogs import ConfirmDialog
from tui.save_in_background import save_edit, undo_edit
from tui.widgets.question_text import options_text, place_text, question_text
from tui.widgets.text_block import ScrollText, hanging, stacked
from tui.widgets.triage_lines import beginning
from tui.widgets.virtual_list import VirtualList


class DuplicatesScreen(AppScreen):
    """The pairs of one bank; nothing is merged unless it is asked for."""

    NAME = "duplicates"
    HEADING = "Duplicates"
    ABOUT = (
        "The list shows pairs of questions that are the same or nearly the same; both texts are "
        "below it, and the left one is kept. Tab moves to a long text to scroll it. Merging "
        "retires the other one and joins both histories; this can be undone. Where the answer "
        "keys differ, one of them is wrong: check before you merge."
    )
    ACTIONS = (
        Action("merge", "enter", "Merge", "Keep the left one; retire the right one into it."),
        Action("swap", "o", "Swap", "Swap which of the two to keep."),
        Action("apart", "x", "Not the same", "Leave both as they are; hide this pair for now."),
        Action("merge_exact", "a", "All exact", "Merge every exact pair whose answer keys agree."),
        Action("undo", "u,backspace", "Undo", "Undo the last merge."),
    )
    DEFAULT_CSS = """
    DuplicatesScreen VirtualList { height: 7; margin: 1 0; }
    DuplicatesScreen Horizontal { height: 1fr; }
    DuplicatesScreen ScrollText { width: 1fr; padding: 0 1 0 2; }
    DuplicatesScreen #right { border-left: solid $panel; }
    """

    def __init__(self, bank_id: str) -> None:
        super().__init__()
        self._bank_id = bank_id
        self._apart: set[frozenset[str]] = set()
        self._swapped: set[frozenset[str]] = set()

    def body(self) -> ComposeResult:
        """The pairs above, the two texts side by side below."""
        yield VirtualList(empty="Looking for duplicates…")
        with Horizontal():
            yield ScrollText(id="left")
            yield ScrollText(id="right")

    def ready(self) -> None:
        """Compare, in a thread: a large bank takes some seconds."""
        self.set_title("Duplicates", "comparing…")
        self.in_background(self._find, loads=True)

    def _find(self) -> None:
        bank = self.library.bank(self._bank_id)
        counts = {name: self.library.response_count(name) for name in bank.questions}
        pairs = find_duplicates(bank, counts)
        self.hand_over(self._found, pairs)

    def _found(self, pairs: list[Pair]) -> None:
        left = [
            _other_way(pair) if _names(pair) in self._swapped else pair
            for pair in pairs
            if _names(pair) not in self._apart
        ]
        self._list(left, self.query_one(VirtualList).selected)

    def _list(self, pairs: list[Pair], selected: int) -> None:
        rows = self.query_one(VirtualList)
        rows.empty = "No duplicates found"
        rows.show(pairs, _pair_line, selected=selected)
        rows.focus()
        self.query_one(Horizontal).display = bool(pairs)
        title = self.library.bank(self._bank_id).title
        self.set_title(f"Duplicates · {title}", counted(len(pairs), "pair"))

    def on_virtual_list_moved(self, event: VirtualList.Moved) -> None:
        """Both texts of the selected pair."""
        pair: Pair | None = event.rows.item
        for name, head, side in (("left", "stays", "keep"), ("right", "is retired", "drop")):
            text = [partial(self._text, getattr(pair, side), head)] if pair else []
            self.query_one(f"#{name}", ScrollText).show(text)
            self.query_one(f"#{name}", ScrollText).to_top()

    def _text(self, question: Question, head: str, width: int) -> Content:
        shown = show_question(self.library, question, None)
        count = self.library.response_count(question.id)
        parts = [
            Content.assemble((head, "bold $accent"), f" · {counted(count, 'response')}"),
            place_text(shown, width),
            Content(""),
            question_text(shown, width),
            options_text(shown, None, frozenset(), width) if question.options else None,
            Content(f"Answer key: {key_words(shown)}" if shown.answer_key else "No answer key."),
        ]
        notes = (question.explanation, question.reference, ", ".join(question.tags))
        parts += [hanging(Content(""), Content(text), width) for text in notes if text]
        return stacked(parts)

    # deciding

    def on_virtual_list_picked(self, _: VirtualList.Picked) -> None:
        """Enter on a pair."""
        self.action_merge()

    def action_merge(self) -> None:
        """As proposed; where the keys differ that is asked about."""
        pair = self.query_one(VirtualList).item
        if pair is None:
            return
        if not pair.conflict:
            self._merge([pair])
            return

        def confirmed(choice: str | None) -> None:
            if choice == "y":
                self._merge([pair])

        self.app.push_screen(
            ConfirmDialog("Their answer keys differ. Keep the left one and its answer key?"),
            confirmed,
        )

    def _merge(self, pairs: list[Pair]) -> None:
        bank = merge(self.library.bank(self._bank_id), pairs)
        names = [question.id for pair in pairs for question in (pair.keep, pair.drop)]
        label = f"{counted(len(pairs), 'pair')} merged"
        save_edit(self, bank, names, label, self.ready)

    def action_merge_exact(self) -> None:
        """All exact pairs whose keys agree."""
        exact = [
            pair
            for pair in self.query_one(VirtualList).items
            if pair.likeness is Likeness.EXACT and not pair.conflict
        ]
        if not exact:
            self.tell("No exact pairs with the same answer key are left.")
            return

        def confirmed(choice: str | None) -> None:
            if choice == "y":
                self._merge(exact)

        self.app.push_screen(
            ConfirmDialog(f"Merge {counted(len(exact), 'exact pair')}?"), confirmed
        )

    def action_swap(self) -> None:
        """The other one stays."""
        rows = self.query_one(VirtualList)
        if rows.item is not None:
            self._swapped ^= {_names(rows.item)}
            pairs = list(rows.items)
            pairs[rows.selected] = _other_way(rows.item)
            self._list(pairs, rows.selected)

    def action_apart(self) -> None:
        """Not the same after all."""
        rows = self.query_one(VirtualList)
        if rows.item is not None:
            self._apart.add(_names(rows.item))
            at = rows.selected
            self._list([*rows.items[:at], *rows.items[at + 1 :]], at)

    def action_undo(self) -> None:
        """Undo the last merge."""
        undo_edit(self, self.ready)


def _names(pair: Pair) -> frozenset[str]:
    return frozenset({pair.keep.id, pair.drop.id})


def _other_way(pair: Pair) -> Pair:
    return replace(pair, keep=pair.drop, drop=pair.keep)


def _pair_line(pair: Pair, _: int) -> Content:
    likeness = "exact" if pair.likeness is Likeness.EXACT else f"{pair.percent:.0f} %"
    conflict = Content.styled("keys differ", "bold $warning") if pair.conflict else Content("")
    return Content.assemble(
        f"{likeness:<7}", conflict.pad_right(13 - conflict.cell_length), beginning(pair.keep)
    )
