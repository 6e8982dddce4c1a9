"""What a sitting and a day came to: verdicts, times, signs, and how it was the last time."""

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct

from domain.history import Sitting
from domain.history_table import Mark
from domain.responses import Response
from domain.tiers import DayKind
from domain.verdicts import Confidence, Verdict

if TYPE_CHECKING:
    from banks.library import Library


class SittingScore(Struct, frozen=True):
    """How a sitting goes. `seconds` of thinking and `reading` of answers are those measured."""

    total: int
    right: int = 0
    wrong: int = 0
    blank: int = 0
    unsure: int = 0
    seconds: float = 0.0
    reading: float = 0.0

    @property
    def given(self) -> int:
        """How many have a response."""
        return self.right + self.wrong + self.blank


class TierMoves(Struct, frozen=True):
    """What a sitting did to the tiers: how many questions got a sign, and how many settled."""

    promoted: int
    settled: int


class DayResult(Struct, frozen=True):
    """All that was answered on a study day, planned or not, in sittings or marked.

    `right_first` of its `questions` were right at the day's first response; of `tried_before` that
    were tried on days before, `right_before` were right the last time. `seconds` of thinking
    and `reading` of answers are those measured. `signs` is how many questions got one, `settled`
    how many settled.
    """

    questions: int
    right_first: int
    tried_before: int
    right_before: int
    seconds: float
    reading: float
    signs: int
    settled: int


def score(total: int, judged: Iterable[tuple[Response, Verdict, float]]) -> SittingScore:
    """The score of these responses, each with its verdict and the seconds spent on its answer."""
    counts = dict.fromkeys(Verdict, 0)
    unsure, seconds, reading = 0, 0.0, 0.0
    for response, verdict, read in judged:
        counts[verdict] += 1
        unsure += response.confidence is not Confidence.SURE
        seconds += response.seconds
        reading += read
    return SittingScore(
        total,
        counts[Verdict.RIGHT],
        counts[Verdict.WRONG],
        counts[Verdict.BLANK],
        unsure,
        seconds,
        reading,
    )


def moved(library: "Library", sitting: Sitting) -> TierMoves:
    """How many questions got a sign by the sitting's own responses, and how many they settled.

    What other sittings of the same day did is theirs.
    """
    changes = [library.history.change_by(response) for response in sitting.given.values()]
    return TierMoves(
        sum(after.signs > before.signs for before, after in changes),
        sum(after.settled and not before.settled for before, after in changes),
    )


def missed_last_time(library: "Library", sitting: Sitting) -> int | None:
    """How many of the sitting's questions were missed on the study day they were last tried
    before it, None where none was.
    """
    history = library.history
    kinds: list[DayKind] = []
    for question, given in sitting.given.items():
        began = history.day(given.at)
        earlier = (step.event for step in history.trail(question) if step.day < began)
        kinds += [event for event in earlier if isinstance(event, DayKind)][-1:]
    return kinds.count(DayKind.MISS) if kinds else None


def day_result(library: "Library", day: date) -> DayResult | None:
    """What a study day came to, None where nothing was answered on it."""
    history = library.history
    answered = history.answered_on(day)
    if not answered:
        return None
    of_day = {name: history.responses_on(name, day) for name in answered}
    before = [_last_before(library, name, day) for name in answered]
    changes = [history.change_on(name, day) for name in answered]
    every = [response for responses in of_day.values() for response in responses]
    return DayResult(
        questions=len(answered),
        right_first=sum(
            history.verdict(responses[0]) is Verdict.RIGHT for responses in of_day.values()
        ),
        tried_before=sum(previous is not None for previous in before),
        right_before=sum(
            previous is not None and previous.verdict is Verdict.RIGHT for previous in before
        ),
        seconds=sum(response.seconds for response in every),
        reading=sum(map(history.reading, every)),
        signs=sum(after.signs > before.signs for before, after in changes),
        settled=sum(after.settled and not before.settled for before, after in changes),
    )


def _last_before(library: "Library", question_id: str, day: date) -> Mark | None:
    """What counts of the last response to a question before a study day, None where none was."""
    tallied = library.history.tallied(question_id)
    marks = [event for on, event, _ in tallied if on < day and isinstance(event, Mark)]
    return marks[-1] if marks else None
