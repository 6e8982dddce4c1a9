"""What the invented candidate did on each day: first study, blocks, sweeps, drills."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, date, time, tzinfo
from itertools import groupby, pairwise
from random import Random

from banks.demo.candidate import Candidate
from banks.demo.diary import Diary, Workday, workdays
from banks.demo.drills import Drills
from banks.demo.remarks import add_remarks
from domain.plan.inputs import ONE_DAY, monday
from domain.questions import Bank, Question, Subject
from domain.responses import AnyRecord, Purpose

UNSTUDIED = 2
"""How many subjects, the printed bank's last, still wait for their first study."""

_BLOCK_DAYS = 5
_PASS = 40
_PASS_POOL = 110
"""A pass takes from the questions that were missed first, so that it meets them again."""
_WEDNESDAY = 2
_MORNING, _NOON, _AFTERNOON = time(6, 30), time(12, 30), time(14, 0)
_EVENING, _NIGHT, _SWEEP = time(19, 0), time(21, 0), time(8, 0)


def demo_records(
    full: Bank, printed: Bank, today: date, rng: Random, zone: tzinfo = UTC
) -> list[AnyRecord]:
    """About four months of history ending yesterday, in time order: some 26,000 responses.

    The same for equal arguments. `zone` is the candidate's clock.
    """
    return _Story(full, printed, today, rng, zone).tell()


def turns(printed: Bank) -> tuple[str, ...]:
    """Subject ids in the plan's order: those with a block in round one, then those swept."""
    ids = [subject.id for subject in printed.subjects]
    return tuple(ids[0::2] + ids[1::2])


class _Story:
    """Tells the history day by day into a diary.

    Of the subjects studied, the even ones (from 0) take a block each, a week long, and the odd
    ones are swept on the Saturday of the same week: see `turns`.
    """

    def __init__(self, full: Bank, printed: Bank, today: date, rng: Random, zone: tzinfo) -> None:
        self._rng = rng
        self._full = full
        self._printed = printed
        self._this_week = monday(today)
        self._subjects = printed.subjects[: len(printed.subjects) - UNSTUDIED]
        candidate = Candidate(rng)
        for subject in self._subjects:
            chapters = [_ids(chapter) for chapter in self._chapters(subject)]
            candidate.meet(chapters, share=0.545 + rng.uniform(-0.01, 0.01))
        self._drills = Drills(full, candidate, rng)
        self._diary = Diary(candidate, rng, zone)
        self._days = workdays(today, rng)
        self._block_days = _by_week(self._days)
        self._study = self._study_days()
        self._hard: defaultdict[str, list[Question]] = defaultdict(list)
        self._stubborn: list[Question] = []

    def tell(self) -> list[AnyRecord]:
        """The records of all days; the last of them is a drill that was left open."""
        for workday in self._days:
            self._live(workday)
        last = self._days[-1].day
        self._diary.drill("Drill", last, _NIGHT, self._drills.mixed(), stop=9)
        add_remarks(self._diary, self._full, self._printed)
        return self._diary.records

    def _live(self, workday: Workday) -> None:
        day = workday.day
        subject, block = self._block(workday)
        early = len(block) // 3
        unknown = self._revise(subject, day, _MORNING, block[:early])
        self._sweep(workday)
        self._drills.seen(self._diary.drill("Drill", day, _NOON, self._drills.next()))
        self._study_on(day)
        unknown += self._revise(subject, day, _EVENING, block[early:])
        self._look_again(subject, Purpose.REVISION, day, _EVENING, unknown)
        self._take_pass(day)

    # first study

    def _study_days(self) -> dict[date, list[Question]]:
        """The printed questions of the subjects studied, spread over the days up to last week."""
        days = [one.day for one in self._days if one.day < self._this_week - 2 * ONE_DAY]
        questions = [
            question
            for subject in self._subjects
            for chapter in self._chapters(subject)
            for question in chapter
        ]
        edges = [len(questions) * at // len(days) for at in range(len(days) + 1)]
        shares = (questions[low:high] for low, high in pairwise(edges))
        return dict(zip(days, shares, strict=True))

    def _chapters(self, subject: Subject) -> list[Sequence[Question]]:
        return [self._printed.in_chapter(chapter.id) for chapter in subject.chapters]

    def _study_on(self, day: date) -> None:
        share = self._study.get(day, [])
        for subject, questions in groupby(share, lambda one: self._printed.subject_of(one.chapter)):
            unknown = self._diary.mark(
                subject.title, Purpose.STUDY, day, _AFTERNOON, list(questions)
            )
            self._hard[subject.id] += unknown
            self._look_again(subject, Purpose.STUDY, day, _AFTERNOON, unknown)

    def _look_again(
        self,
        subject: Subject,
        purpose: Purpose,
        day: date,
        begin: time,
        questions: Sequence[Question],
    ) -> None:
        """What was not known is looked at once more on the same day."""
        self._mark(f"{subject.title}: a second look", purpose, day, begin, questions)

    def _mark(
        self, title: str, purpose: Purpose, day: date, begin: time, questions: Sequence[Question]
    ) -> list[Question]:
        return self._diary.mark(title, purpose, day, begin, questions) if questions else []

    # the plan

    def _block(self, workday: Workday) -> tuple[Subject, list[Question]]:
        """The subject of the week and the chapters of it that fall to this day."""
        subject = self._subjects[2 * (workday.week or 0)]
        if workday.week is None or workday.is_sweep:
            return subject, []
        days = self._block_days[workday.week]
        count = _BLOCK_DAYS if days[0] >= self._this_week else len(days)
        chapters = self._chapters(subject)
        counts = _chapters_per_day([len(chapter) for chapter in chapters], count)
        day = days.index(workday.day)
        first = sum(counts[:day])
        today = chapters[first : first + counts[day]]
        return subject, [question for chapter in today for question in chapter]

    def _revise(
        self, subject: Subject, day: date, begin: time, questions: Sequence[Question]
    ) -> list[Question]:
        unknown = self._mark(subject.title, Purpose.REVISION, day, begin, questions)
        self._stubborn += unknown
        return unknown

    def _sweep(self, workday: Workday) -> None:
        """The hard-tiers of the week's other subject, once it has had its first study."""
        if workday.week is None or not workday.is_sweep:
            return
        for subject in self._subjects[2 * workday.week + 1 :][:1]:
            title = f"{subject.title}: sweep"
            hard = self._hard[subject.id]
            if hard:
                bank = self._printed.id
                self._diary.begin_sweep(bank, subject.id, workday.day, _SWEEP, hard)
            self._stubborn += self._mark(title, Purpose.SWEEP, workday.day, _SWEEP, hard)

    def _take_pass(self, day: date) -> None:
        if day.weekday() == _WEDNESDAY:
            pool = self._stubborn[:_PASS_POOL]
            again = self._rng.sample(pool, min(_PASS, len(pool)))
            self._mark("Pass", Purpose.PASS, day, _NIGHT, again)


def _ids(questions: Iterable[Question]) -> list[str]:
    return [question.id for question in questions]


def _by_week(days: Iterable[Workday]) -> dict[int, list[date]]:
    """The revision days of each worked week of the plan."""
    found: defaultdict[int, list[date]] = defaultdict(list)
    for workday in days:
        if workday.week is not None and not workday.is_sweep:
            found[workday.week].append(workday.day)
    return found


def _chapters_per_day(sizes: Sequence[int], days: int) -> list[int]:
    """How many whole chapters each day takes, so that the fullest day is least full."""
    for limit in range(max(sizes), sum(sizes) + 1):
        counts, load = [0], 0
        for size in sizes:
            if load + size > limit:
                counts.append(0)
                load = 0
            counts[-1] += 1
            load += size
        if len(counts) <= days:
            return counts + [0] * (days - len(counts))
    return [len(sizes)] + [0] * (days - 1)
