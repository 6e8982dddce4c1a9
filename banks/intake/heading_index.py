"""Headings as a file has them → the bank's own subjects and chapters, made where they are new."""

import hashlib
from collections.abc import Container

from msgspec.structs import replace

from domain.errors import InputError
from domain.questions import Bank, Chapter, Subject, free_name, normal_text, slug

DEFAULT_CHAPTER = "Questions"
"""The chapter of questions whose file names none."""


class HeadingIndex:
    """Finds the chapter that a pair of titles means; new headings are added at the end.

    Titles are the same when they are but for case and white space. Ids are made of the titles
    alone, so that two machines importing the same book agree.
    """

    def __init__(self, bank: Bank, subject: str = "", chapter: str = "") -> None:
        self._default_subject = subject or _only_subject(bank) or bank.title
        self._default_chapter = chapter or DEFAULT_CHAPTER
        self._subjects = {subject.id: subject for subject in bank.subjects}
        self._by_title = {_folded(subject.title): subject.id for subject in bank.subjects}
        self._known: dict[tuple[str, str], str] = {}
        self._chapters = {
            (subject.id, _folded(chapter.title)): chapter.id
            for subject in bank.subjects
            for chapter in subject.chapters
        }
        self._taken = set(self._chapters.values())

    def chapter_id(self, subject: str, chapter: str) -> str:
        """The id of the chapter with these titles; "" stands for the import's default."""
        pair = (subject, chapter)
        if pair not in self._known:
            self._known[pair] = self._find(
                subject or self._default_subject, chapter or self._default_chapter
            )
        return self._known[pair]

    def subjects(self) -> tuple[Subject, ...]:
        """All subjects, the bank's own first."""
        return tuple(self._subjects.values())

    def _find(self, subject_title: str, chapter_title: str) -> str:
        subject = self._subject(subject_title)
        known = self._chapters.get((subject.id, _folded(chapter_title)))
        if known is not None:
            return known
        name = f"{subject.id}/{slug(chapter_title)}"
        chapter = Chapter(_free(name, chapter_title, self._taken), normal_text(chapter_title))
        self._taken.add(chapter.id)
        self._chapters[subject.id, _folded(chapter_title)] = chapter.id
        self._subjects[subject.id] = replace(subject, chapters=(*subject.chapters, chapter))
        return chapter.id

    def _subject(self, title: str) -> Subject:
        subject_id = self._by_title.get(_folded(title))
        if subject_id is None:
            subject_id = _free(slug(title), title, self._subjects.keys())
            self._by_title[_folded(title)] = subject_id
            self._subjects[subject_id] = Subject(subject_id, normal_text(title))
        return self._subjects[subject_id]


def _only_subject(bank: Bank) -> str:
    return bank.subjects[0].title if len(bank.subjects) == 1 else ""


def _folded(title: str) -> str:
    return normal_text(title).casefold()


def _free(name: str, title: str, taken: Container[str]) -> str:
    """The id wanted, or one told apart by the title where another title has made the same."""
    if name not in taken:
        return name
    return f"{name}-{hashlib.sha256(_folded(title).encode()).hexdigest()[:6]}"


def new_bank(title: str, taken: Container[str]) -> Bank:
    """An empty bank with an id that no other has. Raises InputError for an empty title."""
    title = normal_text(title)
    if not title:
        raise InputError("a bank needs a title; nothing was changed")
    return Bank(id=free_name(slug(title), taken), title=title)


def with_chapter(bank: Bank, subject: str, chapter: str) -> tuple[Bank, str]:
    """The bank with a chapter of this title in a subject of that, and the chapter's id.

    Headings that are there already are not made again. Raises InputError for an empty title.
    """
    if not subject.strip() or not chapter.strip():
        raise InputError("a subject and a chapter need a title; nothing was changed")
    places = HeadingIndex(bank)
    chapter_id = places.chapter_id(normal_text(subject), normal_text(chapter))
    return bank.with_subjects(places.subjects()), chapter_id
