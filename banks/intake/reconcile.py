"""What a file means for a bank: added, updated, unchanged, moved, retired, withdrawn.

Nothing is written here. The result is a new bank beside the list of what became of every
question, to be looked at first. A question is found again by (subject, chapter, number) and told
by its text: a number that is reused for another question never inherits the history.
"""

import dataclasses
import hashlib
import re
from collections import Counter, defaultdict, deque
from collections.abc import Callable, Iterable, Iterator, Mapping

from msgspec import Struct
from msgspec.structs import replace

from banks.importers.common import Draft, Finding, Parsed
from banks.intake.heading_index import HeadingIndex
from banks.intake.import_changes import (
    ChangeKind,
    ImportChanges,
    QuestionChange,
    ReplacedChapter,
    text_findings,
)
from domain.questions import (
    LETTERS,
    Bank,
    Figure,
    Kind,
    Option,
    Question,
    fingerprint,
    normal_text,
    question_id,
)

_STEP = 2_000
_FEWEST_REPLACED = 3
"""Fewer texts that change in a chapter are corrections."""


class _Met(Struct):
    """A draft with the place it belongs to. `old` is the question it turned out to be."""

    draft: Draft
    question: Question
    mark: str
    old: Question | None = None
    is_done: bool = False


def reconcile(
    bank: Bank,
    parsed: Parsed,
    *,
    subject: str = "",
    chapter: str = "",
    whole: bool = False,
    weights: Mapping[str, float] | None = None,
    progress: Callable[[float], None] | None = None,
) -> ImportChanges:
    """Bring what a file holds together with the bank.

    `subject`, `chapter`: titles where the file names none. `whole`: the file is a new edition of
    the whole bank, so what is not in it is withdrawn. `weights`: shares in the exam by subject.
    `progress` is called with the share done and may raise to stop.
    """
    return _Reconciling(bank, parsed, subject, chapter, weights or {}, progress).run(whole)


class _Reconciling:
    """One import against one bank."""

    def __init__(
        self,
        bank: Bank,
        parsed: Parsed,
        subject: str,
        chapter: str,
        weights: Mapping[str, float],
        progress: Callable[[float], None] | None,
    ) -> None:
        self._bank = bank
        self._parsed = parsed
        self._places = HeadingIndex(bank, subject, chapter)
        self._weights = weights
        self._progress = progress
        self._by_place = {
            (question.chapter, question.number): question
            for question in bank.questions.values()
            if not question.retired
        }
        self._claimed: set[str] = set()
        self._made: dict[str, Question] = {}
        self._made_places: set[tuple[str, int]] = set()
        self._skipped: list[Finding] = []
        self._changes: list[QuestionChange] = []
        self._unchanged = 0
        self._figures: dict[str, bytes] = {}
        self._found_again = Counter[str]()

    def run(self, whole: bool) -> ImportChanges:
        """All of it, in the order that lets no history go astray."""
        if whole and all(draft.number is None for draft in self._parsed.drafts):
            self._number_in_order()
        met = list(self._met())
        self._settle(met, self._in_place)
        movable = self._movable(met, whole)
        self._settle(met, lambda match: self._elsewhere(match, movable))
        self._settle(met, self._returned)
        self._close(met, whole)
        return self._result([] if whole else self._replaced())

    # meeting

    def _number_in_order(self) -> None:
        """Questions of a whole edition without any numbers follow one another as in the file."""
        last = Counter[str]()
        for draft in self._parsed.drafts:
            chapter = self._places.chapter_id(draft.subject, draft.chapter)
            last[chapter] += 1
            draft.number = last[chapter]

    def _met(self) -> Iterator[_Met]:
        """Each draft as a question at its place; a place that comes twice is skipped."""
        lines: dict[tuple[str, int], int] = {}
        waiting: list[tuple[str, Draft]] = []
        total = len(self._parsed.drafts) or 1
        for count, draft in enumerate(self._parsed.drafts):
            if self._progress and count % _STEP == 0:
                self._progress(count / total)
            chapter = self._places.chapter_id(draft.subject, draft.chapter)
            if draft.number is None:
                waiting.append((chapter, draft))
                continue
            place = (chapter, draft.number)
            if place in self._made_places:
                problem = f"number {draft.number} comes twice in its chapter"
                first = f"first on line {lines[place]}"
                self._skipped.append(Finding(draft.line, f"{problem} ({first})"))
                continue
            self._made_places.add(place)
            lines[place] = draft.line
            yield self._meeting(draft, chapter, draft.number)
        yield from self._numbered(waiting)

    def _meeting(self, draft: Draft, chapter: str, number: int) -> _Met:
        question = new_question(draft, "", chapter, number)
        return _Met(draft, question, text_mark(question) if self._bank.questions else "")

    def _numbered(self, waiting: list[tuple[str, Draft]]) -> Iterator[_Met]:
        """Drafts without a number: that of their code or text in the chapter, else a free one."""
        by_code = {
            (question.chapter, question.code): question.number
            for question in self._by_place.values()
            if question.code and (question.chapter, question.number) not in self._made_places
        }
        known = self._known_texts({chapter for chapter, _ in waiting})
        last = Counter[str]()
        for chapter, number in [*self._by_place, *self._made_places]:
            last[chapter] = max(last[chapter], number)
        for chapter, draft in waiting:
            match = self._meeting(draft, chapter, 0)
            same = known.get((chapter, match.mark)) if match.mark else None
            coded = by_code.pop((chapter, draft.code), 0) if draft.code else 0
            if coded and (chapter, coded) not in self._made_places:
                number = coded
            elif same:
                number = same.pop(0)
            else:
                last[chapter] += 1
                number = last[chapter]
            self._made_places.add((chapter, number))
            match.question = replace(match.question, number=number)
            yield match

    def _known_texts(self, chapters: set[str]) -> dict[tuple[str, str], list[int]]:
        known: dict[tuple[str, str], list[int]] = defaultdict(list)
        for question in sorted(self._bank.questions.values(), key=lambda question: question.number):
            place = (question.chapter, question.number)
            counts = question.stem and (question.same_as or not question.retired)
            if counts and question.chapter in chapters and place not in self._made_places:
                known[question.chapter, text_mark(question)].append(question.number)
        return known

    # finding again

    def _settle(self, met: Iterable[_Met], find: Callable[[_Met], Question | None]) -> None:
        for match in met:
            if not match.is_done and (old := find(match)) is not None:
                self._claimed.add(old.id)
                match.old, match.is_done = old, True
                self._keep(match, old)

    def _in_place(self, met: _Met) -> Question | None:
        """The question with this number, if it is this question."""
        old = self._by_place.get((met.question.chapter, met.question.number))
        if old is None or old.id in self._claimed:
            return None
        is_same = not met.mark or gains_text(old, met.question) or text_mark(old) == met.mark
        return old if is_same else None

    def _movable(self, met: Iterable[_Met], whole: bool) -> dict[str, list[Question]]:
        """By text: questions whose number another one takes (or, in a new edition, none has)."""
        taken = {(match.question.chapter, match.question.number) for match in met}
        movable: dict[str, list[Question]] = defaultdict(list)
        for place, question in self._by_place.items():
            if question.id not in self._claimed and question.stem and (whole or place in taken):
                movable[text_mark(question)].append(question)
        return movable

    def _elsewhere(self, met: _Met, movable: dict[str, list[Question]]) -> Question | None:
        """The question with this text that stood at another number."""
        same = movable.get(met.mark) if met.mark else None
        return same.pop(0) if same else None

    def _returned(self, met: _Met) -> Question | None:
        """A question that was retired from this very place and comes back with the same text."""
        if not met.mark:
            return None
        plain = question_id(self._bank.id, met.question.chapter, met.question.number)
        for name in (plain, f"{plain}~{fingerprint(met.question)[:6]}"):
            old = self._bank.questions.get(name)
            if old and old.retired and old.id not in self._claimed and text_mark(old) == met.mark:
                return old
        return None

    # noting

    def _keep(self, met: _Met, old: Question) -> None:
        after = refreshed(old, met.question)
        self._take_figures(met.draft)
        self._found_again[old.chapter] += bool(old.stem)
        if after == old or old.same_as:  # a joined duplicate stays joined
            self._unchanged += 1
            return
        met.question = self._made[after.id] = after
        self._changes.append(QuestionChange(_what(old, after), met.draft.line, old, after))

    def _close(self, met: list[_Met], whole: bool) -> None:
        """What was not found again is new; what lost its number to another, or to none, retires."""
        for match in met:
            if not match.is_done:
                self._add(match)
        for match in met:
            replaced = self._by_place.get((match.question.chapter, match.question.number))
            if replaced is not None and replaced.id not in self._claimed:
                self._retire(replaced, ChangeKind.RETIRED, match.draft.line, match.question)
        for question in self._by_place.values() if whole else ():
            if question.id not in self._claimed:
                self._retire(question, ChangeKind.WITHDRAWN, 0, None)

    def _add(self, met: _Met) -> None:
        met.question = added = replace(met.question, id=self._new_id(met.question))
        before = self._by_place.get((added.chapter, added.number))
        self._made[added.id] = added
        self._take_figures(met.draft)
        self._changes.append(QuestionChange(ChangeKind.ADDED, met.draft.line, before, added))

    def _retire(self, old: Question, what: ChangeKind, line: int, after: Question | None) -> None:
        self._claimed.add(old.id)
        self._made[old.id] = replace(old, retired=True)
        self._changes.append(QuestionChange(what, line, old, after))

    def _new_id(self, question: Question) -> str:
        """The place's own identity; with a mark of the text where that was given away before."""
        place = (self._bank.id, question.chapter, question.number)
        name = question_id(*place)
        for length in (6, 12):
            if name not in self._bank.questions and name not in self._made:
                break
            name = question_id(*place, text_mark=fingerprint(question)[:length])
        return name

    def _take_figures(self, draft: Draft) -> None:
        for name, _, content in draft.figures:
            self._figures[figure_name(name, content)] = content

    def _replaced(self) -> list[ReplacedChapter]:
        lost = Counter(
            change.before.chapter
            for change in self._changes
            if change.what is ChangeKind.RETIRED and change.before
        )
        chapters = (chapter for subject in self._places.subjects() for chapter in subject.chapters)
        titles = {chapter.id: chapter.title for chapter in chapters}
        return [
            ReplacedChapter(titles[chapter], count, self._found_again[chapter])
            for chapter, count in lost.items()
            if count >= _FEWEST_REPLACED and count > self._found_again[chapter]
        ]

    def _result(self, replaced: list[ReplacedChapter]) -> ImportChanges:
        subjects = [
            replace(subject, weight=self._weights.get(subject.title, subject.weight))
            for subject in self._places.subjects()
        ]
        bank = self._bank.with_subjects(subjects).with_questions(self._made.values())
        changes = sorted(self._changes, key=lambda change: (change.line == 0, change.line))
        return ImportChanges(
            bank=dataclasses.replace(bank, option_count=_option_count(bank, self._made.values())),
            changes=changes,
            unchanged=self._unchanged,
            skipped=sorted(self._parsed.skipped + self._skipped, key=lambda finding: finding.line),
            warnings=[*self._parsed.warnings, *text_findings(changes)],
            figures=self._figures,
            replaced=replaced,
        )


def _option_count(bank: Bank, made: Iterable[Question]) -> int:
    """How many options the printed questions have: more when a key names a later letter."""
    letters = {
        part
        for question in made
        if not question.stem and question.kind in CHOICES
        for part in question.answer_key
    }
    named = [LETTERS.index(letter) + 1 for letter in letters if letter in LETTERS]
    return max([bank.option_count, *named])


def _what(old: Question, after: Question) -> ChangeKind:
    if (old.chapter, old.number) != (after.chapter, after.number):
        return ChangeKind.MOVED
    if old.answer_key and old.answer_key != after.answer_key:
        return ChangeKind.KEY_CHANGED
    return ChangeKind.UPDATED


CHOICES = (Kind.BEST, Kind.MULTIPLE, Kind.TRUE_FALSE)
"""The kinds whose key holds options."""


def new_question(draft: Draft, question_id: str, chapter: str, number: int) -> Question:
    """The question as the draft has it; options are named a, b, c… in the printed order."""
    letters = draft.options
    return Question(
        id=question_id,
        chapter=chapter,
        number=number,
        kind=draft.kind,
        stem=draft.stem,
        options=tuple(
            [
                Option(letter, option.text, option.fixed, option.explanation)
                for letter, option in zip(LETTERS, letters, strict=False)
            ]
        ),
        answer_key=tuple([LETTERS[at] if isinstance(at, int) else at for at in draft.key]),
        tolerance=draft.tolerance,
        explanation=draft.explanation,
        reference=draft.reference,
        tags=tuple(draft.tags),
        figures=tuple(Figure(figure_name(name, held), alt) for name, alt, held in draft.figures),
        credit={LETTERS[at]: mark for at, mark in draft.credit},
        shuffle=draft.shuffle,
        code=draft.code,
        to_check=draft.to_check,
    )


def figure_name(name: str, content: bytes) -> str:
    """The name of a figure beside its bank: told apart by content, so none overwrites another."""
    mark = f"{hashlib.sha256(content).hexdigest()[:8]}-"
    return mark + name.rpartition("/")[2].removeprefix(mark)


def text_mark(question: Question) -> str:
    """The question's fingerprint with all choice kinds alike, "" for one without a text.

    A corrected key may turn a single best answer into a multiple response; it stays the same
    question. So does one in which a word gains or loses a hyphen.
    """
    if not question.stem:
        return ""
    if question.kind in (Kind.MULTIPLE, Kind.TRUE_FALSE):
        question = replace(question, kind=Kind.BEST)
    if _HYPHEN.search(question.stem) or any(_HYPHEN.search(each.text) for each in question.options):
        options = (replace(each, text=_unhyphened(each.text)) for each in question.options)
        question = replace(question, stem=_unhyphened(question.stem), options=tuple(options))
    return fingerprint(question)


_HYPHEN = re.compile(r"(?<=[^\W\d_])[-\u2010\u2011](?=[^\W\d_])")


def _unhyphened(text: str) -> str:
    return _HYPHEN.sub("", normal_text(text))


def gains_text(old: Question, new: Question) -> bool:
    """Whether a question known by number only (or by stem only) gets its text or options."""
    if not old.stem:
        return True
    is_printed_choice = not old.options and old.kind in CHOICES and bool(new.options)
    return is_printed_choice and normal_text(old.stem) == normal_text(new.stem)


def refreshed(old: Question, new: Question) -> Question:
    """What is known of a question after it was met again: identity and history stay with it.

    `new` has the same text, or brings the text, or is no more than a number or a key. What it
    does not say is kept. Options keep their ids by text, so that old responses still point to
    what was chosen, in whatever order the options are printed now. White space alone changes
    nothing.
    """
    place = {"id": old.id, "chapter": new.chapter, "number": new.number, "retired": False}
    if not new.stem:
        key = new.answer_key or old.answer_key
        kind = old.kind if old.stem or not new.answer_key else new.kind
        return replace(old, **place, answer_key=key, kind=kind)
    names = _names(old, new)
    known = {option.id: option.text for option in old.options}
    options = tuple(
        replace(option, id=names[option.id], text=_kept(known.get(names[option.id]), option.text))
        for option in new.options
    )
    is_same_stem = normal_text(old.stem) == normal_text(new.stem)
    is_same_text = text_mark(old) == text_mark(new)
    key = tuple(names.get(part, part) for part in new.answer_key)
    if new.kind in CHOICES:
        key = tuple(sorted(key))
    return replace(
        new,
        **place,
        stem=old.stem if is_same_stem else new.stem,
        options=options,
        kind=new.kind if key else old.kind,
        answer_key=key or old.answer_key,
        tolerance=new.tolerance or old.tolerance,
        explanation=new.explanation or old.explanation,
        reference=new.reference or old.reference,
        tags=tuple(dict.fromkeys(old.tags + new.tags)),
        figures=new.figures or old.figures,
        credit={names[name]: mark for name, mark in new.credit.items()} or old.credit,
        shuffle=new.shuffle and old.shuffle,
        code=new.code or old.code,
        to_check=old.to_check if is_same_text and key == old.answer_key else new.to_check,
    )


def _kept(old: str | None, new: str) -> str:
    """The old text where white space alone has changed."""
    return old if old is not None and normal_text(old) == normal_text(new) else new


def _names(old: Question, new: Question) -> dict[str, str]:
    """The new question's option ids → the old ids of the options with the same texts.

    Twins take the old ids in order. Where the old question had no options, the ids stand.
    """
    if not old.options:
        return {option.id: option.id for option in new.options}
    names: dict[str, str] = {}
    for alike in (normal_text, _unhyphened):
        waiting: dict[str, deque[str]] = defaultdict(deque)
        for option in old.options:
            if option.id not in names.values():
                waiting[alike(option.text)].append(option.id)
        for option in new.options:
            if option.id not in names and waiting[alike(option.text)]:
                names[option.id] = waiting[alike(option.text)].popleft()
    return names
