"""Marks kept elsewhere → responses in the log, each once however often the file is imported."""

from collections import Counter, defaultdict
from collections.abc import Callable
from datetime import date

from msgspec import Struct

from banks.importers.common import Finding
from banks.importers.marks_reader import MarksFile, PastMark
from banks.library import Given, Library
from domain.questions import Bank, Question, normal_text
from domain.responses import Purpose
from domain.verdicts import Confidence, Verdict

_Said = tuple[str, date, Verdict, Confidence]


class PastMarks(Struct, frozen=True, kw_only=True):
    """What the marks of a file would add to the log, by study day."""

    bank: str
    encoding: str
    by_day: dict[date, list[Given]]
    known: int
    skipped: list[Finding]
    warnings: list[Finding]

    @property
    def added(self) -> int:
        """How many responses are new."""
        return sum(map(len, self.by_day.values()))


def past_marks(library: Library, bank: Bank, marks: MarksFile) -> PastMarks:
    """Find each mark's question; leave out those that the log has already."""
    questions = _questions(bank)
    have = _have(library, bank)
    by_day: dict[date, list[Given]] = defaultdict(list)
    skipped, known = list(marks.skipped), 0
    for mark in marks.marks:
        question = questions.get((_folded(mark.subject), _folded(mark.chapter), mark.number))
        problem = _problem(mark, question, library.today())
        if problem or question is None:
            skipped.append(Finding(mark.line, problem))
            continue
        said = (question.id, mark.day, mark.verdict, mark.confidence)
        if have[said] > 0:
            have[said] -= 1
            known += 1
            continue
        given = Given(question=question.id, verdict=mark.verdict, confidence=mark.confidence)
        by_day[mark.day].append(given)
    skipped.sort(key=lambda finding: finding.line)
    days = dict(sorted(by_day.items()))
    return PastMarks(
        bank=bank.id, encoding=marks.encoding, by_day=days, known=known, skipped=skipped,
        warnings=marks.warnings,
    )  # fmt: skip


def record_past(
    library: Library, found: PastMarks, progress: Callable[[float], None] | None = None
) -> None:
    """Put them into the log day by day. Stopped half-way, the same file brings in the rest."""
    for count, (day, given) in enumerate(found.by_day.items()):
        if progress:
            progress(count / len(found.by_day))
        library.record(given, Purpose.REVISION, day=day, label=f"the marks of {day}")


def _problem(mark: PastMark, question: Question | None, today: date) -> str:
    if question is None:
        place = f"{mark.subject} · {mark.chapter} · {mark.number}"
        return f"there is no question {place} in the bank"
    return f"{mark.day} lies in the future" if mark.day > today else ""


def _questions(bank: Bank) -> dict[tuple[str, str, int], Question]:
    return {
        (_folded(subject.title), _folded(chapter.title), question.number): question
        for subject in bank.subjects
        for chapter in subject.chapters
        for question in bank.in_chapter(chapter.id)
    }


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
