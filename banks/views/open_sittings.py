"""The sittings that were left open and can be gone on with, and printed sheets to enter."""

from collections.abc import Collection
from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct

from domain.history import Sitting
from domain.responses import Purpose, Response, VisitEnded

if TYPE_CHECKING:
    from banks.library import Library

_PLANNED = (Purpose.STUDY, Purpose.REVISION, Purpose.SWEEP, Purpose.PASS)


class OpenSitting(Struct, frozen=True):
    """A sitting that was left. `left` of `total` questions have no response yet.

    `is_sheet`: its list was printed, and waits to be entered. `needs_key` counts the answers of a
    paper handed in that have no answer key yet.
    """

    id: str
    title: str
    purpose: Purpose
    day: date
    left: int
    total: int
    is_sheet: bool = False
    needs_key: int = 0


def open_sittings(library: "Library") -> list[OpenSitting]:
    """Every sitting that was neither finished nor ended, newest first.

    A paper is open until it is handed in, even with every question answered, and until the answers
    given without a key have one. A sheet is over when the visit is that it was printed for.
    """
    history = library.history
    ended = {record.visit for record in history.records_of(VisitEnded)}
    listed = []
    for sitting in history.sittings.values():
        opened = sitting.opened
        is_handed_in = opened.paper and sitting.closed and not sitting.discarded
        needs_key = _awaiting_key(sitting) if is_handed_in else 0
        if needs_key:
            listed.append(_open(sitting, 0, needs_key))
        if sitting.closed or (opened.sheet and opened.visit in ended):
            continue
        left = len(unanswered(library, sitting))
        if (not left and not opened.paper) or not (sitting.given or _is_kept(sitting)):
            continue
        listed.append(_open(sitting, left))
    return sorted(listed, key=lambda sitting: sitting.id, reverse=True)


def _open(sitting: Sitting, left: int, needs_key: int = 0) -> OpenSitting:
    opened = sitting.opened
    return OpenSitting(
        opened.id,
        opened.title,
        opened.purpose,
        sitting.history.day(opened.at),
        left,
        len(opened.questions),
        opened.sheet,
        needs_key,
    )


def _awaiting_key(sitting: Sitting) -> int:
    return sum(map(sitting.history.awaits_key, sitting.given.values()))


def is_of_line(
    library: "Library", left: OpenSitting, purpose: Purpose, questions: Collection[str]
) -> bool:
    """Whether a line of the day with this purpose and these questions goes on with the sitting,
    so that it needs no line of its own. A printed sheet is entered by itself.
    """
    if left.is_sheet or left.purpose is not purpose:
        return False
    asked = unanswered(library, library.sitting(left.id))
    return bool(asked) and set(questions).issuperset(asked)


def unanswered(library: "Library", sitting: Sitting) -> list[str]:
    """The ids of its active questions without a response that counts for it."""
    given = sitting.given
    return [
        name
        for name in sitting.opened.questions
        if name not in given
        and (question := library.question(name)) is not None
        and not question.retired
        and not counting_responses(sitting, name)
    ]


def counting_responses(sitting: Sitting, question_id: str) -> list[Response]:
    """The responses to a question that count for the sitting, oldest first.

    For a printed sheet and for a planned sitting, whatever was answered since does, in whatever
    sitting.
    """
    opened = sitting.opened
    takes_others = (opened.sheet and opened.paper is None) or opened.purpose in _PLANNED
    return [
        response
        for response in sitting.history.responses(question_id)
        if response.sitting == opened.id or (takes_others and response.at > opened.at)
    ]


def _is_kept(sitting: Sitting) -> bool:
    """Whether it is gone on with though nothing was recorded in it: its list or its time is."""
    return sitting.opened.sheet or sitting.opened.paper is not None
