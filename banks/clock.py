"""The candidate's clock, real or pretended; nothing else asks the system for the time."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

from domain.responses import study_day

Clock = Callable[[], datetime]
"""Gives the present moment with the local offset."""


def local_now() -> datetime:
    """The present moment, local, with its offset."""
    return datetime.now().astimezone()


def pretend_clock(today: date, turn_hour: int = 3, now: Clock = local_now) -> Clock:
    """A clock on which the study day is `today`; it runs on from there at its usual pace."""
    return _Shifted(now, timedelta(days=(today - study_day(now(), turn_hour)).days))


def is_pretended(clock: Clock) -> bool:
    """Whether the clock was made by `pretend_clock`."""
    return isinstance(clock, _Shifted)


class _Shifted:
    def __init__(self, now: Clock, shift: timedelta) -> None:
        self._now, self._shift = now, shift

    def __call__(self) -> datetime:
        return self._now() + self._shift
