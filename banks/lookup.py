"""Finding a bank, subject or chapter by what a person types: id, title, or the start of either."""

from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from banks.contents import Location, StoreContents
from domain.errors import InputError
from domain.questions import Bank, Chapter, Question, Subject

T = TypeVar("T", Bank, Subject, Chapter)
_NAMED = 6
"""So many titles are named at most."""


def find_bank(library: StoreContents, name: str | None) -> Bank:
    """The bank meant; without a name the only one there is. Raises InputError."""
    banks = list(library.banks.values())
    if name is None:
        if len(banks) == 1:
            return banks[0]
        if not banks:
            raise InputError("no bank yet; create one with `resieve outline` or `resieve import`")
        known = ", ".join(bank.id for bank in banks)
        raise InputError(f"several banks exist; choose one with --bank: {known}")
    return _pick("bank", name, banks)


def find_subject(bank: Bank, name: str) -> Subject:
    """The subject meant. Raises InputError."""
    return _pick("subject", name, bank.subjects)


def find_chapter(subject: Subject, name: str) -> Chapter:
    """The chapter meant, by title or by its place in the subject (1-based). Raises InputError."""
    if name.isdecimal() and 1 <= int(name) <= len(subject.chapters):
        return subject.chapters[int(name) - 1]
    return _pick("chapter", name, subject.chapters)


def find_place(library: StoreContents, bank: str | None, subject: str, chapter: str) -> Location:
    """Bank, subject and chapter at once. Raises InputError."""
    found_bank = find_bank(library, bank)
    found_subject = find_subject(found_bank, subject)
    return Location(found_bank, found_subject, find_chapter(found_subject, chapter))


def titled(name: str, titles: Mapping[str, str]) -> list[str]:
    """The keys whose title is `name`, else those whose title begins with it; case aside."""
    folded_name = name.casefold()
    folded = {key: title.casefold() for key, title in titles.items()}
    return [key for key, title in folded.items() if title == folded_name] or [
        key for key, title in folded.items() if title.startswith(folded_name)
    ]


def by_number(bank: Bank, chapter: Chapter) -> dict[int, Question]:
    """The chapter's active questions by number."""
    return {question.number: question for question in bank.in_chapter(chapter.id)}


def _pick(what: str, name: str, candidates: Iterable[T]) -> T:
    """The only candidate that fits, exactly before by its beginning."""
    known = list(candidates)
    folded = name.casefold().strip()
    tests: tuple[Callable[[T], bool], ...] = (
        lambda candidate: folded in (candidate.id.casefold(), candidate.title.casefold()),
        lambda candidate: candidate.title.casefold().startswith(folded),
        lambda candidate: folded in candidate.title.casefold(),
    )
    for fits in tests:
        matches = [candidate for candidate in known if fits(candidate)]
        if len(matches) == 1:
            return matches[0]
        if matches:
            fitting = ", ".join(candidate.title for candidate in matches[:_NAMED])
            raise InputError(f"{what} {name!r}: matches more than one: {fitting}")
    titles = [candidate.title for candidate in known]
    raise InputError(f"{what} {name!r}: not found; {_hint(name, titles)}")


def _hint(name: str, titles: list[str]) -> str:
    """What else could have been meant."""
    from difflib import get_close_matches  # most names are right

    if near := get_close_matches(name, titles, n=3, cutoff=0.5):
        return f"did you mean: {', '.join(near)}"
    if not titles:
        return "there is none yet"
    return f"there are: {', '.join(titles[:_NAMED])}" + ("…" if len(titles) > _NAMED else "")
