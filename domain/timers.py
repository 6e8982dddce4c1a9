"""The time a question takes: timed one by one on screen, shared over what is marked in print.

The log is only added to, so a mark gets its seconds when it is made. One question after another,
each takes the time since the mark before it. But who works a chapter on paper first and types the
marks afterwards has all of the time in hand at the first mark: then, and for marks out of turn,
each takes an equal share of the time in hand with all that are still to be marked.
"""

from collections.abc import Callable
from datetime import datetime

FULL_HAND = 0.5
"""Time in hand counts as work on every question left from this part of the usual time on."""


class Stopwatch:
    """Runs and pauses; `usual` is the seconds a question is expected to take, `most` its cap."""

    def __init__(self, usual: float, most: float) -> None:
        self.usual, self.most = usual, most
        self.handed_out = 0.0
        self._kept = 0.0
        self._since: datetime | None = None

    @property
    def is_running(self) -> bool:
        """Whether time is being measured."""
        return self._since is not None

    def toggle(self, now: datetime) -> None:
        """Start, or pause."""
        self._kept = self.in_hand(now)
        self._since = None if self.is_running else now

    def in_hand(self, now: datetime) -> float:
        """Seconds measured that no mark has taken yet."""
        running = (now - self._since).total_seconds() if self._since else 0.0
        return self._kept + max(0.0, running)

    def total(self, now: datetime) -> float:
        """All seconds measured in this sitting."""
        return self.handed_out + self.in_hand(now)

    def share(self, now: datetime, left: int, *, in_turn: bool) -> float:
        """The seconds that a mark would take; `left` counts what is not marked yet, with it."""
        in_hand = self.in_hand(now)
        equal = in_hand / max(1, left)
        worked_before = equal >= FULL_HAND * self.usual
        return min(self.most, in_hand if in_turn and not worked_before else equal)

    def hand_out(self, now: datetime, seconds: float) -> None:
        """These seconds are on record."""
        self._kept = max(0.0, self.in_hand(now) - seconds)
        self._since = now if self._since else None
        self.handed_out += seconds

    def take_back(self, seconds: float) -> None:
        """Marks with so many seconds were undone: the time is in hand again."""
        self._kept += seconds
        self.handed_out = max(0.0, self.handed_out - seconds)


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
