"""How a question is put to the candidate: its options under letters, and the time it takes.

The order on screen is for the eye alone: what is recorded is the option's id.
"""

import re
from collections.abc import Callable
from random import Random

from msgspec import Struct

from domain.questions import LETTERS, Kind, Option, Question, may_shuffle

_LETTERED = re.compile(
    r"\b(options?|choices?|answers?|statements?|distractors?)\s+\(?[a-h]\)?(?![\w'])"
    r"|(^|\s)\([a-h]\)|^[a-h][).:]\s",
    re.IGNORECASE | re.MULTILINE,
)


class Seating(Struct, frozen=True):
    """The options in the order shown; the first sits at letter a. Texts are empty where the
    text is only in the printed bank.
    """

    options: tuple[Option, ...]

    @property
    def letters(self) -> str:
        """The letters in use, as "abcd"."""
        return LETTERS[: len(self.options)]

    def option_at(self, position: int) -> str | None:
        """The id of the option at a position (0: letter a), or None if there is none."""
        return self.options[position].id if 0 <= position < len(self.options) else None

    def letter(self, option_id: str) -> str:
        """The letter that an option sits at; its id where it is not among the options."""
        ids = [option.id for option in self.options]
        return LETTERS[ids.index(option_id)] if option_id in ids else option_id


def seat(question: Question, option_count: int, rng: Random | None) -> Seating:
    """Seat the options: by `rng` where the question allows it, else as printed (also for None).

    A question that is keyed only gets `option_count` letters without text; one that is answered
    by typing or judged by the candidate gets none.
    """
    if question.options:
        return Seating(_order(question, rng) if rng else question.options)
    if question.kind in (Kind.TEXT, Kind.NUMERIC) or not question.answer_key:
        return Seating(())
    return Seating(tuple(Option(id=letter, text="") for letter in LETTERS[:option_count]))


def _order(question: Question, rng: Random) -> tuple[Option, ...]:
    """Fixed options keep their places; the others are shuffled among themselves.

    An explanation that speaks of "option C" would point at the wrong line, so it keeps the order.
    """
    if not may_shuffle(question) or _LETTERED.search(question.explanation):
        return question.options
    free = [option for option in question.options if not option.fixed]
    rng.shuffle(free)
    following = iter(free)
    return tuple(option if option.fixed else next(following) for option in question.options)


class QuestionTimer:
    """Seconds spent on one question, at most `cap`: longer than that the candidate was away.

    `tick` gives seconds from any start, as `time.monotonic` does.
    """

    def __init__(self, tick: Callable[[], float], cap: float) -> None:
        self._tick = tick
        self._cap = cap
        self._start = tick()

    def start(self) -> None:
        """Begin again from nought."""
        self._start = self._tick()

    @property
    def seconds(self) -> float:
        """Seconds since the start, capped."""
        return min(self._tick() - self._start, self._cap)
