"""Small banks, stores and clocks for tests: as much as a test names, and nothing more."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

from banks.contents import Location
from banks.library import Given, Library
from banks.store.folder import Store
from domain.questions import LETTERS, Bank, Chapter, Kind, Option, Question, Subject, slug
from domain.responses import AnyRecord, Purpose, Withdrawal
from domain.verdicts import Confidence, Verdict

MORNING = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
"""A Monday."""


class FakeClock:
    """A clock that stands still until it is told to go on."""

    def __init__(self, at: datetime = MORNING) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at

    def go_on(self, *, days: int = 0, seconds: float = 0) -> None:
        """Let time pass."""
        self.at += timedelta(days=days, seconds=seconds)


def options(*texts: str) -> tuple[Option, ...]:
    """Options a, b, c … with these texts."""
    return tuple(Option(id=LETTERS[n], text=text) for n, text in enumerate(texts))


def full(
    number: int, stem: str, texts: Iterable[str] = (), key: str = "a", **fields: object
) -> Question:
    """A question with its text; `key` holds the letters of the right options."""
    fields = {"kind": Kind.BEST, "answer_key": tuple(key)} | fields
    return Question(
        id="", chapter="", number=number, stem=stem, options=options(*texts), **fields
    )  # fmt: skip


def keyed(number: int, key: str) -> Question:
    """A question whose text is in the printed bank."""
    return Question(id="", chapter="", number=number, answer_key=tuple(key))


def bare(number: int) -> Question:
    """A question of which only the number is known."""
    return Question(id="", chapter="", number=number)


def bares(count: int) -> list[Question]:
    """Bare questions 1 to `count`."""
    return [bare(number) for number in range(1, count + 1)]


def bank(
    title: str, subjects: Mapping[str, Mapping[str, Iterable[Question]]], **fields: object
) -> Bank:
    """A bank from {subject: {chapter: questions}}; ids are made of the titles."""
    bank_id = slug(title)
    made, questions = [], {}
    for subject, chapters in subjects.items():
        placed = []
        for chapter, members in chapters.items():
            chapter_id = f"{slug(subject)}.{slug(chapter)}"
            placed.append(Chapter(chapter_id, chapter))
            for question in members:
                name = f"{bank_id}/{chapter_id}/{question.number}"
                questions[name] = Question(
                    **_fields(question) | {"id": name, "chapter": chapter_id}
                )
        made.append(Subject(slug(subject), subject, tuple(placed)))
    return Bank(id=bank_id, title=title, subjects=tuple(made), questions=questions, **fields)


def _fields(question: Question) -> dict[str, object]:
    return {name: getattr(question, name) for name in question.__struct_fields__}


def library(folder: Path, *banks: Bank, clock: FakeClock | None = None) -> Library:
    """A library over a fresh store in `folder` that holds these banks."""
    opened = Library(Store.open(folder), clock or FakeClock())
    for added in banks:
        opened.save_bank(added)
    return opened


def respond(
    opened: Library,
    question_id: str,
    *marks: str,
    confidence: Confidence = Confidence.SURE,
    purpose: Purpose = Purpose.REVISION,
) -> None:
    """One response a study day, from today on: "right", "wrong" or "blank"; moves the clock."""
    for mark in marks:
        given = Given(question=question_id, verdict=Verdict(mark), confidence=confidence)
        opened.record([given], purpose)
        opened.now.go_on(days=1)


def effective(records: Iterable[AnyRecord]) -> list[AnyRecord]:
    """What counts of a log, the plain way: each record once, oldest first, nothing withdrawn."""
    unique = {record.id: record for record in records}
    ordered = sorted(unique.values(), key=lambda record: (record.at, record.id))
    withdrawals = [record for record in ordered if isinstance(record, Withdrawal)]
    gone = {target for record in withdrawals for target in record.targets}
    return [record for record in ordered if record not in withdrawals and record.id not in gone]


def chapter_sitting(
    location: Location, purpose: Purpose, first: int = 1, last: int | None = None
) -> tuple[str, Purpose, list[str]]:
    """Title, purpose and question ids of a printed sitting over a chapter or a part of it."""
    questions = [
        question
        for question in location.bank.in_chapter(location.chapter.id)
        if question.number >= first and (last is None or question.number <= last)
    ]
    numbers = f" · {questions[0].number}–{questions[-1].number}" if questions else ""
    title = f"{location.subject.title} · {location.chapter.title}{numbers}"
    return title, purpose, [question.id for question in questions]
