"""A question and a chapter while their printed lines are being gathered."""

from dataclasses import dataclass, field
from itertools import pairwise

from banks.importers import typeset
from banks.importers.common import Draft, DraftOption, Finding, Parsed
from banks.importers.keys import parse_keys
from domain.questions import LETTERS
from domain.text import MAX_TEXT


@dataclass
class Open:
    """A question whose lines are still coming. `now` is the text that a further line continues."""

    number: int
    line: int
    stem: list[str] = field(default_factory=list)
    options: list[list[str]] = field(default_factory=list)
    style: typeset.Style | None = None
    key: str = ""
    notes: list[str] = field(default_factory=list)
    reference: str = ""

    def __post_init__(self) -> None:
        self.now = self.stem

    @property
    def is_complete(self) -> bool:
        """Whether a further numbered line can only be another question."""
        return len(self.options) >= 2 or bool(self.key)

    def add_option(self, text: str) -> None:
        """A further option begins."""
        self.options.append([text])
        self.now = self.options[-1]

    def add_note(self, text: str) -> None:
        """The explanation begins or goes on."""
        self.notes += [text] if text else []
        self.now = self.notes


@dataclass
class Part:
    """A chapter's worth of printed text: its questions, its key section, its explanations."""

    subject: str = ""
    chapter: str = ""
    questions: list[Open] = field(default_factory=list)
    key_lines: list[str] = field(default_factory=list)
    key_line: int = 0
    notes: dict[int, list[str]] = field(default_factory=dict)
    note_of: int | None = None
    """The question whose explanation a further line continues."""

    def take_key(self, at: int, line: str) -> bool:
        """Take a line of the key section: keys, an explanation, or more of one. False: neither."""
        self.key_line = self.key_line or at
        question = typeset.QUESTION.fullmatch(line)
        if typeset.is_key_data(line):
            self.key_lines.append(line)
        elif question:
            self._take_explained(typeset.number_of(question), question[3])
        elif self.note_of is None:
            return False
        else:
            self.notes[self.note_of].append(typeset.without_label(line))
        return True

    def _take_explained(self, number: int, text: str) -> None:
        """`12. (b) Because …`, or an explanation alone."""
        keyed = typeset.KEY.fullmatch(text)
        text = (keyed[1] or keyed[2] or "") if keyed else text
        if pair := typeset.KEY_AND_NOTE.fullmatch(text):
            self.key_lines.append(f"{number} {pair[1]}")
            text = pair[2]
        self.note_of = number
        self.notes[number] = [typeset.without_label(text)] if text else []

    def finish(self, parsed: Parsed, raws: list[str]) -> None:
        """Turn all of it into drafts with their raw keys beside them, and findings."""
        sheet = parse_keys("\n".join(self.key_lines)) if self.key_lines else None
        keys = {n: ",".join(letters) for n, letters in sheet.keys.items()} if sheet else {}
        for problem in sheet.problems if sheet else ():
            parsed.warnings.append(Finding(self.key_line, f"answer key: {problem.reason}"))
        numbers = {question.number for question in self.questions}
        for question in self.questions:
            self._add(question, keys.get(question.number, ""), parsed, raws)
        for number in sorted(keys.keys() - numbers):
            if self.questions:
                told = f"the answer key names question {number}, which isn't there"
                parsed.skipped.append(Finding(self.key_line, told))
            else:
                parsed.drafts.append(self._draft(Open(number, self.key_line)))
                raws.append(keys[number])
        self._tell_gaps(sorted(numbers), parsed)

    def _add(self, question: Open, key: str, parsed: Parsed, raws: list[str]) -> None:
        draft = self._draft(question)
        texts = [draft.stem, draft.explanation, *(option.text for option in draft.options)]
        if not draft.stem:
            reason = "has no stem"
        elif len(question.options) == 1:
            reason = "has one option only"
        elif len(question.options) > len(LETTERS):
            reason = f"has {len(question.options)} options, at most {len(LETTERS)} fit"
        elif max(map(len, texts)) > MAX_TEXT:
            reason = f"holds a text of more than {MAX_TEXT:,} characters"
        else:
            parsed.drafts.append(draft)
            raws.append(question.key or key)
            if question.key and key and question.key.lower() != key:
                told = f"question {question.number}: key {question.key} here, {key} in the section"
                parsed.warnings.append(Finding(question.line, told))
            return
        parsed.skipped.append(Finding(question.line, f"question {question.number} {reason}"))

    def _draft(self, question: Open) -> Draft:
        notes = [*question.notes, *self.notes.get(question.number, [])]
        return Draft(
            line=question.line,
            subject=self.subject,
            chapter=self.chapter,
            number=question.number,
            stem=joined(question.stem),
            options=tuple(DraftOption(joined(lines)) for lines in question.options),
            explanation=joined(notes),
            reference=question.reference,
        )

    def _tell_gaps(self, numbers: list[int], parsed: Parsed) -> None:
        for before, after in pairwise(numbers):
            if after - before > 1:
                gap = f"{before + 1}" if after - before == 2 else f"{before + 1}–{after - 1}"
                parsed.warnings.append(
                    Finding(self._line_of(after), f"no question {gap} was found before {after}")
                )

    def _line_of(self, number: int) -> int:
        return next(question.line for question in self.questions if question.number == number)


def joined(lines: list[str]) -> str:
    """Printed lines as running text; list items, table rows and paragraphs keep their own line."""
    text = ""
    for at, line in enumerate(lines):
        if not line:
            continue
        if not text:
            text = line
        elif typeset.LIST_ITEM.match(line) or not lines[at - 1]:
            text += "\n" + line
        elif text.endswith("-") and text[-2:-1].isalpha() and line[:1].islower():
            text = text[:-1] + line
        else:
            text += " " + line
    return text.strip()
