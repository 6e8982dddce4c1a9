"""What the planner needs of banks and log, read once: subjects, what was done when, the pace."""

from collections import deque
from collections.abc import Iterator, Sequence
from datetime import date
from functools import cached_property
from itertools import takewhile

from banks.library import Library
from domain.marking.weights import exam_weights
from domain.plan.inputs import PlanInputs, Role
from domain.plan.load import ChapterLoad, Done, Pace, SubjectLoad
from domain.plan.pace import own_pace
from domain.plan.pairing import Visit, in_order, visits
from domain.plan.progress import Attempt, Progress
from domain.plan.remedies import Planner
from domain.questions import Bank, Chapter, Question, Subject
from domain.responses import Purpose
from domain.tiers import Standing, Tier

PLANNED = {Purpose.REVISION: False, Purpose.SWEEP: True}
"""The purposes that count towards the plan, and whether they are a sweep."""


class Workload:
    """Banks and log as the planner sees them. Ids are `<bank>/<subject>` and `<bank>/<chapter>`.

    Whatever is asked of a day is as of its morning: what was done on the day itself does not
    change its plan.
    """

    def __init__(self, library: Library) -> None:
        self._library = library
        self.inputs = library.settings.plan
        self.today = library.today()
        self.titles: dict[str, str] = {}
        self.places: dict[str, tuple[str, str]] = {}
        self.attempts: list[Attempt] = []
        self._seconds: dict[str, list[float]] = {}
        self._stood: dict[str, list[Standing]] = {}
        self._read_history()
        found = (
            self._subject(bank, one, weights[one.id])
            for bank in self._banks()
            for weights in (exam_weights(bank),)
            for one in bank.subjects
        )
        self.subjects = [subject for subject in found if subject.questions]
        self._hard: dict[tuple[str, date], int] = {}
        self._read: dict[date, Progress] = {}
        self._paces: dict[float, Pace] = {}

    # reading

    def _banks(self) -> Iterator[Bank]:
        wanted = self.inputs.banks
        return (bank for bank in self._library.banks.values() if not wanted or bank.id in wanted)

    def _subject(self, bank: Bank, subject: Subject, weight: float) -> SubjectLoad:
        name = f"{bank.id}/{subject.id}"
        self.titles[name] = subject.title
        self.places[name] = (bank.id, subject.id)
        chapters = tuple(self._chapter(bank, chapter) for chapter in subject.chapters)
        tried = self._stood.get(name, [])
        days = sum(standing.days for standing in tried)
        return SubjectLoad(
            name,
            subject.title,
            chapters,
            weight=weight,
            open_from=subject.open_from,
            tried=len(tried),
            hard=sum(standing.tier >= Tier.HARD for standing in tried),
            strength=sum(standing.clean_days for standing in tried) / days if days else None,
        )

    def _chapter(self, bank: Bank, chapter: Chapter) -> ChapterLoad:
        name = f"{bank.id}/{chapter.id}"
        self.titles[name] = chapter.title
        numbers = tuple(question.number for question in bank.in_chapter(chapter.id))
        return ChapterLoad(name, chapter.title, numbers)

    def _read_history(self) -> None:
        """Go through what was answered, and nothing else, however large the banks are."""
        history, banks = self._library.history, {bank.id: bank for bank in self._banks()}
        for question_id in history.questions():
            bank = banks.get(question_id.partition("/")[0])
            question = bank.questions.get(question_id) if bank else None
            if question is None or question.retired:
                continue
            subject = f"{bank.id}/{bank.subject_of(question.chapter).id}"
            standing = history.standing(question_id)
            if standing.tier is not Tier.UNTRIED:
                self._stood.setdefault(subject, []).append(standing)
            self._read_question(subject, f"{bank.id}/{question.chapter}", question)
        self.attempts.sort(key=lambda attempt: attempt.day)

    def _read_question(self, subject: str, chapter: str, question: Question) -> None:
        history, begin = self._library.history, self.inputs.start or date.min
        seconds = self._seconds.setdefault(subject, [])
        for response in history.responses(question.id):
            day = history.day(response.at)
            if day < self.today:
                seconds.append(response.seconds)
            sweep = PLANNED.get(response.purpose)
            if sweep is not None and day >= begin:
                self.attempts.append(Attempt(day, subject, chapter, question.number, sweep))

    # as of the morning of a day

    def planner(self, day: date, inputs: PlanInputs | None = None) -> Planner:
        """Everything a plan made on that morning depends on, except its inputs.

        Pace and tiers are always today's, so that two mornings differ by the work done.
        """
        inputs = inputs or self.inputs
        return Planner(self.subjects, self.done_before(day, inputs), self.pace(inputs), day)

    def planners(self, days: Sequence[date]) -> Iterator[Planner]:
        """The planners of several mornings, the earliest first, in one reading of the log."""
        attempts, inputs = deque(self.attempts), self.inputs
        progress = Progress(self.subjects, (), self._sweep_target)
        turns = self._visits(inputs)
        for day in days:
            progress.read(_taken_before(attempts, day))
            yield Planner(self.subjects, progress.done(turns), self.pace(inputs), day)

    def pace(self, inputs: PlanInputs) -> Pace:
        """The candidate's own pace, as of this morning."""
        expected, cap = inputs.seconds, self._library.settings.idle_cap
        if expected not in self._paces:
            found = self._seconds.items()
            timings = ((one, self.today, min(s, cap)) for one, taken in found for s in taken)
            self._paces[expected] = own_pace(timings, expected)
        return self._paces[expected]

    def done_before(self, day: date, inputs: PlanInputs) -> Done:
        """What is finished on that morning."""
        return self._progress(day).done(self._visits(inputs))

    def _visits(self, inputs: PlanInputs) -> list[Visit]:
        order = in_order(inputs, self.subjects, inputs.start or self.today)
        return list(visits(inputs, order))

    def _progress(self, day: date) -> Progress:
        if day not in self._read:
            before = takewhile(lambda attempt: attempt.day < day, self.attempts)
            self._read[day] = Progress(self.subjects, before, self._sweep_target)
        return self._read[day]

    def _sweep_target(self, subject: str, day: date) -> int:
        """What a sweep of the subject had to take: its hard set that morning, if a day holds it."""
        known = self._hard.get((subject, day))
        if known is None:
            known = self._hard[subject, day] = min(self._holds, self._hard_before(subject, day))
        return known

    @cached_property
    def _holds(self) -> int:
        """How many questions the longest sweep day of the week holds."""
        week = zip(self.inputs.roles, self.inputs.minutes, strict=True)
        longest = max((sum(parts) for role, parts in week if role is Role.SWEEP), default=0)
        return int(longest * 60 / self.inputs.seconds)

    def _hard_before(self, subject: str, day: date) -> int:
        bank_id, subject_id = self.places[subject]
        bank = self._library.banks[bank_id]
        chapters = next(one.chapters for one in bank.subjects if one.id == subject_id)
        return sum(
            self._tier_before(question.id, day) >= Tier.HARD
            for chapter in chapters
            for question in bank.in_chapter(chapter.id)
        )

    def _tier_before(self, question_id: str, day: date) -> Tier:
        history = self._library.history
        standing = history.standing(question_id)
        if standing.last is None or standing.last < day:
            return standing.tier
        earlier = [step.after.tier for step in history.trail(question_id) if step.day < day]
        return earlier[-1] if earlier else Tier.UNTRIED

    # minutes done

    def minutes_done(self) -> Sequence[tuple[date, float]]:
        """(day, minutes) of each question that brought a block on, at the candidate's own pace."""
        pace, steps = self.pace(self.inputs), self._progress(self.today).steps()
        return [(step.day, pace.of(step.subject) / 60) for step in steps if not step.sweep]


def _taken_before(attempts: deque[Attempt], day: date) -> Iterator[Attempt]:
    """Take the attempts before the day from the front."""
    while attempts and attempts[0].day < day:
        yield attempts.popleft()
