"""The diary: what each study day brought, as far as its questions are in use."""

from collections import Counter, defaultdict
from datetime import date

from msgspec import Struct

from banks.views.evidence_log import EvidenceLog
from domain.verdicts import Verdict


class DiaryDay(Struct, frozen=True):
    """A study day with responses: its questions, each once, those missed, those it settled, and
    the minutes that were timed.
    """

    day: date
    questions: int
    missed: int
    settled: int
    minutes: float


def diary(reading: EvidenceLog) -> list[DiaryDay]:
    """Every study day with a response, the newest first."""
    seconds: dict[date, float] = defaultdict(float)
    settled = Counter[date]()
    answered: dict[date, set[str]] = {}
    missed: dict[date, set[str]] = {}
    for response in reading.responses:
        answered.setdefault(response.day, set()).add(response.question)
        seconds[response.day] += response.seconds
        if response.verdict is not Verdict.RIGHT:
            missed.setdefault(response.day, set()).add(response.question)
    for studied in reading.studied:
        was_settled = False
        for stage in studied.stages:
            settled[date.fromordinal(stage.since)] += stage.settled and not was_settled
            was_settled = stage.settled
    return [
        DiaryDay(
            day,
            len(questions),
            len(missed.get(day, ())),
            settled[day],
            round(seconds[day] / 60, 1),
        )
        for day, questions in sorted(answered.items(), reverse=True)
    ]
