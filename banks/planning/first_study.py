"""First study: which subjects and chapters were studied already, which wait, what comes next.

A chapter counts as studied when the candidate says so (`FirstStudyDone`) or when each of its
questions was tried. Ids are `<bank>/<subject>` and `<bank>/<chapter>`.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from banks.lookup import titled
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from domain.errors import InputError
from domain.plan.inputs import PlanInputs, SubjectOpens
from domain.questions import Bank
from domain.responses import FirstStudyDone
from domain.tiers import Tier

if TYPE_CHECKING:
    from banks.contents import StoreContents
    from banks.library import Library

ALL, NONE = "all", "none"
_LABEL = "the first study"


class StudiedAlready(Struct, frozen=True):
    """What the candidate says when the plan is set up: these subjects are studied already, the
    others can be revised from `others_from` on.
    """

    subjects: tuple[str, ...]
    others_from: date | None = None


class ChapterStudy(Struct, frozen=True):
    """A chapter whose first study is next; `questions` are those not tried before today, each by
    number and id.
    """

    subject: str
    chapter: str
    questions: tuple[tuple[int, str], ...]


class StudyState(Struct, frozen=True):
    """A chapter's first study, in titles: the questions tried, the day on which it was said to be
    done, and the day from which its subject is revised where that lies ahead.
    """

    subject: str
    chapter: str
    questions: int
    tried: int
    said_done: date | None
    revised_from: date | None


class FirstStudies:
    """What was said to be studied, and when."""

    def __init__(self, library: "StoreContents") -> None:
        self._days: dict[str, date] = {}
        for record in library.history.records_of(FirstStudyDone):
            self._days[f"{record.bank}/{record.chapter or record.subject}"] = record.day

    def day_of(self, subject: str, chapter: str) -> date | None:
        """The day on which the chapter's first study was said to be done; None: it was not."""
        days = [day for name in (subject, chapter) if (day := self._days.get(name))]
        return min(days, default=None)

    def is_said(self, subject: str) -> bool:
        """Whether the whole subject was said to be studied."""
        return subject in self._days


def say_studied(library: "Library", bank: str, subject: str, chapter: str = "") -> None:
    """Put on record that a chapter, or the whole subject (""), was studied.

    A subject that the plan was to begin later can be revised from today on. One act, undoable.
    """
    name = f"{bank}/{subject}"
    with library.one_act(_LABEL):
        _record(library, bank, subject, chapter)
        if not chapter and name in waiting_subjects(library):
            open_subject(library, name, library.today())


def say_subjects_studied(library: "Library", subjects: Sequence[str]) -> None:
    """Put on record that these were studied, those aside of which it was said before."""
    studies = FirstStudies(library)
    for name in subjects:
        if not studies.is_said(name):
            bank, _, subject = name.partition("/")
            _record(library, bank, subject)


def _record(library: "Library", bank: str, subject: str, chapter: str = "") -> None:
    library.put_on_record(
        FirstStudyDone,
        label=_LABEL,
        bank=bank,
        subject=subject,
        chapter=chapter,
        day=library.today(),
    )


def open_subject(library: "Library", subject: str, day: date) -> None:
    """Let the plan revise a subject from this day on. Raises InputError."""
    inputs = library.settings.plan
    inputs = replace(inputs, open_from=_with_day(inputs.open_from, subject, day))
    if inputs.is_set_up:
        accept(library, inputs)
    else:
        library.accept_plan(inputs)


def _with_day(opens: Sequence[SubjectOpens], subject: str, day: date) -> tuple[SubjectOpens, ...]:
    return (
        *(opening for opening in opens if opening.subject != subject),
        SubjectOpens(subject, day),
    )


def waiting_subjects(library: "Library", inputs: PlanInputs | None = None) -> dict[str, date]:
    """The subjects that can be revised only from a later day on, with that day."""
    typed = {
        opening.subject: opening.day for opening in (inputs or library.settings.plan).open_from
    }
    days = {
        f"{bank.id}/{subject.id}": typed.get(f"{bank.id}/{subject.id}", subject.open_from)
        for bank in library.banks.values()
        for subject in bank.subjects
    }
    return {name: day for name, day in days.items() if day and day > library.today()}


def study_states(library: "Library", bank: Bank) -> Iterator[StudyState]:
    """The first study of each chapter of a bank, in book order."""
    studies, waiting = FirstStudies(library), waiting_subjects(library)
    for subject in bank.subjects:
        name = f"{bank.id}/{subject.id}"
        for chapter in subject.chapters:
            ids = bank.index.ids_in(chapter.id)
            tiers = [library.history.standing(name).tier for name in ids]
            yield StudyState(
                subject.title,
                chapter.title,
                len(ids),
                sum(tier is not Tier.UNTRIED for tier in tiers),
                studies.day_of(name, f"{bank.id}/{chapter.id}"),
                waiting.get(name),
            )


def next_chapters(library: "Library", workload: PlanWorkload) -> Iterator[ChapterStudy]:
    """The chapters whose first study waits, the subject that opens first first, in book order.

    What was tried today still stands in its chapter.
    """
    studies, waiting = FirstStudies(library), waiting_subjects(library)
    planned = [name for name in workload.locations if name in waiting]
    for subject in sorted(planned, key=lambda name: waiting[name]):
        by_chapter: dict[str, list[tuple[int, str]]] = {}
        for chapter, number, name in workload.active_ids(subject):
            tried = library.history.standing_before(name, workload.today)
            if tried.tier is Tier.UNTRIED and studies.day_of(subject, chapter) is None:
                by_chapter.setdefault(chapter, []).append((number, name))
        for chapter, questions in by_chapter.items():
            yield ChapterStudy(subject, chapter, tuple(questions))


def parse_studied(text: str, others_from: date | None, bank: Bank) -> StudiedAlready | None:
    """`all`, `none` or subjects by the beginning of their titles; None where nothing is said.

    Raises InputError for a subject that is not there, or without a day for the others.
    """
    words = [word.strip() for word in text.split(",") if word.strip()]
    if not words:
        return None
    titles = {f"{bank.id}/{subject.id}": subject.title for subject in bank.subjects}
    if len(words) == 1 and words[0].casefold() in (ALL, NONE):
        subjects = tuple(titles) if words[0].casefold() == ALL else ()
    else:
        subjects = tuple(_subject_named(word, titles) for word in words)
    if len(set(subjects)) < len(titles) and others_from is None:
        raise InputError("from which day can the subjects not studied yet be revised?")
    return StudiedAlready(subjects, others_from)


def _subject_named(word: str, titles: dict[str, str]) -> str:
    matches = titled(word, titles)
    if len(matches) != 1:
        how = "fits more than one subject" if matches else "is no subject"
        raise InputError(f'studied already: "{word}" {how}; write all, none or their titles')
    return matches[0]


def with_studied(inputs: PlanInputs, bank: Bank, studied: StudiedAlready) -> PlanInputs:
    """The plan's inputs with the day from which the subjects not studied can be revised."""
    known = {f"{bank.id}/{subject.id}" for subject in bank.subjects}
    kept = [opening for opening in inputs.open_from if opening.subject not in known]
    if studied.others_from is not None:
        waiting = sorted(known.difference(studied.subjects))
        kept += [SubjectOpens(name, studied.others_from) for name in waiting]
    return replace(inputs, open_from=tuple(kept))


def studied_text(library: "Library", bank: Bank) -> str:
    """What was said, as `parse_studied` reads it."""
    studies = FirstStudies(library)
    names = {f"{bank.id}/{subject.id}": subject.title for subject in bank.subjects}
    waiting = waiting_subjects(library)
    studied = [title for name, title in names.items() if studies.is_said(name)]
    if studied:
        return ALL if len(studied) == len(names) else ", ".join(studied)
    return NONE if names and all(name in waiting for name in names) else ""
