"""Numbered text as printed banks have it: `12. stem … A) … B) …`, keys inline or at the end."""

import re
from collections.abc import Sequence

from banks.importers import typeset
from banks.importers.common import Finding, Hints, Parsed
from banks.importers.encoding import Text
from banks.importers.keyfit import fit_keys
from banks.importers.parts import Open, Part
from domain.errors import InputError
from domain.text import is_unsafe, tidy

_SPACES = re.compile(r"[^\S\n]{4,}")
"""How wide a gap is means nothing in printed text, but patterns take long over wide ones."""
_AHEAD = 60
_FAR = 50
_MAX_LINE = 200_000
_STEP = 5_000


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from printed text."""
    text = Text(data, hints.name)
    parsed = Parsed(format="text", encoding=text.encoding)
    lines: list[str] = []
    for at, line in enumerate(text.lines(), 1):
        if len(line) > _MAX_LINE:
            name = hints.name or "The text"
            raise InputError(f"{name}, line {at}: is too long for printed text ({len(line):,}).")
        if is_unsafe(line):
            told = "control or direction signs were taken out or replaced"
            parsed.warnings.append(Finding(at, told))
        lines.append(tidy(line))
    parsed.warnings += text.findings()
    return parse_lines(lines, parsed, hints)


def parse_lines(lines: Sequence[str], parsed: Parsed, hints: Hints) -> Parsed:
    """Questions from the tidied lines of a printed text, put into `parsed`."""
    reader = _Reader([_SPACES.sub("   ", line) for line in lines], hints)
    parts = reader.read()
    raws: list[str] = []
    for part in parts:
        part.finish(parsed, raws)
    parsed.title = reader.title
    drafts, skipped, warnings = fit_keys(parsed.drafts, raws, {}, 1)
    parsed.drafts = drafts
    parsed.skipped += skipped
    parsed.warnings += warnings + reader.findings
    parsed.warnings += [Finding(d.line, "no key given") for d in drafts if d.stem and not d.key]
    for findings in (parsed.skipped, parsed.warnings):
        findings.sort(key=lambda finding: finding.line)
    return parsed


class _Reader:
    """Goes through the lines once, deciding by its mark and its surroundings what each one is."""

    def __init__(self, lines: Sequence[str], hints: Hints) -> None:
        self._lines = lines
        self._hints = hints
        self._parts = [Part()]
        self._open: Open | None = None
        self._in_key = False
        self._blank = True
        self._has_options = any(typeset.first_label(line, digits=True) for line in lines[:5000])
        self.title = ""
        self.findings: list[Finding] = []

    @property
    def _part(self) -> Part:
        return self._parts[-1]

    def read(self) -> list[Part]:
        """The chapters found."""
        for at, line in enumerate(self._lines):
            if line:
                self._take(at, line)
            elif self._open and self._open.now and self._open.now[-1]:
                self._open.now.append("")
            self._blank = not line
            if self._hints.progress and at % _STEP == 0:
                self._hints.progress(at / len(self._lines))
        return self._parts

    def _take(self, at: int, line: str) -> None:
        if self._heading(line):
            return
        question = typeset.QUESTION.fullmatch(line)
        if self._in_key and not (question and self._options_follow(at)):
            self._take_key(at, line)
        elif question and self._begins(at, typeset.number_of(question)):
            self._begin(at, typeset.number_of(question), question[3])
        elif self._is_key_line(line):
            self._take_key(at, line)
        elif self._open is None:
            self._before_first(at, line)
        else:
            self._continue(at, line)

    # headings

    def _heading(self, line: str) -> bool:
        subject, chapter = typeset.SUBJECT.fullmatch(line), typeset.CHAPTER.fullmatch(line)
        if subject:
            self._new_part(subject=subject[1].strip("# *"), chapter="")
        elif chapter and len(line) <= 120:
            self._new_part(chapter=(chapter[1] or chapter[2]).strip("# *"))
        elif typeset.KEY_HEADING.fullmatch(line) or typeset.NOTES_HEADING.fullmatch(line):
            if self._open and not self._open.is_complete and not self._part.key_lines:
                return False
            self._in_key, self._part.note_of = True, None
        else:
            return False
        return True

    def _new_part(self, *, chapter: str, subject: str | None = None) -> None:
        subject = self._part.subject if subject is None else subject
        self._open = None
        known = [part for part in self._parts if (part.subject, part.chapter) == (subject, chapter)]
        if known and self._in_key:
            # A key section at the end of a book goes through the chapters once more.
            self._parts.append(self._parts.pop(self._parts.index(known[0])))
            return
        self._in_key = False
        self._parts.append(Part(subject, chapter))

    def _before_first(self, at: int, line: str) -> None:
        if not self.title and at < 5 and len(line) <= 120:
            self.title = line.strip("#* ")
        else:
            self.findings.append(Finding(at + 1, "not part of a question; left out"))

    # questions

    def _begins(self, at: int, number: int) -> bool:
        """Whether a numbered line begins a question, rather than being an item of a list."""
        last = self._open
        if last is None or not self._has_options:
            return True
        if number == last.number + 1:
            return last.is_complete or (self._blank and not self._same_number_ahead(at, number))
        if not last.is_complete or not self._options_follow(at):
            return False
        return number < last.number or number - last.number <= _FAR

    def _begin(self, at: int, number: int, text: str) -> None:
        self._in_key = False
        if self._open and number == 1 and self._open.number > 1:
            name = f"Part {len(self._parts) + 1}" if self._part.chapter else "Part 2"
            self._new_part(chapter=name)
            self.findings.append(Finding(at + 1, f"the numbers begin again: taken as '{name}'"))
        self._open = Open(number, at + 1)
        self._part.questions.append(self._open)
        self._continue(at, text)

    def _options_follow(self, at: int) -> bool:
        """Whether a first option comes before the next numbered line."""
        number = typeset.QUESTION.fullmatch(self._lines[at])
        if number and typeset.inner_labels(number[3]):
            return True
        for line in self._lines[at + 1 : at + _AHEAD]:
            if typeset.first_label(line, digits=False) or typeset.inner_labels(line):
                return True
            if typeset.first_label(line, digits=True):
                return True
            if typeset.QUESTION.fullmatch(line):
                return False
        return False

    def _same_number_ahead(self, at: int, number: int) -> bool:
        for line in self._lines[at + 1 : at + _AHEAD]:
            found = typeset.QUESTION.fullmatch(line)
            if found and typeset.number_of(found) == number:
                return True
        return False

    # the lines of a question

    def _continue(self, at: int, line: str) -> None:
        question = self._open
        if question is None:
            return
        if key := typeset.KEY.fullmatch(line):
            self._inline_key(question, key[1] or key[2] or "")
        elif note := typeset.NOTE.fullmatch(line):
            question.add_note(note[1])
        elif (reference := typeset.REFERENCE.fullmatch(line)) and question.is_complete:
            question.reference = (reference[2] or reference[1]).strip("[]() ")
        elif not self._options_in(at, line, question):
            question.now.append(line)

    def _inline_key(self, question: Open, text: str) -> None:
        match = typeset.KEY_AND_NOTE.fullmatch(text.strip("* "))
        question.key = match[1] if match else text.strip("[]() ")
        question.add_note(typeset.without_label(match[2].strip("]* ")) if match else "")

    def _options_in(self, at: int, line: str, question: Open) -> bool:
        """Take the options that begin on this line. False if none does."""
        if not question.options:
            return self._first_options(at, line, question)
        if question.style is None or question.now is question.notes:
            return False
        label = typeset.option_label(line, question.style, len(question.options))
        if not label:
            return False
        self._split(at, line, label.end(), question)
        return True

    def _first_options(self, at: int, line: str, question: Open) -> bool:
        start = typeset.first_label(line, digits=True)
        if start and question.stem:
            question.style = start[0]
            self._split(at, line, start[1], question)
            return True
        inner = typeset.inner_labels(line)
        if not inner:
            return False
        question.style = inner[0]
        question.stem.append(line[: inner[1]].rstrip())
        self._split(at, line, inner[2], question)
        return True

    def _split(self, at: int, line: str, start: int, question: Open) -> None:
        """Take the option whose text begins at `start`, and those after it on the same line."""
        style = question.style
        assert style is not None
        key = typeset.KEY_AT_END.search(line, start)
        if key:
            question.key, line = key[1], line[: key.start()]
        while True:
            position = len(question.options) + 1
            label = typeset.next_label(line, start, style, position)
            if label and self._begins_later(at, style, position):
                label = None
            text = line[start : label.start() if label else None].strip(" \t;,")
            self._add_option(question, text)
            if not label:
                return
            start = label.end()

    def _begins_later(self, at: int, style: typeset.Style, position: int) -> bool:
        """Whether the label that stands within this line begins one of the next lines."""
        for line in self._lines[at + 1 : at + 8]:
            if typeset.option_label(line, style, position):
                return True
            if typeset.QUESTION.fullmatch(line) or typeset.first_label(line, digits=False):
                return False
        return False

    def _add_option(self, question: Open, text: str) -> None:
        bare = typeset.RIGHT_MARK.sub("", text)
        question.add_option(bare)
        if bare != text and question.style and not question.key:
            question.key = str(len(question.options))

    # the key section

    def _is_key_line(self, line: str) -> bool:
        """Whether a line without a heading can only be a key: pairs, and no words."""
        complete = self._open is None or self._open.is_complete
        return complete and typeset.is_pairs(line)

    def _take_key(self, at: int, line: str) -> None:
        self._in_key = True
        if not self._part.take_key(at + 1, line):
            self.findings.append(Finding(at + 1, "not understood in the answer key; left out"))
