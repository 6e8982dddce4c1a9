"""A bank's headings as one list: banks, their subjects, their chapters, with what is in each."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta

from msgspec import Struct

from banks.exporters.question_rows import Histories, book_order, marked
from banks.library import Library
from banks.planning.workload import banks_that_count
from banks.views.triage import Row
from domain.errors import InputError
from domain.plan.study_plan import EntryKind
from domain.questions import Bank, Question, Trait, bank_of


class BankHeading(Struct, frozen=True):
    """A line of the list. An empty id lies above: no subject is a bank, no bank is everything."""

    title: str
    bank: str = ""
    subject: str = ""
    chapter: str = ""
    questions: int = 0

    @property
    def depth(self) -> int:
        """0 everything, 1 a bank, 2 a subject, 3 a chapter."""
        return bool(self.bank) + bool(self.subject) + bool(self.chapter)


class BankState(Struct, frozen=True):
    """A bank, its active questions, and whether it counts in the plan."""

    id: str
    title: str
    subjects: int
    questions: int
    counts: bool


def bank_states(library: Library) -> list[BankState]:
    """Every bank in its order."""
    counting = banks_that_count(library)
    return [
        BankState(
            bank.id, bank.title, len(bank.subjects), bank.index.active_count, bank.id in counting
        )
        for bank in library.banks.values()
    ]


def all_banks_count(library: Library) -> bool:
    """Whether there is no bank that does not count in the plan."""
    return banks_that_count(library) == library.banks.keys()


def headings(library: Library) -> list[BankHeading]:
    """Everything, then each bank with its subjects and chapters, in the banks' order."""
    lines = [line for bank in library.banks.values() for line in _lines(bank)]
    total = sum(line.questions for line in lines if line.depth == 1)
    return [BankHeading("All questions", questions=total), *lines]


def _lines(bank: Bank) -> Iterator[BankHeading]:
    counts = {
        chapter.id: len(bank.index.rows_in(chapter.id))
        for subject in bank.subjects
        for chapter in subject.chapters
    }
    yield BankHeading(bank.title, bank.id, questions=sum(counts.values()))
    for subject in bank.subjects:
        total = sum(counts[chapter.id] for chapter in subject.chapters)
        yield BankHeading(subject.title, bank.id, subject.id, questions=total)
        for chapter in subject.chapters:
            yield BankHeading(chapter.title, bank.id, subject.id, chapter.id, counts[chapter.id])


class MarkableChapter(Struct, frozen=True):
    """A chapter, or the part of one that the plan had `days_back` days ago (None: not planned)."""

    subject: str
    chapter: str
    questions: tuple[str, ...]
    span: str
    days_back: int | None = None

    @property
    def title(self) -> str:
        """What a sitting over it is called."""
        return f"{self.subject} · {self.chapter} · {self.span}"


def markable_chapters(library: Library) -> list[MarkableChapter]:
    """What can be marked: first what the plan had yesterday and has today that isn't answered
    yet, then every chapter in the banks' order.
    """
    return [*_planned(library), *_chapters(library)]


def _chapters(library: Library) -> Iterator[MarkableChapter]:
    for bank in library.banks.values():
        for subject in bank.subjects:
            for chapter in subject.chapters:
                if chapter_work := markable_chapter(bank, chapter.id):
                    yield chapter_work


def _planned(library: Library) -> Iterator[MarkableChapter]:
    """The parts of yesterday's block and of today's without a response on that day or later."""
    from banks.planning.workload import PlanWorkload

    if not library.settings.plan.is_set_up:
        return
    workload = PlanWorkload(library)
    for days_back in (1, 0):
        day = library.today() - timedelta(days=days_back)
        try:
            entries = workload.plan(day).on(day)
        except InputError:  # no plan can be made of the inputs
            continue
        for entry in entries:
            for part in entry.parts if entry.kind is EntryKind.BLOCK else ():
                numbered = list(workload.ids_of(part.chapter or "", part.numbers))
                lasts = (library.history.standing(name).last for _, name in numbered)
                if not numbered or all(last is not None and last >= day for last in lasts):
                    continue
                bank_id, _, chapter = (part.chapter or "").partition("/")
                yield _markable(library.bank(bank_id), chapter, numbered, days_back)


def markable_chapter(bank: Bank, chapter: str) -> MarkableChapter | None:
    """A whole chapter as it is marked; None where it has no questions."""
    index = bank.index
    numbered = list(zip(index.numbers_in(chapter), index.ids_in(chapter), strict=True))
    return _markable(bank, chapter, numbered) if numbered else None


def _markable(
    bank: Bank, chapter: str, numbered: Sequence[tuple[int, str]], days_back: int | None = None
) -> MarkableChapter:
    """Questions of a chapter, by number and id."""
    titles = bank.subject_of(chapter).title, bank.chapter(chapter).title
    span = f"{numbered[0][0]}–{numbered[-1][0]}"
    return MarkableChapter(*titles, tuple(name for _, name in numbered), span, days_back)


def retired_rows(library: Library) -> list[Row]:
    """Every question that was taken out of use, in the banks' order."""
    return [
        _row(library, bank.questions[name])
        for bank in library.banks.values()
        for name in bank.index.ids_with(Trait.RETIRED)
    ]


def rows_to_check(library: Library) -> list[Row]:
    """Every question in use that should be compared with the print, by chapter and number."""
    to_check = (
        bank.questions[name]
        for bank in library.banks.values()
        for name in bank.index.ids_with(Trait.TO_CHECK)
    )
    return _by_place(library, [question for question in to_check if not question.retired])


def disputed_rows(library: Library) -> list[Row]:
    """Every question in use whose key the candidate disputes, by chapter and number."""
    return _active_rows(library, library.history.disputed())


def noted_rows(library: Library) -> list[Row]:
    """Every question in use on which the candidate wrote a note, by chapter and number."""
    return _active_rows(library, library.history.noted())


def notes(library: Library) -> dict[str, str]:
    """The newest note of each question in use that has one."""
    return {row.id: library.history.note(row.id) for row in noted_rows(library)}


def marked_histories(library: Library, bank: Bank) -> Histories:
    """What was marked of each active question of a bank, and where it stands today."""
    today = library.today()
    ids = [located.question.id for located in book_order(bank)]
    return {question_id: marked(library.history, question_id, today) for question_id in ids}


def _active_rows(library: Library, ids: Iterable[str]) -> list[Row]:
    known = (question for question_id in set(ids) if (question := library.question(question_id)))
    return _by_place(library, [question for question in known if not question.retired])


def _by_place(library: Library, questions: list[Question]) -> list[Row]:
    questions.sort(key=lambda question: (bank_of(question.id), question.chapter, question.number))
    return [_row(library, question) for question in questions]


def _row(library: Library, question: Question) -> Row:
    location, standing = library.location(question), library.history.standing(question.id)
    return Row(question.id, question.number, location, standing)
