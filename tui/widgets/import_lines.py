"""How an import is told: in a summary, in lists, and line by line."""

from bisect import bisect_right
from collections.abc import Sequence
from functools import partial

from textual.content import Content

from banks.importers.common import Finding
from banks.intake.file_import import Preview
from banks.intake.import_changes import ChangeKind, QuestionChange
from banks.intake.keying import letters_of
from banks.intake.past_marks import PastMarks
from banks.views.drill import key_words, preview_question
from domain.questions import LETTERS, Question
from tui.widgets.question_text import options_text, place_text, question_text
from tui.widgets.text_block import Setter, hanging

_BAR = 30


Line = Finding | QuestionChange
"""What a list is made of; worded only when it comes into sight."""
Lists = list[tuple[str, Sequence[Line]]]


def progress(share: float) -> str:
    """A bar with its per cent."""
    done = round(share * _BAR)
    return f"Reading  {'█' * done}{'░' * (_BAR - done)}  {share:4.0%}   esc stops it"


def summary(seen: Preview | PastMarks, *, done: bool = False) -> str:
    """What it would do, or did, in two or three lines."""
    if isinstance(seen, PastMarks):
        verb = "added to" if done else "would be added to"
        words = f"Marks: {seen.added:,} {verb} your history, {seen.known:,} are already there."
        return "\n".join([words] if done or not seen.misread else [words, _misread(seen.misread)])
    counts = seen.changes.counts()
    head = f"{'Saved in' if done else 'Into'} {seen.bank.title} (read as {seen.format}):"
    counted = ", ".join(f"{count:,} {what}" for what, count in counts.items() if count)
    lines = [f"{head} {counted or 'nothing'}."]
    if seen.misread and not done:
        lines = [_misread(seen.misread), *seen.samples]
    elif seen.layouts and not done:
        more = f" ({len(seen.layouts) - 1} more)" if len(seen.layouts) > 1 else ""
        lines.append(f"Layout: {seen.layouts[0]}{more}.")
    changed = len(seen.changes.of(ChangeKind.KEY_CHANGED))
    if changed:
        verb = "was" if done else "would be"
        lines.append(f"{changed:,} answer keys change; your history {verb} re-graded.")
    lost = len(seen.changes.of(ChangeKind.RETIRED))
    if lost:
        lines.append(f"{lost:,} have new text; the old ones are retired and keep their history.")
    return "\n".join(lines)


def _misread(reason: str) -> str:
    return f"{reason[:1].upper()}{reason[1:]}."


def lists(seen: Preview | PastMarks) -> Lists:
    """What is wrong first, then what to look at, what changes, what is new; none that is empty."""
    named_lists: Lists = [("not imported", seen.skipped), ("warnings", seen.warnings)]
    if isinstance(seen, Preview):
        to_check = [
            change
            for change in seen.changes.of(*ChangeKind)
            if change.after and change.after.to_check
        ]
        named_lists.insert(0, ("to check", to_check))
        named = {
            "key changed": ChangeKind.KEY_CHANGED,
            "moved": ChangeKind.MOVED,
            "text changed": ChangeKind.RETIRED,
            "withdrawn": ChangeKind.WITHDRAWN,
            "updated": ChangeKind.UPDATED,
            "new": ChangeKind.ADDED,
        }
        named_lists += [(name, seen.changes.of(what)) for name, what in named.items()]
    return [(name, lines) for name, lines in named_lists if lines]


def tabs(lists: Lists, at: int) -> Content:
    """The names of the lists with their counts; the one shown in brackets."""
    parts: list[tuple[str, str]] = []
    for index, (name, lines) in enumerate(lists):
        words = f"{name} {len(lines):,}"
        shown = index == at
        parts.append(
            (f"[{words}] " if shown else f" {words}  ", "bold" if shown else "$text-muted")
        )
    return Content.assemble(*parts)


def draw(line: Line, width: int) -> Content:
    """A line of a list."""
    if isinstance(line, Finding):
        where = f"line {line.line:>6,}" if line.line else "the file   "
        return Content(f"{where}  {line.reason}")
    question = line.after if line.what is ChangeKind.ADDED else line.before or line.after
    return Content(f"{question.number:>6}  {_first_words(question)}" if question else "")


def detail(line: Line | None, seen: Preview | PastMarks) -> list[Setter]:
    """All there is to say about a line, and the question it speaks of as it will be drilled."""
    if line is None:
        return []
    words = line.reason if isinstance(line, Finding) else change_words(line)
    blocks: list[Setter] = []
    if words:
        blocks.append(lambda width: hanging(Content(""), Content(words), width))
    question = _concerned(line, seen) if isinstance(seen, Preview) else None
    if question is None or not isinstance(seen, Preview):
        return blocks
    if line in seen.skipped:
        blocks.append(lambda _: Content.styled("Read last before it:", "$text-muted"))
    shown = preview_question(seen.bank, question)
    key = f"Answer key: {key_words(shown)}" if shown.answer_key else "No answer key."
    blocks += [partial(place_text, shown), partial(question_text, shown)]
    if shown.seating.options:
        blocks.append(partial(options_text, shown, None, frozenset()))
    return [*blocks, lambda _: Content(key)]


def _concerned(line: Line, seen: Preview) -> Question | None:
    """The question of a change, or the one within whose lines a finding stands."""
    if isinstance(line, QuestionChange):
        return line.after if line.what is not ChangeKind.WITHDRAWN else None
    changes = [change for change in seen.changes.changes if change.after and change.line]
    place = bisect_right(changes, line.line, key=lambda change: change.line)
    return changes[max(place - 1, 0)].after if changes else None


def _first_words(question: Question) -> str:
    if question.stem:
        return " ".join(question.stem.split())
    return f"key {_key(question)}" if question.answer_key else "number only"


def _key(question: Question) -> str:
    """The key by its printed letters, with the options' texts where they are known."""
    letters = letters_of(question)
    if not question.options:
        return ", ".join(letters)
    texts = {letter: option.text for letter, option in zip(LETTERS, question.options, strict=False)}
    return ", ".join(f"{letter}) {' '.join(texts[letter].split())}" for letter in letters)


def change_words(change: QuestionChange) -> str:
    """What becomes of a known question; "" where nothing needs saying."""
    before, after = change.before, change.after
    match change.what:
        case ChangeKind.KEY_CHANGED if before and after:
            return f"key {_key(before)} → {_key(after)}"
        case ChangeKind.MOVED if before and after:
            return f"number {before.number} → {after.number}; the history stays with it"
        case ChangeKind.RETIRED if before and after:
            return f"before: {_first_words(before)}\nnow:    {_first_words(after)}"
        case ChangeKind.WITHDRAWN:
            return "not in the new edition; its history is kept"
    return ""
