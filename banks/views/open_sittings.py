"""The sittings that were left open and can be gone on with."""

from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct

from domain.responses import Purpose

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

    A mock paper is open until it is handed in, even with every question answered.
    """
    found = []
    for sitting in library.history.sittings.values():
        if sitting.closed:
            continue
        opened, left = sitting.opened, _living(library, sitting.left)
        if not left and not opened.paper:
            continue
        found.append(
            OpenSitting(
                opened.id, opened.title, opened.purpose, library.history.day(opened.at), left,
                len(opened.questions),
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: one.id, reverse=True)


def _living(library: "Library", question_ids: list[str]) -> int:
    questions = map(library.question, question_ids)
    return sum(question is not None and not question.retired for question in questions)
