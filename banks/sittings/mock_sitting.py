"""A mock paper being taken: answers go on record as they are given, the clock runs from its record.

No verdict is told before the paper is handed in. No widget is needed to try it out.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import timedelta
from enum import StrEnum
from time import monotonic

from banks.library import Given, Library
from banks.views import drill
from banks.views.papers import deadline, hand_in
from domain.errors import InputError
from domain.history import Sitting
from domain.marking.results import Result
from domain.presentation import QuestionTimer
from domain.questions import Question
from domain.responses import Purpose, Response
from domain.verdicts import Confidence


class AnswerState(StrEnum):
    """How a question of the paper stands, without telling whether it is right."""

    OPEN = "open"
    ANSWERED = "answered"
    PARKED = "parked"


class MockSitting:
    """One paper from where it was left. `tick` is a clock that only ever runs on, in seconds.

    `put` is the question that is up. What is parked is a note to oneself for this sitting only.
    """

    shown: drill.ShownQuestion

    def __init__(
        self, library: Library, sitting: Sitting, tick: Callable[[], float] = monotonic
    ) -> None:
        self.library = library
        self.sitting = sitting
        self.questions = list(_there(library, sitting.opened.questions))
        if not self.questions:
            raise InputError("none of the paper's questions is in the banks any more")
        self.parked: set[str] = set()
        self._watch = QuestionTimer(tick, library.time_cap())
        self._spent: dict[str, float] = defaultdict(float)
        self._answers = dict(sitting.given)
        self.index = 0
        self.go(self._next_open(-1))

    # the clock

    @property
    def left(self) -> timedelta:
        """Time left; nought once it is up. Derived from the record of the paper's beginning."""
        return max(timedelta(), deadline(self.sitting) - self.library.now())

    @property
    def is_up(self) -> bool:
        """Whether the time is up."""
        return not self.left

    # moving

    def go(self, index: int) -> None:
        """To the question at this place of the paper (0 the first), within the paper."""
        if hasattr(self, "shown"):
            self._spent[self.shown.question.id] += self._watch.seconds
        self.index = min(max(index, 0), len(self.questions) - 1)
        self.shown = drill.show_question(
            self.library, self.questions[self.index], self.sitting.opened.seed
        )
        self._watch.start()

    def go_on(self) -> None:
        """To the next question that is neither answered nor parked, else the next parked one."""
        self.go(self._next_open(self.index))

    def _next_open(self, after: int) -> int:
        count = len(self.questions)
        ring = [(after + step) % count for step in range(1, count + 1)]
        for wanted in (AnswerState.OPEN, AnswerState.PARKED):
            for index in ring:
                if self.state(index) is wanted:
                    return index
        return min(after + 1, count - 1)

    # answering

    @property
    def answer(self) -> Response | None:
        """The answer to the question that is up; None while it has none or was cleared."""
        given = self._answers.get(self.shown.question.id)
        return given if given is not None and given.chosen else None

    def state(self, index: int) -> AnswerState:
        """How the question at a place stands."""
        name = self.questions[index].id
        if name in self.parked:
            return AnswerState.PARKED
        given = self._answers.get(name)
        return AnswerState.ANSWERED if given is not None and given.chosen else AnswerState.OPEN

    def count(self, state: AnswerState) -> int:
        """How many questions stand so."""
        return sum(self.state(index) is state for index in range(len(self.questions)))

    def give(self, chosen: tuple[str, ...], confidence: Confidence = Confidence.SURE) -> None:
        """Answer the question that is up; () takes the answer back.

        Raises InputError when the time is up, StoreError when it was not saved.
        """
        if self.is_up:
            raise InputError("Time is up: nothing more is recorded.")
        name = self.shown.question.id
        given = Given(
            question=name, chosen=chosen, confidence=confidence,
            seconds=self._spent[name] + self._watch.seconds,
        )  # fmt: skip
        (outcome,) = self.library.record(
            [given], Purpose.PAPER, sitting=self.sitting.opened.id, label="the answer"
        )
        self._answers[name] = outcome.response
        self._spent[name] = 0.0
        self._watch.start()
        self.parked.discard(name)

    def park(self) -> None:
        """Put the question that is up aside to come back to, or take it back."""
        self.parked ^= {self.shown.question.id}

    def hand_in(self) -> Result:
        """Close the paper; what was passed over is blank. Raises StoreError."""
        return hand_in(self.library, self.sitting)


def _there(library: Library, ids: Iterable[str]) -> list[Question]:
    found = map(library.question, ids)
    return [question for question in found if question is not None]
