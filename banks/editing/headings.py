"""New banks, subjects and chapters made by hand."""

from collections.abc import Container

from banks.intake.heading_index import HeadingIndex
from domain.errors import InputError
from domain.questions import Bank, normal_text, slug


def new_bank(title: str, taken: Container[str]) -> Bank:
    """An empty bank with an id that no other has. Raises InputError for an empty title."""
    title = normal_text(title)
    if not title:
        raise InputError("a bank needs a title; nothing was changed")
    plain = name = slug(title)
    number = 2
    while name in taken:
        name, number = f"{plain}-{number}", number + 1
    return Bank(id=name, title=title)


def with_chapter(bank: Bank, subject: str, chapter: str) -> tuple[Bank, str]:
    """The bank with a chapter of this title in a subject of that, and the chapter's id.

    Headings that are there already are not made again. Raises InputError for an empty title.
    """
    if not subject.strip() or not chapter.strip():
        raise InputError("a subject and a chapter need a title; nothing was changed")
    places = HeadingIndex(bank)
    chapter_id = places.chapter_id(normal_text(subject), normal_text(chapter))
    return bank.with_subjects(places.subjects()), chapter_id
