"""A sitting read through afterwards: every question with its response and what came of it."""

from collections.abc import Iterator
from datetime import date

from msgspec import Struct

from banks.library import Library
from banks.views.drill import ResponseFeedback, ShownQuestion, response_feedback, show_question
from banks.views.open_sittings import counting_responses
from domain.history import Sitting
from domain.questions import Question
from domain.responses import Medium, Purpose, Response
from domain.verdicts import Confidence, Verdict


class ReadItem(Struct, frozen=True):
    """A question of a sitting. `place` counts from 1. Without a response `verdict` is None, or
    blank where a paper was handed in; None too for an answer that awaits its key.
    """

    place: int
    question: Question
    response: Response | None
    verdict: Verdict | None
    reading: float = 0.0

    @property
    def is_missed(self) -> bool:
        """Wrong or blank."""
        return self.verdict in (Verdict.WRONG, Verdict.BLANK)

    @property
    def confidence(self) -> Confidence:
        """How sure the response was; sure where there is none."""
        return self.response.confidence if self.response else Confidence.SURE

    @property
    def seconds(self) -> float:
        """Seconds of thinking, 0 where they were not measured."""
        return self.response.seconds if self.response else 0.0


class SittingLine(Struct, frozen=True):
    """A sitting that can be read through, in short."""

    id: str
    title: str
    purpose: Purpose
    day: date
    given: int
    missed: int


def read_through(library: Library, sitting_id: str) -> list[ReadItem]:
    """The questions of a sitting that are in the banks, in its order. Raises KeyError."""
    return list(_items(library, library.sitting(sitting_id)))


def _items(library: Library, sitting: Sitting) -> Iterator[ReadItem]:
    history, given = library.history, sitting.given
    is_paper = sitting.opened.purpose is Purpose.PAPER and sitting.closed
    for place, name in enumerate(sitting.opened.questions, 1):
        question = library.question(name)
        if question is None:
            continue
        response = given.get(name)
        if response is None and sitting.opened.sheet:
            response = next(iter(reversed(counting_responses(sitting, name))), None)
        if response is None:
            yield ReadItem(place, question, None, Verdict.BLANK if is_paper else None)
        else:
            verdict = None if history.awaits_key(response) else history.verdict(response)
            reading = history.reading(response)
            yield ReadItem(place, question, response, verdict, reading)


def shown_again(
    library: Library, sitting: Sitting, item: ReadItem
) -> tuple[ShownQuestion, ResponseFeedback | None]:
    """A question as the sitting put it, and what came of its response."""
    seed = None if sitting.opened.medium is Medium.PRINTED else sitting.opened.seed
    shown = show_question(library, item.question, seed)
    told = response_feedback(library, shown, item.response) if item.response else None
    return shown, told


def newest_sittings(library: Library, most: int) -> list[SittingLine]:
    """The newest sittings with responses, newest first. A paper still being taken is left out."""
    found: list[SittingLine] = []
    for sitting in reversed(library.history.sittings.values()):
        opened = sitting.opened
        if len(found) == most:
            break
        if opened.purpose is Purpose.PAPER and not sitting.closed:
            continue
        items = [item for item in _items(library, sitting) if item.response]
        if items:
            missed = sum(item.is_missed for item in items)
            day = library.history.day(opened.at)
            found.append(
                SittingLine(opened.id, opened.title, opened.purpose, day, len(items), missed)
            )
    return found
