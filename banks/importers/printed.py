"""Numbered text as printed banks have it → drafts, by the layout that explains the whole file.

What contradicts the layout is told by line; a question that it touches is marked to check, with
the reason, or left out. An answer key that is not certain is not kept.
"""

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct

from banks.importers.answer_keys import fit_keys, parse_keys, signs_of
from banks.importers.common import NO_KEY, Draft, DraftOption, Finding, Hints, Parsed
from banks.importers.encoding import Text
from banks.importers.printed_layout import (
    Block,
    Layout,
    Line,
    Marks,
    is_referring,
    layouts,
    plain,
)
from banks.importers.printed_pages import (
    columns_in_order,
    in_known_signs,
    without_repeated_lines,
)
from banks.importers.printed_sections import (
    PAIR,
    Directions,
    Heading,
    KeyGroup,
    Sections,
    inline_key,
    is_pairs,
    key_inside,
)
from domain.errors import InputError
from domain.questions import LETTERS
from domain.text import MAX_TEXT, is_unsafe, tidy

_SPACES = re.compile(r"[^\S\n]{4,}")
"""How wide a gap is means nothing in printed text, but patterns take long over wide ones."""
_MAX_LINE = 200_000
_LONG_OPTION = 8
_LONG_STEM = 40
_NOTE = re.compile(
    r"\s*[\[(*]*(?:Explanation|Expl?|Rationale|Solution|Sol|Reason|Explication|Explicación"
    r"|Erklärung|व्याख्या|解析|解説|설명)\s*[.:\-–*：]+\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
_REFERENCE = re.compile(
    r"\s*[\[(*]*((?:Ref(?:erence)?s?|Source)\s*[.:\-–]+\s*(.*?)|(?:p\.|pp\.|page)\s*\d[\d\s,–-]*)"
    r"[\])*]*\s*",
    re.IGNORECASE,
)
_RIGHT_MARK = re.compile(
    r"\s*(?:[✓✔☑]|\*{1,2}|\(\s*correct\s*\)|\[\s*correct\s*\])\s*$", re.IGNORECASE
)
_LIST_ITEM = re.compile(r"\s*(?:\(?\d{1,2}[.)]|\(?[ivx]{1,4}[.)]|[-•*–]\s|\||[A-E][.)]\s)")
_KEY_IN_OPTION = re.compile(r"\b(?:Ans(?:wer)?|Correct answer)\s*[.:]")
_BROKEN = re.compile(r"([^\W\d_]+)-$")


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from printed text."""
    text = Text(data, hints.name, hints.encoding)
    parsed = Parsed(format="text", encoding=text.encoding)
    lines: list[tuple[int, str]] = []
    for at, line in enumerate(text.lines(), 1):
        if len(line) > _MAX_LINE:
            name = hints.name or "The text"
            raise InputError(
                f"{name}, line {at}: is too long for printed text ({len(line):,} characters)."
            )
        if is_unsafe(line.replace("\f", "")):
            reason = "control or direction signs were taken out or replaced"
            parsed.warnings.append(Finding(at, reason))
        lines.append((at, line.rstrip("\n")))
    parsed.warnings += text.findings()
    parsed.encodings = text.encodings
    ordered, reason = columns_in_order(lines)
    parsed.warnings += [Finding(ordered[0][0], reason)] if reason else []
    return parse_lines([(at, tidy(line)) for at, line in ordered], parsed, hints)


def parse_lines(lines: list[tuple[int, str]], parsed: Parsed, hints: Hints) -> Parsed:
    """Questions from the lines of a printed text with their numbers, put into `parsed`.

    Numbers may repeat (columns side by side, pages); while reading, a line is known by its place.
    """
    lines, findings = in_known_signs(lines)
    parsed.warnings += findings
    numbers = [0, *(number for number, _ in lines)]
    held, furniture = without_repeated_lines(_held([text for _, text in lines]))
    reader = _Reader(held, hints)
    own = Parsed(format=parsed.format, drafts=[], skipped=[], warnings=[])
    reader.read(own)
    for draft in own.drafts:
        draft.line = numbers[draft.line]
    parsed.drafts, parsed.title = own.drafts, reader.title
    parsed.layout, parsed.layouts, parsed.explained = own.layout, own.layouts, own.explained
    for findings, all_of in ((own.skipped, parsed.skipped), (own.warnings, parsed.warnings)):
        all_of += [Finding(numbers[each.line], each.reason) for each in findings]
    parsed.warnings += [Finding(numbers[each.line], each.reason) for each in furniture]
    for findings in (parsed.skipped, parsed.warnings):
        findings.sort(key=lambda finding: finding.line)
    return parsed


def _held(lines: Sequence[str]) -> list[Line]:
    held: list[Line] = []
    after_gap = True
    for number, text in enumerate(lines, 1):
        if text:
            held.append(Line(number, _SPACES.sub("   ", text), after_gap))
        after_gap = not text
    return held


class _Part(Struct, gc=False):
    """A chapter: its title, the line it begins on, and the questions in it."""

    subject: str
    chapter: str
    line: int
    blocks: list[Block] = []


class _Question(Struct, gc=False):
    """A question while its lines are read."""

    block: Block
    number: int
    line: int
    stem: list[Line]
    options: list[list[Line]]
    notes: list[Line]
    key: str = ""
    key_line: int = 0
    is_key_known: bool = False
    reference: str = ""
    doubts: list[str] = []
    marked: list[int] = []


class _Reader:
    """Reads one printed text under one layout."""

    def __init__(self, lines: list[Line], hints: Hints) -> None:
        self._lines = lines
        self._hints = hints
        self._findings: list[Finding] = []
        self._skipped: list[Finding] = []
        self._sections = Sections(lines)
        self._lost = set(self._sections.lost)
        self.title = ""
        self._words: set[str] | None = None
        keys = {
            at: key
            for at, line in enumerate(lines)
            if at not in self._sections.closed and (key := _named_key(plain(line.text))) is not None
        }
        signs = [first_signs[0] for key in keys.values() if (first_signs := signs_of(key))]
        signs += [e.signs for group in self._sections.groups for e in group.entries if e.signs]
        rows = Counter(map(_row, signs))
        self._marks = Marks(lines, self._sections.closed, self._sections.numbers)
        if hints.progress:
            hints.progress(0.4)
        headings = [each.line for each in self._sections.headings]
        self._keys = keys
        usual = rows.most_common(1)[0][0] if rows else ""
        self._all = layouts(self._marks, headings, set(keys), usual)
        chosen = min(hints.layout, max(len(self._all) - 1, 0))
        self._layout = self._all[chosen] if self._all else self._open_layout()
        self._key_rows: Counter[str] = Counter()
        self._shared: dict[int, list[Directions]] = {}
        self._rivals: dict[
            int, int
        ] = {}  # where a question starts → an earlier line that may be it

    def _open_layout(self) -> Layout:
        """For a file without any options: numbered questions that are answered by typing."""
        kinds = Counter(number.style for number in self._marks.numbers)
        usual = max(kinds, key=lambda kind: kinds[kind], default="")
        blocks: list[Block] = []
        value = 0
        for number in self._marks.numbers:
            heads = (
                any(blocks[-1].start < each.line < number.line for each in self._sections.headings)
                if blocks
                else True
            )
            is_next = number.value == value + 1 or (
                number.value > value and self._lines[number.line].after_gap
            )
            if number.style == usual and (is_next or not blocks or heads):
                blocks.append(Block(number, [], [], number.line))
                value = number.value
        for block, following in zip(blocks, [*blocks[1:], None], strict=False):
            block.end = following.start if following else len(self._lines)
        return Layout(numbers=usual, options="", score=0, blocks=blocks, option_count=0)

    def read(self, parsed: Parsed) -> None:
        """All of it, into `parsed`."""
        self._share_directions()
        parts = self._parts()
        questions: list[list[_Question]] = []
        for part in parts:
            questions.append([self._question(block) for block in part.blocks])
        self._before_first(parts)
        self._check_signs([each for part in questions for each in part])
        self._lay_keys(parts, questions)
        self._check_sequences(questions)
        drafts: list[Draft] = []
        raws: list[str] = []
        for part, own in zip(parts, questions, strict=True):
            for question in own:
                self._finish(part, question, drafts, raws)
            self._tell_gaps(own)
        self._tell_lost()
        self._tell_alternatives(questions)
        if not parts or not any(questions):
            self._keys_alone(drafts, raws)
        good, skipped, warnings = fit_keys(drafts, raws, {}, 1)
        parsed.drafts = good
        parsed.skipped += self._skipped + skipped
        parsed.warnings += self._findings + warnings
        parsed.warnings += [Finding(d.line, NO_KEY) for d in good if d.stem and not d.key]
        others = [layout for layout in self._all if layout is not self._layout]
        parsed.layouts = tuple(map(self._in_words, [self._layout, *others])) if self._all else ()
        parsed.layout = self._in_words(self._layout) if self._layout.blocks else ""
        total = len(self._lines) or 1
        parsed.explained = 1 - len(self._lost) / total

    # parts

    def _share_directions(self) -> None:
        """Each text that several questions share goes to those that follow it, by number."""
        blocks = self._layout.blocks
        starts = [block.start for block in blocks]
        for directions in self._sections.directions:
            first = place = bisect_right(starts, directions.line)
            while place < len(blocks):
                number = blocks[place].number
                if not number or not directions.first <= number.value <= directions.last:
                    break
                self._shared.setdefault(blocks[place].start, []).append(directions)
                place += 1
            if place == first:
                numbers = f"{directions.first}–{directions.last}"
                self._lose(directions.line, f"no question {numbers} follows these directions")

    def _parts(self) -> list[_Part]:
        parts: list[_Part] = []
        subject = chapter = ""
        headings = [*self._sections.headings]
        last = 0
        restarts = 0
        for block in self._layout.blocks:
            new = not parts
            while headings and headings[0].line < block.start:
                subject, chapter = self._titles(headings.pop(0), subject, chapter)
                new = True
            value = block.number.value if block.number else last
            if not new and value == 1 and last > 1:
                restarts += 1
                chapter, reason = self._restarted(block, len(parts), bool(chapter))
                self._findings.append(Finding(self._lines[block.start].number, reason))
                new = True
            if new:
                parts.append(_Part(subject, chapter, block.start, []))
            parts[-1].blocks.append(block)
            last = value
        return parts

    def _titles(self, heading: Heading, subject: str, chapter: str) -> tuple[str, str]:
        if heading.is_guessed:
            reason = f"taken as a heading: {heading.title}"
            self._findings.append(Finding(self._lines[heading.line].number, reason))
        return (heading.title, "") if heading.is_subject else (subject, heading.title)

    def _restarted(self, block: Block, count: int, is_titled: bool) -> tuple[str, str]:
        """The title of a part whose numbers begin again without a heading."""
        name = f"Part {count + 1}" if is_titled or count > 1 else "Part 2"
        above = self._lines[block.start - 1] if block.start else None
        if (
            above
            and above.after_gap
            and _is_title(above.text)
            and block.start - 1 not in self._sections.closed
        ):
            name = above.text.strip("#* ")
            self._sections.closed.add(block.start - 1)
        return name, f"the numbers begin again: taken as '{name}'"

    def _before_first(self, parts: list[_Part]) -> None:
        first = parts[0].line if parts else len(self._lines)
        for at in range(min(first, len(self._lines))):
            if at in self._sections.closed:
                continue
            line = self._lines[at]
            if not self.title and at < 5 and len(line.text) <= 120:
                self.title = line.text.strip("#* ")
            else:
                self._lose(at, "not part of a question; left out")

    def _lose(self, at: int, reason: str) -> None:
        self._lost.add(at)
        self._findings.append(Finding(self._lines[at].number, reason))

    # the lines of a question

    def _question(self, block: Block) -> _Question:
        first = self._lines[block.start]
        number = block.number.value if block.number else 0
        question = _Question(block, number, first.number, [], [], [], doubts=[], marked=[])
        labels = sorted(block.options, key=lambda label: (label.line, label.start))
        now = question.stem
        begin = block.number.end if block.number else 0
        last = labels[-1].line if labels else block.start
        texts: dict[int, list[Line]] = {}
        if block.number and block.number.code_key:
            self._take_key(question, block.number.code_key, block.start)
        for at in range(block.start, block.end):
            if at in self._sections.closed:
                if at > block.start:
                    break
                continue
            line = self._lines[at]
            here = [label for label in labels if label.line == at]
            for label in here:
                _append(now, line, begin, label.start)
                now = texts.setdefault(label.index, [])
                begin = label.end
                if label.is_marked:
                    question.marked.append(label.index)
            rest = line.text[begin:] if begin else line.text
            is_past = at > last or (at == last and bool(here))
            now = self._rest(
                question, now, Line(line.number, rest, line.after_gap), at, is_past, bool(here)
            )
            begin = 0
        question.options = [texts.get(index, []) for index in range(len(block.options))]
        for index, lines in enumerate(question.options):
            if lines and (mark := _RIGHT_MARK.search(lines[-1].text)):
                lines[-1] = Line(lines[-1].number, lines[-1].text[: mark.start()], False)
                question.marked.append(index)
        return question

    def _rest(
        self,
        question: _Question,
        now: list[Line],
        line: Line,
        at: int,
        is_past: bool,
        labelled: bool,
    ) -> list[Line]:
        """Take what is left of a line after its labels; what the next line continues."""
        text = plain(line.text)
        if labelled or not is_past:
            inside = key_inside(text) if is_past else None
            if inside:
                _append(now, line, 0, inside.start())
                self._take_key(question, text[inside.start(1) :], at)
                return question.notes
            _append(now, line, 0, None)
            return now
        if (key := inline_key(text)) is not None and (
            now is not question.stem or not question.block.options
        ):
            return self._take_inline(question, key, line, at)
        if inside := key_inside(text):
            _append(now, line, 0, inside.start())
            self._take_key(question, text[inside.start(1) :], at)
            return question.notes
        if note := _NOTE.fullmatch(text):
            begin = len(text) - len(note[1])
            _append(question.notes, line, begin, None)
            return question.notes
        reference = _REFERENCE.fullmatch(text)
        if reference and (question.block.options or question.is_key_known):
            question.reference = (reference[2] or reference[1]).strip("[]() ")
            return now
        is_loose = line.after_gap and now is not question.stem and now is not question.notes
        if is_loose and question.block.options:
            self._lose(at, "not part of a question; left out")
            return now
        _append(now, line, 0, None)
        return now

    def _take_inline(self, question: _Question, key: str, line: Line, at: int) -> list[Line]:
        if not key and question.is_key_known:
            _append(question.notes, line, 0, None)
            return question.notes
        self._take_key(question, key, at)
        return question.notes

    def _take_key(self, question: _Question, text: str, at: int) -> None:
        """The key that a question's own line names; a second one that differs drops both."""
        if len(PAIR.findall(text)) > 2 and is_pairs(text):
            question.doubts.append("what stands as its answer key looks like a table of several")
            return
        signs = signs_of(text)
        raw, rest = (signs[0], signs[1]) if signs else (text.strip("[]() *_"), "")
        line = self._lines[at].number
        if question.is_key_known:
            if signs and raw.lower() != question.key.lower():
                doubt = f"a second answer key ({raw}) stands beside '{question.key}'"
                question.doubts.append(doubt)
                question.key = ""
            elif not signs:
                question.notes.append(Line(line, text, False))
            return
        question.is_key_known, question.key_line = True, line
        if question.block.options and not signs:
            at_option = self._by_text(question, raw)
            if at_option is None:
                question.doubts.append(f"the answer key '{raw[:40]}' is not understood")
                return
            question.key = LETTERS[at_option]
            question.is_key_known = True
            return
        question.key = raw
        if rest:
            question.notes.append(Line(line, rest, False))

    def _by_text(self, question: _Question, text: str) -> int | None:
        folded = " ".join(plain(text).split()).casefold().strip(". ")
        labels = sorted(question.block.options, key=lambda label: (label.line, label.start))
        for label, following in zip(labels, [*labels[1:], None], strict=True):
            line = self._lines[label.line].text
            end = following.start if following and following.line == label.line else None
            if folded and " ".join(line[label.end : end].split()).casefold().strip(". ") == folded:
                return label.index
        return None

    # answer keys

    def _check_signs(self, questions: list[_Question]) -> None:
        """What kind of signs the keys are, so that one of another kind is told."""
        for question in questions:
            if question.key and question.block.options:
                self._key_rows[_row(question.key)] += 1
        for group in self._sections.groups:
            for entry in group.entries:
                if entry.signs:
                    self._key_rows[_row(entry.signs)] += 1

    def _positions(self, signs: str, question: _Question) -> tuple[int, ...] | str:
        """The options that a key's signs name, or what is wrong with them."""
        count = len(question.block.options)
        parts = [part for part in re.split(r"[^\w*?]+|\band\b", signs.strip()) if part]
        style = self._layout.options
        is_roman = "i" in style or "I" in style
        usual = self._key_rows.most_common(1)[0][0] if self._key_rows else ""
        row = _row(signs)
        if (
            usual
            and row != usual
            and not is_roman
            and self._key_rows[row] * 5 < self._key_rows[usual]
        ):
            return f"the answer key '{signs}' is of another kind than the others"
        places: list[int] = []
        for part in parts:
            place = _place(part, is_roman=is_roman)
            if place is None or place >= count:
                return f"the answer key '{part}' names none of its {count} options"
            places.append(place)
        return tuple(sorted(set(places)))

    def _lay_keys(self, parts: list[_Part], questions: list[list[_Question]]) -> None:
        """Give the keys that stand in tables to the questions of their chapter."""
        pending: list[KeyGroup] = []
        for group in self._sections.groups:
            if group.entries or group.rows:
                pending.append(group)
        titled = {_folded(part.chapter or part.subject): at for at, part in enumerate(parts)}
        untitled: dict[int, list[KeyGroup]] = {}
        for group in pending:
            at = titled.get(_folded(group.title)) if group.title else None
            if at is not None:
                self._lay(group, questions[at], parts[at])
            else:
                count = sum(1 for block in self._layout.blocks if block.start < group.after)
                untitled.setdefault(count, []).append(group)
        keyless_from = 0
        for groups in untitled.values():
            after = groups[0].after
            above = [
                at for at, part in enumerate(parts) if part.line < after and at >= keyless_from
            ]
            keyless_from = above[-1] + 1 if above else keyless_from
            if not above:
                for group in groups:
                    self._refuse(group, "stands before the questions; not used", len(parts) > 0)
            elif len(groups) == len(above):
                for group, at in zip(groups, above, strict=True):
                    self._lay(group, questions[at], parts[at])
            else:
                self._lay_over(groups, [questions[at] for at in above], [parts[at] for at in above])

    def _lay_over(
        self, groups: list[KeyGroup], questions: list[list[_Question]], parts: list[_Part]
    ) -> None:
        """Keys that are not as many as the chapters: by number where numbers don't repeat."""
        numbers = [each.number for own in questions for each in own]
        if len(set(numbers)) == len(numbers):
            everything = [each for own in questions for each in own]
            for group in groups:
                self._lay(group, everything, parts[-1])
            return
        keyless = [at for at, own in enumerate(questions) if not all(q.is_key_known for q in own)]
        if len(groups) == 1 and len(keyless) > 1 and len(questions) > 1:
            mine = {entry.number for entry in groups[0].entries}
            fitting = [at for at in keyless if {q.number for q in questions[at]} == mine]
            if fitting == [keyless[-1]]:
                self._lay(groups[0], questions[keyless[-1]], parts[keyless[-1]])
                return
        for group in groups:
            reason = f"{len(groups)} answer keys for {len(questions)} chapters; not used"
            self._refuse(group, reason, True)

    def _refuse(self, group: KeyGroup, reason: str, has_questions: bool) -> None:
        if not has_questions:
            return
        line = group.entries[0].line if group.entries else group.rows[0][0]
        self._skipped.append(Finding(line, f"an answer key {reason}"))

    def _lay(self, group: KeyGroup, questions: list[_Question], part: _Part) -> None:
        first = group.entries[0].line if group.entries else group.rows[0][0]
        keys: dict[int, tuple[str, int]] = {}
        dropped: dict[int, str] = {}
        numbers = [entry.number for entry in group.entries]
        for at, entry in enumerate(group.entries):
            number = entry.number
            if (
                0 < at < len(numbers) - 1
                and numbers[at + 1] - numbers[at - 1] == 2 != number - numbers[at - 1] + 1
            ):
                reason = (
                    f"answer key: {number} stands between {numbers[at - 1]} and {numbers[at + 1]}"
                )
                self._findings.append(Finding(entry.line, f"{reason}; not used"))
                continue
            if not entry.signs:
                continue
            held = keys.get(number)
            if held and _same(held[0], entry.signs):
                continue
            if held:
                dropped[number] = f"{held[0]} and {entry.signs}"
                reason = f"answer key: {number} occurs twice ({dropped[number]}); neither is used"
                self._findings.append(Finding(entry.line, reason))
            keys[number] = (entry.signs, entry.line)
        if group.rows:
            sheet = parse_keys("\n".join(text for _, text in group.rows))
            for problem in sheet.problems:
                self._findings.append(Finding(first, f"answer key: {problem.reason}"))
            for number, letters in sheet.keys.items():
                keys.setdefault(number, (",".join(letters), first))
        for number in dropped:
            keys.pop(number, None)
        known = Counter(question.number for question in questions)
        notes: dict[int, list[str]] = {}
        for entry in group.entries:
            if entry.notes:
                notes.setdefault(entry.number, []).extend(entry.notes)
        for question in questions:
            self._lay_on(question, keys, known, dropped, notes)
        for number in sorted(keys.keys() - known.keys()):
            reason = f"the answer key names question {number}, which isn't there"
            self._skipped.append(Finding(keys[number][1], reason))

    def _lay_on(
        self,
        question: _Question,
        keys: dict[int, tuple[str, int]],
        known: Counter[int],
        dropped: dict[int, str],
        notes: dict[int, list[str]],
    ) -> None:
        number = question.number
        if number in dropped:
            question.doubts.append(f"the answer key names both {dropped[number]}")
        if number not in keys:
            self._lay_text(question, notes.get(number, []))
        elif known[number] > 1:
            question.doubts.append(f"number {number} occurs {known[number]} times in its chapter")
        elif question.is_key_known:
            if not _same(question.key, keys[number][0]):
                doubt = (
                    f"its answer key is '{question.key}' here and '{keys[number][0]}' in the table"
                )
                question.doubts.append(doubt)
                question.key = ""
        else:
            question.key, question.key_line = keys[number]
            question.is_key_known = True
        line = keys[number][1] if number in keys else question.line
        question.notes += [
            Line(line, _without_label(text), False) for text in notes.get(number, [])
        ]

    def _lay_text(self, question: _Question, notes: list[str]) -> None:
        """The key of a table that repeats the text of an option instead of its sign."""
        is_open = notes and question.block.options and not question.is_key_known
        place = self._by_text(question, notes[0]) if is_open else None
        if place is not None:
            question.key, question.is_key_known = LETTERS[place], True
            del notes[0]

    def _keys_alone(self, drafts: list[Draft], raws: list[str]) -> None:
        """A file that is an answer key and nothing else: questions with a number and a key."""
        for group in self._sections.groups:
            keys = {
                entry.number: (entry.signs, entry.line) for entry in group.entries if entry.signs
            }
            if group.rows:
                sheet = parse_keys("\n".join(text for _, text in group.rows))
                for problem in sheet.problems:
                    self._findings.append(
                        Finding(group.rows[0][0], f"answer key: {problem.reason}")
                    )
                for number, letters in sheet.keys.items():
                    keys.setdefault(number, (",".join(letters), group.rows[0][0]))
            for number, (signs, line) in sorted(keys.items()):
                drafts.append(Draft(line=line, chapter=group.title, number=number))
                raws.append(signs.replace(" ", ""))

    # checking

    def _check_sequences(self, questions: list[list[_Question]]) -> None:
        """Numbers that stand where they can't be, and options that are not as many as usual."""
        everything = [each for own in questions for each in own]
        counts = Counter(len(each.block.options) for each in everything if each.block.options)
        usual, often = counts.most_common(1)[0] if counts else (0, 0)
        is_usual = often >= 8 and often * 10 >= sum(counts.values()) * 8
        for own in questions:
            for before, here, after in zip(own, own[1:], own[2:], strict=False):
                if after.number == before.number + 2 != here.number + 1:
                    doubt = (
                        f"number {here.number} stands between {before.number} and {after.number}"
                    )
                    here.doubts.append(doubt)
                    here.key = "" if here.key_line > self._last_line(here) else here.key
        for question in everything:
            block, count = question.block, len(question.block.options)
            if block.number and block.number.is_mended:
                sign = self._lines[block.start].text[: block.number.end].strip()
                question.doubts.append(f"its number was read as {question.number} from '{sign}'")
            if is_usual and count and count != usual:
                question.doubts.append(f"has {count} options where the others have {usual}")
            elif is_usual and not count and signs_of(question.key):
                question.doubts.append(f"has no options where the others have {usual}")
            self._check_remains(question)

    def _last_line(self, question: _Question) -> int:
        end = max(question.block.end - 1, question.block.start)
        return self._lines[min(end, len(self._lines) - 1)].number

    def _check_remains(self, question: _Question) -> None:
        """Signs that look like labels, numbers or keys inside a stem or an option."""
        block = question.block
        if not block.options:
            return
        first, until = min(label.line for label in block.options), self._until(question)
        for line in block.lost:
            doubt = f"line {self._lines[line].number} begins options that belong to no question"
            question.doubts.append(doubt)
        for stray in block.strays:
            text = plain(self._lines[stray.line].text)
            if stray.line < until and not is_referring(text, stray):
                sign = text[stray.start : stray.end].strip()
                where = "the stem" if stray.line < first else "its options"
                question.doubts.append(f"'{sign}' stands inside {where}")
                break
        if key_line := next((at for at in range(block.start, first) if at in self._keys), None):
            line = self._lines[key_line].number
            question.doubts.append(f"line {line} in its stem looks like an answer key")
        if rival := self._rivals.pop(block.start, 0):
            question.doubts.append(f"it may begin on line {rival}")
        self._check_numbers(question, first, until)
        self._check_lengths(question)

    def _check_numbers(self, question: _Question, first: int, until: int) -> None:
        """Numbers at the beginning of lines: a list in the stem counts up from 1, options have
        none, and behind them the next question may begin. `first`, `until`: the options' lines.
        """
        listed, steps = 0, set[int]()
        for number in self._marks.between(question.block.start + 1, question.block.end):
            if number.style not in (self._layout.numbers, "Q1") or not number.value:
                continue
            line = self._lines[number.line].number
            if first <= number.line < until:
                question.doubts.append(f"line {line} in its options is numbered")
                return
            if number.line < first:
                if number.value not in (1, listed + 1):
                    question.doubts.append(f"line {line} in the stem is numbered {number.value}")
                    return
                listed = number.value
            elif number.value == question.number + 1:
                reason = f"line {line} may begin question {number.value}"
                self._findings.append(Finding(line, reason))
                if number.value - 1 not in steps:
                    self._rivals[question.block.end] = line
            steps.add(number.value)

    def _check_lengths(self, question: _Question) -> None:
        """Texts over more lines than are printed of one, or with a key among them."""
        for index, lines in enumerate(question.options):
            if len(lines) > _LONG_OPTION:
                question.doubts.append(f"option {index + 1} runs over {len(lines)} lines")
            if _KEY_IN_OPTION.search(" ".join(line.text for line in lines)):
                question.doubts.append("an option holds what looks like an answer key")
        if len(question.stem) > _LONG_STEM:
            question.doubts.append(f"the stem runs over {len(question.stem)} lines")

    def _until(self, question: _Question) -> int:
        """The line before which the options end: that of the key or the explanation."""
        if question.key_line and question.key_line <= self._last_line(question):
            for at in range(question.block.start, question.block.end):
                if self._lines[at].number == question.key_line:
                    return at
        if question.notes:
            for at in range(question.block.start, question.block.end):
                if self._lines[at].number == question.notes[0].number:
                    return at
        return next(
            (
                at
                for at in range(question.block.start, question.block.end)
                if at in self._sections.closed
            ),
            question.block.end,
        )

    # finishing

    def _finish(
        self, part: _Part, question: _Question, drafts: list[Draft], raws: list[str]
    ) -> None:
        block = question.block
        if block.number is None:
            reason = "options under no question number; left out with what belongs to them"
            self._skipped.append(Finding(question.line, reason))
            self._lost |= set(range(block.start, block.end))
            if drafts:
                self._doubt(drafts[-1], "text of another question may stand after it")
            return
        raw = self._raw(question)
        draft = self._draft(part, question)
        texts = [draft.stem, draft.explanation, *(option.text for option in draft.options)]
        named = block.number.code or f"question {question.number}"
        if not draft.stem:
            reason = "has no stem"
        elif len(block.options) == 1:
            reason = "has one option only"
        elif len(block.options) > len(LETTERS):
            reason = f"has {len(block.options)} options, at most {len(LETTERS)} fit"
        elif max(map(len, texts)) > MAX_TEXT:
            reason = f"holds a text of more than {MAX_TEXT:,} characters"
        else:
            for index, option in enumerate(draft.options):
                if not option.text:
                    question.doubts.append(f"option {LETTERS[index]} is empty")
            drafts.append(draft)
            raws.append(raw)
            for doubt in question.doubts:
                self._doubt(draft, doubt)
            return
        self._lost |= set(range(block.start, block.end))
        self._skipped.append(Finding(question.line, f"{named} {reason}"))

    def _doubt(self, draft: Draft, reason: str) -> None:
        draft.to_check = draft.to_check or reason
        named = draft.code or f"question {draft.number}"
        self._findings.append(Finding(draft.line, f"{named}, to check: {reason}"))

    def _raw(self, question: _Question) -> str:
        """The question's key as letters, "" for none; what is wrong becomes a doubt."""
        if not question.block.options:
            return question.key
        marked = sorted(set(question.marked))
        if not question.key:
            if marked and not question.doubts and len(marked) < len(question.block.options):
                return ",".join(LETTERS[index] for index in marked)
            return ""
        positions = self._positions(question.key, question)
        if isinstance(positions, str):
            question.doubts.append(positions)
            return ""
        if marked and tuple(marked) != positions:
            question.doubts.append("the marked option is not the one its answer key names")
            return ""
        self._check_text(question, positions)
        return ",".join(LETTERS[index] for index in positions if index < len(LETTERS))

    def _check_text(self, question: _Question, key: tuple[int, ...]) -> None:
        """Where the text after the key is an option's, it must be the option that is named."""
        if len(key) != 1 or not question.notes or question.notes[0].number != question.key_line:
            return
        repeated = _flat(question.notes[0].text)
        options = [_flat(" ".join(line.text for line in lines)) for lines in question.options]
        if repeated and repeated in options and options[key[0]] != repeated:
            question.doubts.append(
                f"its answer key repeats the text of option {LETTERS[options.index(repeated)]}"
            )
        elif repeated and key[0] < len(options) and options[key[0]] == repeated:
            question.notes.pop(0)

    def _draft(self, part: _Part, question: _Question) -> Draft:
        stem = self._joined(question.stem)
        for directions in self._shared.get(question.block.start, ()):
            shared = self._joined([Line(0, text, False) for text in directions.text])
            stem = f"{shared}\n{stem}" if shared else stem
        number = question.block.number
        return Draft(
            line=question.line,
            subject=part.subject,
            chapter=part.chapter,
            number=question.number or None,
            code=number.code if number else "",
            stem=stem,
            options=tuple(DraftOption(self._joined(lines)) for lines in question.options),
            explanation=self._joined(question.notes),
            reference=question.reference or (number.reference if number else ""),
        )

    def _joined(self, lines: Sequence[Line]) -> str:
        """Printed lines as running text; list items, table rows, paragraphs keep their line."""
        text = ""
        for at, line in enumerate(lines):
            held = line.text.strip()
            if not held:
                continue
            if not text:
                text = held
            elif _LIST_ITEM.match(held) or (line.after_gap and at):
                text += "\n" + held
            elif (broken := _BROKEN.search(text)) and held[:1].islower():
                text = self._unbroken(text, broken[1], held)
            else:
                text += " " + held
        return text.strip()

    def _unbroken(self, text: str, before: str, held: str) -> str:
        """A word broken at the end of a line: joined if the file has it in one piece."""
        after = re.match(r"[^\W\d_]+", held)
        if self._words is None:
            self._words = {
                word.casefold()
                for line in self._lines
                for word in re.findall(r"[^\W\d_]+", line.text)
            }
        whole = (before + (after[0] if after else "")).casefold()
        return text[:-1] + held if whole in self._words else text + held

    def _tell_gaps(self, questions: list[_Question]) -> None:
        for before, after in pairwise(questions):
            if after.number - before.number > 1 and before.number:
                low, high = before.number + 1, after.number - 1
                gap = f"{low}" if low == high else f"{low}–{high}"
                reason = f"no question {gap} was found before {after.number}"
                self._findings.append(Finding(after.line, reason))

    def _tell_lost(self) -> None:
        for at in self._sections.lost:
            reason = "not understood in the answer key; left out"
            self._findings.append(Finding(self._lines[at].number, reason))

    def _tell_alternatives(self, questions: list[list[_Question]]) -> None:
        """Another layout that explains the text about as well is told."""
        if len(self._all) < 2 or self._hints.layout:
            return
        best, other = self._all[0], self._all[1]
        if best.score <= 0 or other.score < best.score * 0.9:
            return
        first = next((each for own in questions for each in own), None)
        reason = f"may also be read another way ({self._in_words(other)}); check a few"
        self._findings.append(Finding(first.line if first else 0, reason))
        for own in questions:
            for question in own:
                question.doubts.append("two layouts fit this text alike")

    def _in_words(self, layout: Layout) -> str:
        """The layout as a reader would say it."""
        options = f"options {layout.options}" if layout.options else "no options"
        keys = "no answer key"
        inline = bool(self._keys)
        if self._sections.groups:
            tables = sum(1 for group in self._sections.groups if group.entries or group.rows)
            keys = "answer keys in a table" if tables == 1 else f"answer keys in {tables} tables"
            if self._sections.groups[0].after > max((b.start for b in layout.blocks), default=0):
                keys += " at the end"
        elif inline:
            keys = "answer keys after each question"
        numbers = {"A1B02": "item codes", "Q1": "numbers Q1", "": "no numbers"}.get(
            layout.numbers, f"numbers {layout.numbers}"
        )
        return f"{numbers}, {options}, {keys}"


def _append(lines: list[Line], line: Line, begin: int, end: int | None) -> None:
    text = line.text[begin:end].strip(" \t;,") if end is not None else line.text[begin:].strip()
    if text:
        lines.append(Line(line.number, text, line.after_gap and not begin))


def _named_key(text: str) -> str | None:
    """What a line says of its question's answer key; None where it says nothing."""
    key = inline_key(text)
    if key is None and (inside := key_inside(text)):
        return inside[1]
    return key


def _row(signs: str) -> str:
    """Whether a key's signs are letters or numbers."""
    return "1" if signs.strip("()[] *")[:1].isdigit() else "a"


def _place(sign: str, *, is_roman: bool) -> int | None:
    roman = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii")
    folded = sign.lower()
    if is_roman and folded in roman:
        return roman.index(folded)
    if len(folded) == 1 and "a" <= folded <= "z":
        return ord(folded) - ord("a")
    if folded.isdigit() and 1 <= int(folded) <= 26:
        return int(folded) - 1
    return roman.index(folded) if folded in roman else None


def _same(left: str, right: str) -> bool:
    return re.findall(r"\w+", left.lower()) == re.findall(r"\w+", right.lower())


def _flat(text: str) -> str:
    return " ".join(text.casefold().split()).strip(" .")


def _is_title(text: str) -> bool:
    return (
        len(text) <= 80 and text[:1].isupper() and not text.rstrip().endswith((".", "?", ",", ";"))
    )


def _folded(title: str) -> str:
    return " ".join(title.casefold().split())


def _without_label(text: str) -> str:
    note = _NOTE.fullmatch(text)
    return note[1] if note else text
