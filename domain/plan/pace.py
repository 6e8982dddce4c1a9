"""The candidate's own seconds per question, subject by subject, whatever pauses are in the log.

A pause is not a slow answer drawn out: where someone leaves the desk the time says nothing about
the question. So times that reach the cap are left out instead of being drawn in to it, which a
trimmed mean does on one side only, where the stray values are (P. J. Huber, Robust Statistics,
1981, section 1.1, on gross errors; from memory).
"""

from collections.abc import Iterable, Sequence
from datetime import date
from statistics import fmean, median

from domain.plan.load import Pace

LEAST_CAP, CAP_IN_MEDIANS = 300.0, 6.0
"""A question's time is cut off at the larger of 300 s and six times the own median."""

PAUSE_IN_MEDIANS = 4.5
"""From here on a time is a pause. Pauses themselves raise the median: with a fifth of them by at
most a third, so that six times the true median is still seen as one.
"""

BELIEF = 30
"""How many questions the expected pace counts for until the candidate's own are in."""

Timing = tuple[str, date, float]
"""Subject id, study day, seconds; 0 seconds where the time was not measured."""


def own_pace(timings: Iterable[Timing], expected: float, capped: float = LEAST_CAP) -> Pace:
    """The pace from the log. A subject with few timings leans on the candidate's overall pace,
    and that on the `expected` seconds. Times of just `capped` seconds were cut off there.
    """
    by_subject: dict[str, list[float]] = {}
    for subject, _, seconds in timings:
        if seconds > 0:
            by_subject.setdefault(subject, []).append(seconds)
    whole = [seconds for found in by_subject.values() for seconds in found]
    longest = _pause(whole)

    def leaning(found: Iterable[float], on: float) -> float:
        kept = [seconds for seconds in found if seconds < longest and seconds != capped]
        return (sum(kept) + BELIEF * on) / (len(kept) + BELIEF)

    overall = leaning(whole, expected)
    own = {subject: leaning(found, overall) for subject, found in by_subject.items()}
    return Pace(default=overall, own=own)


def time_cap(seconds: Sequence[float]) -> float:
    """The most that one question's time may count, from the times measured so far."""
    return max(LEAST_CAP, CAP_IN_MEDIANS * median(seconds)) if seconds else LEAST_CAP


def without_pauses(seconds: Sequence[float]) -> float:
    """The mean of what is no pause; at least one value."""
    longest = _pause(seconds)
    kept = [second for second in seconds if second < longest]
    return fmean(kept or seconds)


def _pause(seconds: Sequence[float]) -> float:
    return max(LEAST_CAP, PAUSE_IN_MEDIANS * median(seconds)) if seconds else LEAST_CAP
