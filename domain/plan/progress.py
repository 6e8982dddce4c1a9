"""What is finished, read from the log: blocks, sweeps, and how far the ones under way are."""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from msgspec import Struct

from domain.plan.load import Done, SubjectLoad
from domain.plan.pairing import Visit

ONE_SWEEP = timedelta(days=10)
"""Sweep days of a subject that follow each other this closely are one sweep."""

ENOUGH = 0.8
"""The share of the hard set that must have been taken for a sweep to be finished."""


class Attempt(Struct, frozen=True, gc=False):
    """A question answered on a study day, in a sweep or else as revision."""

    day: date
    subject: str
    chapter: str
    number: int
    sweep: bool


class Step(Struct, frozen=True, gc=False):
    """One question of a block or a sweep done on a study day."""

    day: date
    subject: str
    sweep: bool


def read_done(
    subjects: Iterable[SubjectLoad],
    attempts: Iterable[Attempt],
    visits: Iterable[Visit],
    sweep_target: Callable[[str, date], int],
) -> Done:
    """What the attempts, oldest first, have finished of the visits: see `Progress`."""
    return Progress(subjects, attempts, sweep_target).done(visits)


class Progress:
    """The attempts, oldest first, read once; then what they have finished of any visits.

    A block is finished when every question of the subject was answered since the last one.
    `sweep_target` gives how many questions a sweep of the subject that began on that day had to
    take; it is finished at four fifths of that, because hard questions come and go meanwhile.
    """

    def __init__(
        self,
        subjects: Iterable[SubjectLoad],
        attempts: Iterable[Attempt],
        sweep_target: Callable[[str, date], int],
    ) -> None:
        self._tracks = {subject.id: _Track(subject) for subject in subjects}
        self._sweep_target = sweep_target
        self.read(attempts)

    def read(self, attempts: Iterable[Attempt]) -> None:
        """Read on: these come after all that was read before."""
        for attempt in attempts:
            if attempt.subject in self._tracks:
                self._tracks[attempt.subject].take(attempt, self._sweep_target)

    def steps(self) -> Iterator[Step]:
        """Every attempt that brought the plan on; answering a question again does not."""
        for subject, track in self._tracks.items():
            for day, sweep in track.steps:
                yield Step(day, subject, sweep)

    def done(self, visits: Iterable[Visit]) -> Done:
        """What is finished, by subject; the visits tell which rounds that was."""
        tracks = self._tracks
        return Done(
            blocks={name: len(track.blocks) for name, track in tracks.items() if track.blocks},
            sweeps={name: len(track.sweeps) for name, track in tracks.items() if track.sweeps},
            covered=_covered(tracks.values()),
            swept={name: len(track.swept) for name, track in tracks.items() if track.swept},
            since={n: track.block_days[0] for n, track in tracks.items() if track.block_days},
            round_days=_round_days(tracks, visits),
            last_block=max(
                (block for track in tracks.values() for block in track.blocks),
                key=lambda block: block[1],
                default=None,
            ),
        )


@dataclass
class _Track:
    """One subject while its attempts are read. Finished visits are (first day, last day)."""

    subject: SubjectLoad
    blocks: list[tuple[date, date]] = field(default_factory=list)
    sweeps: list[tuple[date, date]] = field(default_factory=list)
    covered: dict[str, set[int]] = field(default_factory=dict)
    block_days: list[date] = field(default_factory=list)
    swept: set[tuple[str, int]] = field(default_factory=set)
    sweep_days: list[date] = field(default_factory=list)
    steps: list[tuple[date, bool]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.numbers = {c.id: frozenset(c.numbers) for c in self.subject.chapters}
        self.left = sum(map(len, self.numbers.values()))

    def take(self, attempt: Attempt, sweep_target: Callable[[str, date], int]) -> None:
        if attempt.sweep:
            self._sweep(attempt, sweep_target)
        elif not self.blocks or attempt.day > self.blocks[-1][1]:
            self._revise(attempt)

    def _revise(self, attempt: Attempt) -> None:
        covered = self.covered.setdefault(attempt.chapter, set())
        if attempt.number in covered or attempt.number not in self.numbers.get(attempt.chapter, ()):
            return
        covered.add(attempt.number)
        self.block_days.append(attempt.day)
        self.steps.append((attempt.day, False))
        self.left -= 1
        if not self.left:
            self.blocks.append((self.block_days[0], self.block_days[-1]))
            self.covered, self.block_days = {}, []
            self.left = sum(map(len, self.numbers.values()))

    def _sweep(self, attempt: Attempt, sweep_target: Callable[[str, date], int]) -> None:
        if self.sweeps and attempt.day - self.sweeps[-1][1] < ONE_SWEEP and not self.swept:
            self.sweeps[-1] = (self.sweeps[-1][0], attempt.day)
            return
        question = (attempt.chapter, attempt.number)
        if question in self.swept:
            return
        self.swept.add(question)
        self.sweep_days.append(attempt.day)
        self.steps.append((attempt.day, True))
        target = sweep_target(self.subject.id, self.sweep_days[0])
        if len(self.swept) >= math.ceil(ENOUGH * max(1, target)):
            self.sweeps.append((self.sweep_days[0], attempt.day))
            self.swept, self.sweep_days = set(), []


def _covered(tracks: Iterable[_Track]) -> dict[str, frozenset[int]]:
    return {
        chapter: frozenset(numbers)
        for track in tracks
        for chapter, numbers in track.covered.items()
        if numbers
    }


def _round_days(
    tracks: Mapping[str, _Track], visits: Iterable[Visit]
) -> dict[int, tuple[date, date]]:
    """The first and last day of each round, finished visits and those under way together."""
    spans = {
        (name, sweep): [*finished, *under_way]
        for name, track in tracks.items()
        for sweep, finished, under_way in (
            (False, track.blocks, _span(track.block_days)),
            (True, track.sweeps, _span(track.sweep_days)),
        )
    }
    rounds: dict[int, tuple[date, date]] = {}
    for visit in visits:
        days = spans.get((visit.subject, visit.sweep))
        if days:
            first, last = days.pop(0)
            known = rounds.get(visit.round, (first, last))
            rounds[visit.round] = (min(known[0], first), max(known[1], last))
    return rounds


def _span(days: Sequence[date]) -> list[tuple[date, date]]:
    return [(days[0], days[-1])] if days else []
