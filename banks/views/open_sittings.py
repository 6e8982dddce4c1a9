"""The sittings that were left open and can be gone on with."""

from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct

from domain.responses import Purpose, SittingOpened

if TYPE_CHECKING:
    from banks.library import Library


class OpenSitting(Struct, frozen=True):
    """A sitting that was left. `left` of `total` questions have no response yet."""

    id: str
    title: str
    purpose: Purpose
    day: date
    left: int
    total: int


def open_sittings(library: "Library") -> list[OpenSitting]:
    """Every sitting that was neither finished nor ended, newest first.

    A mock paper is open until it is handed in, even with every question answered. Of a planned
    sitting nothing is left once its questions were answered since, in whatever sitting.
    """
    found = []
    for sitting in library.history.sittings.values():
        if sitting.closed:
            continue
        opened = sitting.opened
        names = sitting.left
        if opened.purpose in (Purpose.STUDY, Purpose.REVISION, Purpose.SWEEP, Purpose.PASS):
            names = [name for name in names if not _answered_since(library, name, opened)]
        left = _living(library, names)
        if not left and not opened.paper:
            continue
        found.append(
            OpenSitting(
                opened.id, opened.title, opened.purpose, library.history.day(opened.at), left,
                len(opened.questions),
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: one.id, reverse=True)


def _answered_since(library: "Library", question_id: str, opened: SittingOpened) -> bool:
    responses = library.history.responses(question_id)
    return bool(responses) and responses[-1].at > opened.at


def _living(library: "Library", question_ids: list[str]) -> int:
    questions = map(library.question, question_ids)
    return sum(question is not None and not question.retired for question in questions)
