"""The candidate's own seconds per question, subject by subject, whatever pauses are in the log."""

from collections.abc import Iterable
from datetime import date
from statistics import fmean, quantiles

from domain.plan.load import Pace

FENCE = 3
"""Outer fence in quartile ranges: J. W. Tukey, Exploratory Data Analysis (1977), chapter 2."""

BELIEF = 30
"""How many questions the expected pace counts for until the candidate's own are in."""

Timing = tuple[str, date, float]
"""Subject id, study day, seconds; 0 seconds where the time was not measured."""


def own_pace(timings: Iterable[Timing], expected: float) -> Pace:
    """The pace from the log. A subject with few timings leans on the candidate's overall pace,
    and that on the `expected` seconds.
    """
    by_subject: dict[str, list[float]] = {}
    for subject, _, seconds in timings:
        if seconds > 0:
            by_subject.setdefault(subject, []).append(seconds)
    whole = [seconds for found in by_subject.values() for seconds in found]
    overall = _leaning(whole, expected)
    own = {subject: _leaning(found, overall) for subject, found in by_subject.items()}
    return Pace(default=overall, own=own)


def without_pauses(seconds: list[float]) -> float:
    """The mean with everything beyond the outer fence drawn in to it; at least one value."""
    if len(seconds) < 4:
        return fmean(seconds)
    lower, _, upper = quantiles(seconds, n=4, method="inclusive")
    fence = upper + FENCE * (upper - lower)
    return fmean([min(second, fence) for second in seconds])


def _leaning(seconds: list[float], on: float) -> float:
    """The mean of the measured seconds and of `BELIEF` questions at the pace leaned on."""
    if not seconds:
        return on
    count = len(seconds)
    return (count * without_pauses(seconds) + BELIEF * on) / (count + BELIEF)
