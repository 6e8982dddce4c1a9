"""The exam's blueprint: as it was set, or made from the banks; and its subjects' titles."""

import re
from collections.abc import Mapping

from msgspec.structs import replace

from banks.library import Library
from banks.views.evidence_log import EvidenceLog
from domain.errors import InputError
from domain.marking.blueprint import Blueprint, Draw, Section, even_sections
from domain.marking.schemes import MultipleRule, parse_scheme

_SECTION = re.compile(r"(?P<title>.+?)\s+(?P<questions>\d+)(?:\s+(?P<scheme>[+\d].*))?")
QUESTIONS = 100
"""Questions of the paper that is made where none was set; a minute each."""


def blueprint(library: Library, reading: EvidenceLog) -> Blueprint:
    """The paper that was set, without what the banks no longer hold, or one made of all subjects.

    Sections name subjects by their key, "bank/subject".
    """
    everything = {key: subject.questions for key, subject in reading.subjects.items()}
    return _set(library, reading) or made(reading, QUESTIONS, QUESTIONS, everything)


def drawable(library: Library, reading: EvidenceLog) -> Blueprint:
    """The paper that was set, or one made of the questions that have a key to be marked by.

    Raises InputError when there are none.
    """
    if not reading.keyed.total():
        raise InputError(
            "a mock paper needs questions with a key: import some, or key in a chapter's key"
        )
    return _set(library, reading) or made(reading, QUESTIONS, QUESTIONS, reading.keyed)


def made(
    reading: EvidenceLog, questions: int, minutes: int, available: Mapping[str, int]
) -> Blueprint:
    """A paper of so many questions over the subjects that have any available, by their weight."""
    weights = [(key, one.weight) for key, one in reading.subjects.items() if available[key]]
    sections = even_sections(weights, questions) if any(weight for _, weight in weights) else ()
    return Blueprint(sections=_at_most(sections, available), minutes=minutes)


def _set(library: Library, reading: EvidenceLog) -> Blueprint | None:
    paper = library.settings.paper
    if paper is None:
        return None
    there = tuple(part for part in paper.sections if part.subject in reading.subjects)
    return replace(paper, sections=there) if there else None


def changed(
    reading: EvidenceLog,
    paper: Blueprint,
    *,
    questions: int | None = None,
    minutes: int | None = None,
    scheme: str | None = None,
    draw: Draw | None = None,
    hard_share: float | None = None,
    multiple: MultipleRule | None = None,
    sections: str | None = None,
) -> Blueprint:
    """The paper with what is given changed. Raises InputError when no such paper can be made.

    `questions` are shared over all subjects by weight; `sections` says it subject by subject, as
    `sections_text` writes them.
    """
    if questions is not None:
        paper = replace(
            paper, sections=made(reading, questions, paper.minutes, reading.keyed).sections
        )
        if paper.questions < questions:
            raise InputError(
                f"the banks hold {reading.keyed.total()} questions with a key, "
                f"too few for a paper of {questions}"
            )
    given = {
        "minutes": minutes, "draw": draw, "hard_share": hard_share, "multiple": multiple,
        "sections": parse_sections(reading, sections) if sections is not None else None,
        "scheme": parse_scheme(scheme).text if scheme is not None else None,
    }  # fmt: skip
    paper = replace(paper, **{name: value for name, value in given.items() if value is not None})
    paper.check()
    return paper


def sections_text(reading: EvidenceLog, paper: Blueprint) -> str:
    """The sections as one line: "Clouds 20; Wind 10 +2/−1"."""
    parts = [
        f"{reading.title(part.subject)} {part.questions} {part.scheme}".rstrip()
        for part in paper.sections
    ]
    return "; ".join(parts)


def parse_sections(reading: EvidenceLog, text: str) -> tuple[Section, ...]:
    """The sections in a line as `sections_text` writes it. Raises InputError.

    A subject may be named by the beginning of its title; each comes once, and needs a key.
    """
    sections = [_section(reading, part.strip()) for part in text.split(";") if part.strip()]
    twice = len({part.subject for part in sections}) < len(sections)
    if twice or not sections:
        raise InputError("name each subject of the paper once, as: Clouds 20; Wind 10 +2/−1")
    for part in sections:
        if part.questions > reading.keyed[part.subject]:
            raise InputError(
                f"{reading.title(part.subject)} has {reading.keyed[part.subject]} questions with "
                f"a key, not {part.questions}"
            )
    return tuple(sections)


def _section(reading: EvidenceLog, text: str) -> Section:
    match = _SECTION.fullmatch(text)
    if match is None:
        raise InputError(f'a section reads like "Clouds 20" or "Wind 10 +2/−1", not "{text}"')
    wanted = match["title"].casefold()
    titles = {
        key: one.title.casefold() for key, one in reading.subjects.items() if reading.keyed[key]
    }
    found = [key for key, title in titles.items() if title == wanted] or [
        key for key, title in titles.items() if title.startswith(wanted)
    ]
    if len(found) != 1:
        how = "fits more than one subject" if found else "is no subject with a key in the banks"
        raise InputError(f'"{match["title"]}" {how}')
    scheme = parse_scheme(match["scheme"]).text if match["scheme"] else ""
    return Section(found[0], int(match["questions"]), scheme)


def _at_most(sections: tuple[Section, ...], available: Mapping[str, int]) -> tuple[Section, ...]:
    """The sections, none larger than what there is; what one can't give the next ones do."""
    cut, owed = [], 0
    for part in sorted(sections, key=lambda one: available[one.subject] - one.questions):
        count = min(part.questions + owed, available[part.subject])
        owed += part.questions - count
        cut.append(Section(part.subject, count))
    order = {part.subject: place for place, part in enumerate(sections)}
    return tuple(sorted(cut, key=lambda part: order[part.subject]))
