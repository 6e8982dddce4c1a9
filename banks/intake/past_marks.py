"""Marks kept elsewhere → responses in the log, each once however often the file is imported."""

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from itertools import islice
from typing import TypeVar

from msgspec import Struct

from banks.importers.common import Finding, refused_rows
from banks.importers.marks_reader import MarksFile, PastMark
from banks.library import Given, Library
from domain.errors import InputError
from domain.questions import Bank, Chapter, Question, Subject, normal_text
from domain.responses import Purpose
from domain.verdicts import Confidence, Verdict

T = TypeVar("T", Subject, Chapter)
_Said = tuple[str, date, Verdict, Confidence]


class PastMarks(Struct, frozen=True, kw_only=True):
    """What the marks of a file would add to the log, by study day and purpose.

    `unknown`: the words that are not understood, by field. `words`: what the candidate said that
    theirs mean, which is remembered with the bank.
    """

    name: str = ""
    bank: str
    encoding: str
    by_day: dict[tuple[date, Purpose], list[Given]]
    known: int
    skipped: list[Finding]
    warnings: list[Finding]
    unknown: dict[str, Counter[str]] = {}
    words: dict[str, str] = {}

    @property
    def added(self) -> int:
        """How many responses are new."""
        return sum(map(len, self.by_day.values()))

    @property
    def misread(self) -> str:
        """Why the file was probably not understood; "" if all is well."""
        reason = refused_rows(self.added + self.known, len(self.skipped))
        return f"probably misread: {reason}" if reason else ""

    @property
    def samples(self) -> tuple[str, ...]:
        """Three marks as they were understood."""
        given = (
            (day, purpose, mark)
            for (day, purpose), day_given in self.by_day.items()
            for mark in day_given
        )
        return tuple(
            f"{day}: {mark.question} {mark.verdict}, {mark.confidence} ({purpose})"
            for day, purpose, mark in islice(given, 3)
        )


def past_marks(
    library: Library, bank: Bank, marks: MarksFile, words: Mapping[str, str] | None = None
) -> PastMarks:
    """Find each mark's question; leave out those that the log has already."""
    places = _Places(bank)
    have = _have(library, bank)
    by_day: dict[tuple[date, Purpose], list[Given]] = defaultdict(list)
    skipped, known = list(marks.skipped), 0
    for mark in marks.marks:
        try:
            question = places.question(mark)
            if mark.day > library.today():
                raise InputError(f"{mark.day} is in the future")
        except InputError as problem:
            skipped.append(Finding(mark.line, str(problem)))
            continue
        key = (question.id, mark.day, mark.verdict, mark.confidence)
        if have[key] > 0:
            have[key] -= 1
            known += 1
            continue
        given = Given(
            question=question.id,
            verdict=mark.verdict,
            confidence=mark.confidence,
            seconds=mark.seconds,
            reason=mark.reason,
        )
        by_day[mark.day, mark.purpose].append(given)
    skipped.sort(key=lambda finding: finding.line)
    days = dict(sorted(by_day.items()))
    return PastMarks(
        bank=bank.id,
        encoding=marks.encoding,
        by_day=days,
        known=known,
        skipped=skipped,
        warnings=marks.warnings,
        unknown=marks.unknown,
        words=dict(words or {}),
    )


def record_past(
    library: Library, marks: PastMarks, progress: Callable[[float], None] | None = None
) -> None:
    """Put them into the log day by day. Stopped half-way, the same file brings in the rest."""
    kept = library.settings.import_words
    if marks.words and kept.get(marks.bank) != marks.words:
        words = kept | {marks.bank: marks.words}
        library.change_settings(import_words=words)
    for count, ((day, purpose), given) in enumerate(marks.by_day.items()):
        if progress:
            progress(count / len(marks.by_day))
        library.record(given, purpose, day=day, label=f"the marks of {day}")


class _Places:
    """Finds questions by what a person writes: titles, their beginnings, numbers of chapters."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._chapters: dict[tuple[str, str], list[Chapter]] = {}
        self._by_number = {
            (chapter.id, question.number): question
            for subject in bank.subjects
            for chapter in subject.chapters
            for question in bank.in_chapter(chapter.id)
        }
        self._by_code = {
            question.code.casefold(): question
            for question in bank.questions.values()
            if question.code
        }

    def question(self, mark: PastMark) -> Question:
        """The one question that is meant. Raises InputError where there is none, or several."""
        if mark.code:
            if question := self._by_code.get(mark.code.casefold()):
                return question
            raise InputError(f"there is no question {mark.code} in the bank")
        names = (_folded(mark.subject), _folded(mark.chapter))
        if names not in self._chapters:
            self._chapters[names] = self._named(*names)
        several = [
            question
            for chapter in self._chapters[names]
            if (question := self._by_number.get((chapter.id, mark.number)))
        ]
        if len(several) == 1:
            return several[0]
        place = " · ".join(filter(None, (mark.subject, mark.chapter, str(mark.number))))
        if several:
            raise InputError(f"{place} fits {len(several)} questions; name subject and chapter")
        raise InputError(f"there is no question {place} in the bank")

    def _named(self, subject: str, chapter: str) -> list[Chapter]:
        return [
            match
            for each in _titled(self._bank.subjects, subject)
            for match in _numbered(each, chapter) or _titled(each.chapters, chapter)
        ]


def _numbered(subject: Subject, name: str) -> list[Chapter]:
    """The chapter that bears a number, else the one at that place; none for other names."""
    number = re.fullmatch(r"(?:chapter|ch\.?)? ?(\d{1,4})", name)
    if not number:
        return []
    own = [each for each in subject.chapters if _own_number(each.title) == int(number[1])]
    return own or list(subject.chapters[int(number[1]) - 1 : int(number[1])])


def _own_number(title: str) -> int | None:
    match = re.match(r"(?:chapter |ch\. ?)?(\d{1,4})\b", title, re.IGNORECASE)
    return int(match[1]) if match else None


def _titled(candidates: Iterable[T], name: str) -> list[T]:
    """Those of this title, else those whose title begins so; all of them where none is given."""
    titles = [(_folded(each.title), each) for each in candidates]
    exact = [each for title, each in titles if title == name]
    return exact or [each for title, each in titles if title.startswith(name)]


def _have(library: Library, bank: Bank) -> Counter[_Said]:
    """What the log says already, as often as it says so."""
    history = library.history
    return Counter(
        (question, history.day(response.at), history.verdict(response), response.confidence)
        for question in history.questions()
        if question in bank.questions
        for response in history.responses(question)
    )


def _folded(title: str) -> str:
    return normal_text(title).casefold()
