"""Visits: which there are, and what the records say is finished, under way and left of them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct

from domain.plan.inputs import PlanInputs, SubjectLoad
from domain.responses import Purpose
from domain.tiers import Tier


class Visit(Struct, frozen=True):
    """One turn of a subject in a round: its block of revision days, or its sweep."""

    round: int
    subject: str
    sweep: bool


ChapterNumber = tuple[str, int]
"""A question by its chapter's id and its number."""


def all_visits(inputs: PlanInputs, order: Sequence[str]) -> list[Visit]:
    """Every visit of the plan, round by round, blocks before sweeps, each in its order.

    In odd rounds the first half of the order takes the blocks and the second is swept; in even
    rounds they change roles. A single round is a block for every subject. A subject that is only
    swept has one sweep for every two rounds, one that is `unswept` none.
    """
    given_up = set(inputs.unswept)
    visits = _whole_pattern(inputs, order)
    return [visit for visit in visits if not (visit.sweep and visit.subject in given_up)]


def _whole_pattern(inputs: PlanInputs, order: Sequence[str]) -> list[Visit]:
    light = set(inputs.sweep_only)
    full = [subject for subject in order if subject not in light]
    only_swept = [subject for subject in order if subject in light]
    if inputs.rounds == 1:
        return [Visit(1, s, False) for s in full] + [Visit(1, s, True) for s in only_swept]
    half = (len(full) + 1) // 2
    visits = []
    for number in range(1, inputs.rounds + 1):
        odd = number % 2 == 1
        blocks, sweeps = (full[:half], full[half:]) if odd else (full[half:], full[:half])
        visits += [Visit(number, subject, False) for subject in blocks]
        visits += [Visit(number, subject, True) for subject in sweeps]
        if not odd:
            visits += [Visit(number, subject, True) for subject in only_swept]
    return visits


def opening_days(inputs: PlanInputs, subjects: Iterable[SubjectLoad]) -> dict[str, date]:
    """The day from which each subject may be revised, where one is known."""
    days = {subject.id: subject.open_from for subject in subjects if subject.open_from}
    return days | {opens.subject: opens.day for opens in inputs.open_from}


def subject_order(inputs: PlanInputs, subjects: Sequence[SubjectLoad], first: date) -> list[str]:
    """Subject ids as they take their turns: as written, then those open first, heaviest first."""
    known = {subject.id for subject in subjects if subject.questions}
    written = [subject for subject in dict.fromkeys(inputs.order) if subject in known]
    opens = opening_days(inputs, subjects)
    others = [subject for subject in subjects if subject.id in known.difference(written)]
    others.sort(key=lambda s: (max(opens.get(s.id, first), first), -heaviness(s)))
    return written + [subject.id for subject in others]


def heaviness(subject: SubjectLoad) -> float:
    """The subject's weight in the exam, as a number of questions where none is known."""
    return subject.questions if subject.weight is None else subject.weight


class PlanResponse(Struct, frozen=True, gc=False):
    """A question answered on a study day."""

    day: date
    subject: str
    chapter: str
    number: int
    purpose: Purpose = Purpose.REVISION


class BegunVisit(Struct, frozen=True):
    """A visit was begun: for a sweep with its fixed list, `questions` the repeatedly missed."""

    id: str
    day: date
    visit: Visit
    questions: tuple[ChapterNumber, ...] = ()
    also_open: tuple[ChapterNumber, ...] = ()
    untried: tuple[ChapterNumber, ...] = ()


class EndedVisit(Struct, frozen=True):
    """A visit was ended by the candidate ("done", "enough"), or had nothing to do ("empty")."""

    day: date
    id: str
    how: str


PlanEvent = PlanResponse | BegunVisit | EndedVisit


class DaySpan(Struct, frozen=True):
    """First and last day of a finished visit."""

    first: date
    last: date


class OpenSweep(Struct, frozen=True):
    """A sweep under way: its list, and what of it is not taken yet, each in the list's order."""

    id: str
    visit: Visit
    day: date
    questions: tuple[ChapterNumber, ...]
    left: tuple[ChapterNumber, ...]
    also_left: tuple[ChapterNumber, ...] = ()
    untried_left: tuple[ChapterNumber, ...] = ()


class VisitProgress(Struct, frozen=True, kw_only=True):
    """What is done of the plan's visits on a morning, by subject id.

    `blocks` and `sweeps` are the finished ones, oldest first. For a block under way: `covered`
    holds the numbers done per chapter id, `since` its first day, `done_on` the questions per day.
    """

    blocks: Mapping[str, tuple[DaySpan, ...]] = {}
    sweeps: Mapping[str, tuple[DaySpan, ...]] = {}
    covered: Mapping[str, frozenset[int]] = {}
    since: Mapping[str, date] = {}
    done_on: Mapping[str, Mapping[date, int]] = {}
    open_sweeps: Mapping[str, OpenSweep] = {}

    def finished(self, visit: Visit, before: int) -> DaySpan | None:
        """The days of a finished visit that has so many of its kind before it, None if it isn't."""
        spans = (self.sweeps if visit.sweep else self.blocks).get(visit.subject, ())
        return spans[before] if before < len(spans) else None


NOTHING_DONE = VisitProgress()


class VisitFold:
    """Reads events, oldest first, and tells what they have finished.

    Revision credits the subject's block that is next or under way; free drill only one that is
    under way, and both the list of a sweep under way. A sweep answers for its fixed list alone:
    what is swept before it begins is free practice. A block is done when each of the subject's
    questions was answered since it began; a sweep when its repeatedly missed were, or, where
    there are none, with the end of its day.
    """

    def __init__(
        self, subjects: Iterable[SubjectLoad], tracks: "Mapping[str, SubjectTrack] | None" = None
    ) -> None:
        """With `tracks`, those of a former reading, it goes on where that ended."""
        self._subjects = {subject.id: subject for subject in subjects}
        known = tracks or {}
        self.tracks = {name: known.get(name) or SubjectTrack() for name in self._subjects}
        self._named = {
            name: track
            for track in self.tracks.values()
            for name in (track.block, track.sweep.id if track.sweep else "")
            if name
        }

    def read(self, events: Iterable[PlanEvent]) -> None:
        """Read on: these come after all that was read before."""
        for event in events:
            if isinstance(event, PlanResponse):
                if (track := self.tracks.get(event.subject)) is not None:
                    track.answer(event, self._subjects[event.subject])
            elif isinstance(event, BegunVisit):
                if (track := self.tracks.get(event.visit.subject)) is not None:
                    self._named[event.id] = track
                    track.begin(event)
            elif (track := self._named.get(event.id)) is not None:
                track.end(event)

    def progress(self, morning: date) -> VisitProgress:
        """What is done on that morning; everything that was read lies before it."""
        for track in self.tracks.values():
            track.close_before(morning)
        tracks = self.tracks
        return VisitProgress(
            blocks={name: tuple(track.blocks) for name, track in tracks.items() if track.blocks},
            sweeps={name: tuple(track.sweeps) for name, track in tracks.items() if track.sweeps},
            covered={
                chapter: frozenset(numbers)
                for track in tracks.values()
                for chapter, numbers in track.covered.items()
                if numbers
            },
            since={name: track.since for name, track in tracks.items() if track.since},
            done_on={name: dict(track.done_on) for name, track in tracks.items() if track.done_on},
            open_sweeps={name: track.open_sweep() for name, track in tracks.items() if track.sweep},
        )


class SubjectTrack(Struct):
    """One subject while its events are read: its finished visits, and what is under way.

    `block` and `sweep` are those that were put on record as begun.
    """

    blocks: list[DaySpan] = []
    sweeps: list[DaySpan] = []
    covered: dict[str, set[int]] = {}
    done_on: dict[date, int] = {}
    since: date | None = None
    block: str = ""
    sweep: BegunVisit | None = None
    swept: set[ChapterNumber] = set()
    swept_last: date | None = None

    def answer(self, response: PlanResponse, subject: SubjectLoad) -> None:
        """A response counts for the sweep under way, or for the block next or under way."""
        if self.sweep is not None:
            self.count_swept(response)
        if response.purpose is Purpose.SWEEP:
            return
        if response.purpose is Purpose.FREE and self.since is None:
            return
        if not self.blocks or response.day > self.blocks[-1].last:
            self._revise(response, subject)

    def _revise(self, response: PlanResponse, subject: SubjectLoad) -> None:
        covered, number = self.covered.setdefault(response.chapter, set()), response.number
        if number in covered or not subject.has(response.chapter, number):
            return
        covered.add(number)
        self.since = self.since or response.day
        self.done_on[response.day] = self.done_on.get(response.day, 0) + 1
        if sum(self.done_on.values()) == subject.questions:
            self._finish_block(response.day)

    def _finish_block(self, last: date) -> None:
        self.blocks.append(DaySpan(self.since or last, last))
        self.covered, self.done_on, self.since = {}, {}, None
        self.block = ""

    def count_swept(self, response: PlanResponse) -> None:
        """A response counts for the sweep under way; the last of its list ends it."""
        sweep = self.sweep
        if sweep is None:
            return
        self.swept.add((response.chapter, response.number))
        self.swept_last = response.day
        if sweep.questions and self.swept.issuperset(sweep.questions):
            self._finish_sweep(response.day)

    def _finish_sweep(self, last: date) -> None:
        if self.sweep is not None:
            self.sweeps.append(DaySpan(self.sweep.day, last))
        self.sweep, self.swept, self.swept_last = None, set(), None

    def begin(self, event: BegunVisit) -> None:
        """A visit begins; a sweep that another follows is over."""
        if not event.visit.sweep:
            self.since, self.block = self.since or event.day, event.id
            return
        if self.sweep is not None:
            self._finish_sweep(self.swept_last or event.day)
        self.sweep = event

    def end(self, event: EndedVisit) -> None:
        """A visit was ended by hand."""
        if self.sweep is not None and self.sweep.id == event.id:
            self._finish_sweep(event.day)
        elif event.id == self.block:
            self._finish_block(event.day)

    def close_before(self, morning: date) -> None:
        """A sweep without a list is over with its day."""
        sweep = self.sweep
        if sweep is not None and not sweep.questions and sweep.day < morning:
            self._finish_sweep(self.swept_last or sweep.day)

    def open_sweep(self) -> OpenSweep:
        """The sweep under way; there is one."""
        sweep = self.sweep
        assert sweep is not None
        return OpenSweep(
            sweep.id,
            sweep.visit,
            sweep.day,
            sweep.questions,
            tuple(question for question in sweep.questions if question not in self.swept),
            tuple(question for question in sweep.also_open if question not in self.swept),
            tuple(question for question in sweep.untried if question not in self.swept),
        )


class SweepCandidate(Struct, frozen=True, gc=False):
    """A question a sweep may take, and when it was last tried; `unrecorded` where its chapter has
    nothing recorded.
    """

    chapter: str
    number: int
    tier: Tier
    last: date | None = None
    unrecorded: bool = False


class SweepList(Struct, frozen=True):
    """The list of a sweep: the repeatedly missed, then what goes under lines of its own."""

    questions: tuple[ChapterNumber, ...]
    also_open: tuple[ChapterNumber, ...]
    untried: tuple[ChapterNumber, ...]

    @property
    def is_empty(self) -> bool:
        """Whether the sweep has nothing to put up at all."""
        return not (self.questions or self.also_open or self.untried)


def sweep_list(candidates: Iterable[SweepCandidate], holds: int) -> SweepList:
    """The list of a sweep whose day holds so many questions; the candidates in book order.

    All repeatedly missed, whatever the day holds; the other open ones, the longest unseen first,
    and the untried of chapters where nothing is recorded, as far as there is room.
    """
    known = list(candidates)
    questions = [c for c in known if c.tier >= Tier.HARDER]
    others = (place for place, c in enumerate(known) if c.tier is Tier.HARD)
    longest_unseen = sorted(others, key=lambda place: known[place].last or date.min)
    room = max(0, holds - len(questions))
    also_open = [known[place] for place in sorted(longest_unseen[:room])]
    free = max(0, holds - len(questions) - len(also_open))
    untried = [c for c in known if c.tier is Tier.UNTRIED and c.unrecorded][:free]
    return SweepList(tuple(_names(questions)), tuple(_names(also_open)), tuple(_names(untried)))


def _names(candidates: Iterable[SweepCandidate]) -> Iterator[ChapterNumber]:
    return ((candidate.chapter, candidate.number) for candidate in candidates)
