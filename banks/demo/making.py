"""The demo's store: the sample banks, the candidate's settings, and what they did on each day."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, date, time, tzinfo
from importlib.resources import files
from itertools import groupby, pairwise
from pathlib import Path
from random import Random

from msgspec.structs import replace

from banks.clock import Clock
from banks.demo.candidate import Candidate
from banks.demo.diary import Diary, Workday, exam_day, ill_days, opening_day, plan_start, workdays
from banks.importers.common import Hints
from banks.importers.json_reader import parse
from banks.importers.outline import parse_outline
from banks.intake.reconcile import reconcile
from banks.library import Library
from banks.settings import Settings
from banks.store.folder import Store
from banks.views.week import last_week, remember_week
from domain.marking.blueprint import ExamBlueprint
from domain.plan.inputs import ONE_DAY, PlanInputs, monday
from domain.questions import Bank, Question, Subject
from domain.responses import (
    AnyRecord,
    Dispute,
    HandTier,
    Note,
    Purpose,
    Response,
    Withdrawal,
    study_day,
)
from domain.tiers import Tier

_SAMPLES = files("sample_banks")
_OUTLINE = "observers-printed-outline.csv"
_EXAM = ExamBlueprint(minutes=120, scheme="+4/−1", hour=time(10))


def make_demo(folder: str | Path, clock: Clock, seed: int = 1) -> Path:
    """Fill an empty folder with the demo's store as of now. Returns the folder."""
    settings = Settings()
    now = clock()
    zone = now.tzinfo
    assert zone is not None, "a clock tells its zone"
    today = study_day(now, settings.turn_hour)
    full, printed = full_bank(), printed_bank(today)
    records = demo_records(full, printed, today, Random(seed), zone)
    store = Store.open(Path(folder))
    try:
        store.save_settings(replace(settings, plan=demo_inputs(printed, today), exam=_EXAM))
        store.save_bank(printed)
        store.save_bank(full)
        store.append(records)
        library = Library(store, clock)
        remember_week(library, last_week(library))  # the demo opens on Today
    finally:
        store.close()
    return store.folder


def demo_inputs(printed: Bank, today: date) -> PlanInputs:
    """What the candidate told the plan: the exam some three months ahead, the rest as usual."""
    return PlanInputs(
        exam=exam_day(today),
        start=plan_start(today),
        off=tuple(ill_days(today)),
        banks=(printed.id,),
        order=tuple(f"{printed.id}/{subject}" for subject in turns(printed)),
    )


def full_bank() -> Bank:
    """The part of the question book that is there with its text: nine subjects."""
    bank = Bank(id="observers-full-text", title="Question Book, full text", edition="2nd")
    for file in sorted(_SAMPLES.joinpath("observer").iterdir(), key=lambda file: file.name):
        bank = reconcile(bank, parse(file.read_bytes(), Hints(name=file.name))).bank
    return bank


def printed_bank(today: date) -> Bank:
    """The printed question book, of which only the numbers are known: 21 subjects.

    Those that still wait for their first study are open for revision from next week.
    """
    outline = parse_outline(_SAMPLES.joinpath(_OUTLINE).read_bytes(), Hints(name=_OUTLINE))
    empty = Bank(id="observers-question-book", title="Observer's Question Book", edition="2nd")
    bank = reconcile(empty, outline.parsed, weights=outline.weights).bank
    studied = bank.subjects[:-UNSTUDIED]
    waiting = bank.subjects[-UNSTUDIED:]
    opening = opening_day(today)
    return bank.with_subjects(
        [*studied, *(replace(subject, open_from=opening) for subject in waiting)]
    )


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
        days = [day.day for day in self._days if day.day < self._this_week - 2 * ONE_DAY]
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
        for subject, questions in groupby(
            share, lambda question: self._printed.subject_of(question.chapter)
        ):
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
    by_week: defaultdict[int, list[date]] = defaultdict(list)
    for workday in days:
        if workday.week is not None and not workday.is_sweep:
            by_week[workday.week].append(workday.day)
    return by_week


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


UNDRILLED = 2
"""How many subjects of the full-text bank, its last, were never drilled."""

_DRILL_LENGTH = 26
_DRILL_MISSED = 1
_DRILL_NEW = 3
_MET_LAST = 110
"""A mix is drawn from so many questions, those met last; what came before is left to wait."""
_LEFT_OPEN = 20


class Drills:
    """Draws each day's drill: some of what was missed, some new questions, the rest a mix."""

    def __init__(self, full: Bank, candidate: Candidate, rng: Random) -> None:
        self._rng = rng
        self._fresh: list[Question] = []
        self._drilled: dict[str, Question] = {}
        self._missed: Sequence[Question] = ()
        for subject in full.subjects[: len(full.subjects) - UNDRILLED]:
            chapters = [full.in_chapter(chapter.id) for chapter in subject.chapters]
            self._fresh += [question for chapter in chapters for question in chapter]
            ids = [[question.id for question in chapter] for chapter in chapters]
            candidate.meet(ids, share=rng.uniform(0.52, 0.78))

    def next(self) -> list[Question]:
        """The questions of one drill, in the order they are asked."""
        picked = {question.id: question for question in self._missed[:_DRILL_MISSED]}
        new, self._fresh = self._fresh[:_DRILL_NEW], self._fresh[_DRILL_NEW:]
        picked |= {question.id: question for question in new}
        mixed = self.mixed(_DRILL_LENGTH - len(picked))
        picked |= {question.id: question for question in mixed}
        self._drilled |= picked
        drawn = list(picked.values())
        self._rng.shuffle(drawn)
        return drawn

    def seen(self, missed: Sequence[Question]) -> None:
        """Take in what the last drill left unknown."""
        self._missed = missed

    def mixed(self, count: int = _LEFT_OPEN) -> list[Question]:
        """Questions drilled before, at random, among those met last."""
        known = list(self._drilled.values())[-_MET_LAST:]
        return self._rng.sample(known, min(count, len(known)))


_NOTES = (
    ("three fingers cover about 5°", "Little finger 1°, three fingers 5°: try it at the window."),
    ("The receiver gives -.--", "Q begins with two dashes, Y ends with two."),
    ("The sea heaps up", "Streaks: begin at 7, well marked at 8, dense at 9."),
)
_DISPUTED = ("one scrap of cumulus", "0", "Rounded to eighths it is 0. Ask at the office.")
_HARDEST = ("the register for stratocumulus", "I keep writing St for it on the night shift")
_CLEAR = "struck out in the errata slip"


def add_remarks(diary: Diary, full: Bank, printed: Bank) -> None:
    """Add the remarks at the diary's last moment, and take the last response back."""
    for words, text in _NOTES:
        diary.say(Note, question=_find(full, words).id, text=text)
    words, believed, note = _DISPUTED
    question = _find(full, words)
    key = tuple(option.id for option in question.options if option.text == believed)
    diary.say(Dispute, question=question.id, key=key, note=note)
    words, reason = _HARDEST
    diary.say(HandTier, question=_find(full, words).id, tier=Tier.HARDEST, reason=reason)
    struck_out = printed.in_chapter(printed.subjects[0].chapters[0].id)[-1]
    diary.say(HandTier, question=struck_out.id, tier=Tier.CLEAR, reason=_CLEAR)
    last = next(record for record in reversed(diary.records) if isinstance(record, Response))
    diary.say(Withdrawal, targets=(last.id,))


def _find(bank: Bank, words: str) -> Question:
    return next(question for question in bank.questions.values() if words in question.stem)
