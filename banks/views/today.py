"""What to do now: the day's lines question by question, for screen, command and sheet alike."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, time
from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from banks.views.results import DayResult, day_result
from domain.plan.changes import PlanDifference, PlanSummary, difference, summary_of
from domain.plan.inputs import ONE_DAY, Use
from domain.plan.study_plan import EntryKind, PassKind, PlanEntry, PlanPart, StudyPlan
from domain.plan.visits import BegunVisit, EndedVisit, OpenSweep, PlanResponse
from domain.responses import PaperKind, Purpose
from domain.text import listed
from domain.tiers import WaitingState

if TYPE_CHECKING:
    from banks.library import Library
    from banks.planning.workload import PlanWorkload

PARTS = ((), ("Today",), ("Morning", "Evening"), ("Morning", "Midday", "Evening"))
"""What the parts of a day are called, by how many there are."""
_COMING = 14
AWAY_DAYS, SHORT_DAY = 3, 20
"""After so many days without work coming back is made easy: a day of so many minutes is offered."""
QUIET_DAYS = 3
"""From so many days before the exam on nothing tells of forecasts, shortages or tiers unasked."""
SPILL = 10
"""So many questions of a sweep wait for a day of their own; fewer are taken on the day."""


class LineKind(StrEnum):
    """What a line of Today puts up."""

    BLOCK = "block"
    SWEEP = "sweep"
    FIRST_STUDY = "first study"
    PASS = "pass"
    PAPER = "paper"


PURPOSES = {
    LineKind.BLOCK: Purpose.REVISION,
    LineKind.SWEEP: Purpose.SWEEP,
    LineKind.FIRST_STUDY: Purpose.STUDY,
    LineKind.PASS: Purpose.PASS,
    LineKind.PAPER: Purpose.PAPER,
}
"""The purpose under which the responses to a line go on record."""


class LineItem(Struct, frozen=True, gc=False):
    """A question of a line. `also_open` and `untried` stand under lines of their own in a sweep."""

    question: str
    subject: str
    chapter: str
    number: int
    done: bool = False
    also_open: bool = False
    untried: bool = False


class TodayLine(Struct, frozen=True, kw_only=True):
    """One line of the day: what screen, command and sheet put up, question by question.

    `part` names the part of the day ("" where the line belongs to none); `offer` may be left
    without harm to the plan. `chapter` is "" where the line holds questions of several. A paper
    has no items before it is drawn: `planned` counts its questions; a rehearsal's `hour` is the
    exam's, where that was told. `minutes` is for the whole.
    Of a pass, `waiting` counts its questions that were waiting; `is_final`: the day is one of
    final revision.
    """

    kind: LineKind
    part: str = ""
    part_minutes: int = 0
    bank: str = ""
    subject: str = ""
    subject_title: str = ""
    chapter: str = ""
    chapter_title: str = ""
    round: int | None = None
    offer: bool = False
    items: tuple[LineItem, ...] = ()
    planned: int = 0
    minutes: float = 0.0
    paper: str = ""
    hour: time | None = None
    pass_kind: PassKind | None = None
    waiting: int = 0
    is_final: bool = False

    @property
    def count(self) -> int:
        """Questions of the line."""
        return len(self.items) or self.planned

    @property
    def done(self) -> int:
        """Questions of the line that were answered today."""
        return sum(item.done for item in self.items)

    @property
    def left(self) -> int:
        """Questions of the line still to do."""
        return self.count - self.done

    @property
    def questions(self) -> tuple[str, ...]:
        """The ids of its questions, in order."""
        return tuple(item.question for item in self.items)

    @property
    def purpose(self) -> Purpose:
        """What its responses are recorded as."""
        return PURPOSES[self.kind]

    @property
    def title(self) -> str:
        """What a sitting over the line is called."""
        if self.kind is LineKind.BLOCK and self.numbers:
            return f"{self.subject_title} · {self.chapter_title} · {self.numbers}"
        if self.kind is LineKind.FIRST_STUDY:
            return f"First study · {self.subject_title} · {self.chapter_title}"
        if self.kind is LineKind.PASS:
            return "Final revision" if self.is_final else "Pass"
        return f"{self.kind.value.capitalize()} · {self.subject_title or self.paper}"

    @property
    def span(self) -> tuple[int, int] | None:
        """The first and last number, where the line holds questions of one chapter."""
        if not self.items or not self.chapter:
            return None
        return self.items[0].number, self.items[-1].number

    @property
    def numbers(self) -> str:
        """The span in words: "1–28", "5"; "" where it holds several chapters."""
        first, last = self.span or (0, 0)
        return f"{first}–{last}" if first != last else str(first or "")


class DayAhead(Struct, frozen=True):
    """A later day: its role, the subjects' titles, its questions and minutes of visits."""

    day: date
    role: Use
    kind: EntryKind
    subject_title: str
    questions: int
    minutes: float


class TodayView(Struct, frozen=True, kw_only=True):
    """The day. Without a plan only `today` is there and `is_set_up` is False.

    `day` is the day whose lines are shown: today, or the next day with work (`is_ahead`).
    `ends_round`: no visit of its `round` comes after it. `role` is what that day is for; `over`
    its minutes beyond those there are. `also_done` counts questions answered today outside its
    lines, `result` is what all of today came to so far. `emptied` names subjects whose sweep had
    nothing to put up. `attendance` is what the plan needs, in whole days of 100; `change` is what
    is different from the plan the candidate last saw, `away_days` how long visits were missed and
    `missed_days` how many of the days had any, `short_day` the minutes of a short first day where
    one is on offer. `days_worked` is told once the exam is over. `is_choosing`: the day has a
    pass whose questions are still to be chosen. `asks_final`: it is still to be answered how the
    last days of a short plan shall go.
    """

    today: date
    is_set_up: bool
    day: date | None = None
    is_ahead: bool = False
    exam: date | None = None
    days_to_exam: int = 0
    role: Use = Use.REST
    round: int = 0
    rounds: int = 0
    ends_round: bool = False
    subject_title: str = ""
    lines: tuple[TodayLine, ...] = ()
    over: float = 0.0
    also_done: int = 0
    result: DayResult | None = None
    emptied: tuple[str, ...] = ()
    coming: tuple[DayAhead, ...] = ()
    next_sweep: DayAhead | None = None
    feasible: bool = True
    at_own_pace: bool = True
    attendance: int | None = None
    slack_days: int = 0
    shortfall_minutes: float = 0.0
    beyond: int = 0
    waiting: WaitingState | None = None
    change: PlanDifference | None = None
    away_days: int = 0
    missed_days: int = 0
    days_worked: int = 0
    short_day: int = 0
    is_choosing: bool = False
    asks_final: bool = False

    @property
    def next_work(self) -> DayAhead | None:
        """The next of the coming days with work."""
        return next((day for day in self.coming if day.questions), None)

    @property
    def is_quiet(self) -> bool:
        """The exam is near: the day's lines are told, and no figure beside them."""
        return 0 < self.days_to_exam <= QUIET_DAYS

    @property
    def planned(self) -> tuple[TodayLine, ...]:
        """The lines that the plan needs done."""
        return tuple(line for line in self.lines if not line.offer)

    @property
    def count(self) -> int:
        """Questions that the plan needs done today."""
        return sum(line.count for line in self.planned)

    @property
    def done(self) -> int:
        """Those of them that are done."""
        return sum(line.done for line in self.planned)

    @property
    def minutes_left(self) -> float:
        """Minutes of what the plan needs and is not done yet."""
        return sum(line.minutes * line.left / line.count for line in self.planned if line.count)


def today_view(
    library: "Library",
    workload: "PlanWorkload | None" = None,
    *,
    ahead: bool = False,
    may_choose: bool = True,
) -> TodayView:
    """Today on the plan, or with `ahead` the lines of the next day with work.

    Without `may_choose` a pass that was not chosen yet is left out: choosing takes a second or
    two. The workload is read here where it was not before. Raises InputError when no plan can be
    made of the inputs.
    """
    from banks.planning.workload import PlanWorkload
    from banks.views.triage import waiting_state
    from domain.plan.levers import asks_for_final_revision

    if not library.settings.plan.is_set_up:
        return TodayView(today=library.today(), is_set_up=False)
    workload = workload or PlanWorkload(library)
    today, exam = workload.today, workload.inputs.exam
    assert exam is not None
    left = (exam - today).days
    if left <= 0:
        return TodayView(
            today=today,
            is_set_up=True,
            exam=exam,
            days_to_exam=left,
            days_worked=len(workload.days_worked),
        )
    plan, missed = workload.plan(), missed_before(workload, today)
    away = (today - missed[0]).days if missed else 0
    if away < AWAY_DAYS:
        away, missed = 0, []
    lines = DayLines(library, workload, may_choose=may_choose and not ahead)
    day, shown = today, lines.of(today)
    if ahead:
        plan = workload.plan(today + ONE_DAY)
        day = next((entry.day for entry in plan.entries if entry.is_visit), today)
        shown = lines.of(day)
    entries = plan.on(day)
    visit = next((entry for entry in entries if entry.is_visit), None)
    return TodayView(
        today=today,
        is_set_up=True,
        day=day,
        is_ahead=day != today,
        exam=exam,
        days_to_exam=left,
        role=entries[0].role if entries else Use.REST,
        round=(visit.round if visit else None) or _round_on(plan, day),
        rounds=workload.inputs.rounds,
        ends_round=visit is not None and _ends_round(plan, visit),
        subject_title=_titles(workload, [visit] if visit else []),
        lines=tuple(shown),
        over=max((entry.over_minutes for entry in entries), default=0.0),
        also_done=0 if ahead else lines.done_outside(shown),
        result=day_result(library, today),
        emptied=tuple(lines.emptied(today)),
        coming=tuple(_days_ahead(workload, plan, day))[:_COMING],
        next_sweep=next(_sweeps_ahead(workload, plan, day), None),
        feasible=plan.feasible,
        attendance=plan.needs_attendance,
        slack_days=plan.slack_days,
        shortfall_minutes=plan.shortfall_minutes,
        waiting=waiting_state(library, workload.inputs.banks),
        change=changed_since_seen(library, workload.plan()),
        away_days=away,
        missed_days=len(missed),
        short_day=0 if ahead else _short_day(workload, plan, away),
        beyond=sum(left_over.questions for left_over in plan.beyond),
        is_choosing=lines.is_choosing and not ahead,
        asks_final=asks_for_final_revision(workload.inputs, workload.plan(), today) and not ahead,
    )


def part_name(parts: int, part: int) -> str:
    """What part number `part` (0 for the first) of a day of so many parts is called."""
    return PARTS[parts][part] if 0 < parts < len(PARTS) else f"Part {part + 1}"


class DayLines:
    """Makes the lines of a day from the entries of its plan."""

    def __init__(
        self, library: "Library", workload: "PlanWorkload", *, may_choose: bool = True
    ) -> None:
        self._library, self._workload = library, workload
        self._may_choose, self.is_choosing = may_choose, False
        today = workload.today
        events = workload.events_on(today)
        answered = [event for event in events if isinstance(event, PlanResponse)]
        self._answered = {(event.chapter, event.number) for event in answered}
        self._revised = {
            (event.chapter, event.number)
            for event in answered
            if event.purpose is not Purpose.SWEEP
        }
        self._begun_today = {
            event.visit.subject: event for event in events if isinstance(event, BegunVisit)
        }
        self._ended_today = {event.id for event in events if isinstance(event, EndedVisit)}
        self._open = workload.progress(today).open_sweeps
        self._beyond_plan: Counter[int] = Counter()
        """Questions that sweeps of the day took beyond what was planned, by part of the day."""

    def of(self, day: date) -> list[TodayLine]:
        """The lines of a day in the order in which they are taken."""
        entries = self._workload.plan(self._morning_of(day)).on(day)
        self._beyond_plan.clear()
        parts = _parts_of(self._workload, day)
        lines: list[tuple[int, TodayLine]] = []
        for entry in entries:
            make = self.sweep_lines if entry.kind is EntryKind.SWEEP else self._block
            if entry.is_visit:
                lines += make(entry, parts, day)
            elif entry.kind is EntryKind.PAPER:
                lines += self._paper(entry, parts)
            elif entry.kind is EntryKind.PASS and day == self._workload.today:
                lines += ((len(parts), line) for line in self._pass(entry))
        if day == self._workload.today:
            lines += ((len(parts), line) for line in self._first_study())
        lines.sort(key=lambda line: (line[1].offer, line[0]))
        return [line for _, line in lines]

    def done_outside(self, lines: Sequence[TodayLine]) -> int:
        """Questions answered today that stand in none of the lines."""
        shown = {question for line in lines for question in line.questions}
        return len(self._library.history.answered_on(self._workload.today) - shown)

    def emptied(self, day: date) -> Iterator[str]:
        """Titles of the subjects whose sweep had an empty list today."""
        for subject, begun in self._begun_today.items():
            if begun.day == day and not (begun.questions or begun.also_open or begun.untried):
                yield self._workload.titles[subject]

    def _block(
        self, entry: PlanEntry, parts: Sequence[int], day: date
    ) -> Iterator[tuple[int, TodayLine]]:
        today = day == self._workload.today
        for part in entry.parts:
            items = [
                self._item(
                    chapter_id, number, question, today and (chapter_id, number) in self._revised
                )
                for chapter_id, number, question in self._questions(part)
            ]
            line = self._line(LineKind.BLOCK, entry, part, parts, items, part.minutes)
            yield part.part, line

    def _questions(self, part: PlanPart) -> Iterator[tuple[str, int, str]]:
        chapter = part.chapter or ""
        for number, question_id in self._workload.ids_of(chapter, part.numbers):
            yield chapter, number, question_id

    def sweep_lines(
        self, entry: PlanEntry, parts: Sequence[int], day: date
    ) -> Iterator[tuple[int, TodayLine]]:
        """A sweep's questions shared out over the parts of the day, as its minutes hold them.

        What no part holds waits for a later day of the visit, unless it is less than would spill.
        """
        items = self._sweep_items(entry, day)
        seconds = self._workload.inputs.seconds
        others = self._workload.plan(self._morning_of(entry.day)).minutes_beside(entry)
        shares: list[list[LineItem]] = []
        begin = 0
        for place, minutes in enumerate(parts):
            holds = int((minutes - others.get(place, 0.0)) * 60 / seconds)
            holds = max(0, holds - self._beyond_plan[place])
            shares.append(items[begin : begin + holds])
            begin += holds
        rest = items[begin:]
        if rest and len(rest) < SPILL:
            last = max((n for n, share in enumerate(shares) if share), default=len(shares) - 1)
            shares[last] = shares[last] + rest
        planned = {part.part: part.questions for part in entry.parts}
        for place, share in enumerate(shares):
            self._beyond_plan[place] += len(share) - planned.get(place, 0)
            if share:
                piece = PlanPart(place, None, (), len(share), len(share) * seconds / 60)
                yield place, self._line(LineKind.SWEEP, entry, piece, parts, share, piece.minutes)

    def _morning_of(self, day: date) -> date:
        """The morning whose plan tells of the day."""
        today = self._workload.today
        return day if day == today else today + ONE_DAY

    def _sweep_items(self, entry: PlanEntry, day: date) -> list[LineItem]:
        """The questions of the sweep's list that this day may take, in the list's order: once the
        sweep was ended today, only those that were answered.
        """
        from banks.planning.visits import list_of_sweep

        subject = entry.subject or ""
        is_today = day == self._workload.today
        open_sweep = self._open.get(subject) if is_today else self._open_tonight(subject)
        begun = self._begun_today.get(subject) if is_today else None
        if begun is not None:
            groups = (begun.questions, begun.also_open, begun.untried)
        elif open_sweep is not None:
            groups = (open_sweep.left, open_sweep.also_left, open_sweep.untried_left)
        else:
            listed = list_of_sweep(self._library, self._workload, entry)
            groups = (listed.questions, listed.also_open, listed.untried)
        visit = begun or open_sweep
        done = self._answered if is_today and visit else set()
        is_ended = is_today and visit is not None and visit.id in self._ended_today
        return [
            self._item(chapter, number, question, (chapter, number) in done, place)
            for place, group in enumerate(groups)
            for chapter, number, question in self._workload.named(group)
            if not is_ended or (chapter, number) in done
        ]

    def _open_tonight(self, subject: str) -> OpenSweep | None:
        return self._workload.progress(self._workload.today + ONE_DAY).open_sweeps.get(subject)

    def _paper(self, entry: PlanEntry, parts: Sequence[int]) -> Iterator[tuple[int, TodayLine]]:
        exam = self._library.settings.exam
        yield (
            entry.parts[0].part if entry.parts else 0,
            TodayLine(
                kind=LineKind.PAPER,
                offer=True,
                items=self._paper_items(entry),
                planned=entry.questions,
                minutes=entry.minutes,
                paper=entry.paper or "",
                hour=exam.hour if exam and entry.paper == PaperKind.REHEARSAL else None,
                part=part_name(len(parts), entry.parts[0].part) if entry.parts else "",
            ),
        )

    def _paper_items(self, entry: PlanEntry) -> tuple[LineItem, ...]:
        """The questions of the paper begun today; handed in, all of them are done."""
        from banks.views.papers import paper_of

        if entry.day != self._workload.today:
            return ()
        sitting = paper_of(self._library, PaperKind(entry.paper or ""), entry.day)
        if sitting is None:
            return ()
        given = sitting.given
        return tuple(
            self._item(chapter, number, question, sitting.closed or question in given)
            for chapter, number, question in self._workload.named(
                self._workload.numbered(sitting.opened.questions)
            )
        )

    def _pass(self, entry: PlanEntry) -> Iterator[TodayLine]:
        """The day's pass, which belongs to no part of the day; none where nothing is to be had."""
        from banks.views.passes import pass_of

        chosen = pass_of(self._library, self._workload, entry, may_choose=self._may_choose)
        self.is_choosing = chosen is None
        if chosen is None:
            return
        answered = self._library.history.answered_on(self._workload.today)
        items = tuple(
            self._item(chapter, number, question, question in answered)
            for chapter, number, question in self._workload.named(
                self._workload.numbered(chosen.questions)
            )
        )
        if items:
            yield TodayLine(
                kind=LineKind.PASS,
                offer=True,
                items=items,
                minutes=chosen.minutes,
                pass_kind=entry.pass_kind,
                waiting=chosen.waiting,
                is_final=entry.role is Use.FINAL,
            )

    def _first_study(self) -> Iterator[TodayLine]:
        """The chapter to study for the first time next, after those that were studied today."""
        from banks.planning.first_study import next_chapters

        answered = self._library.history.answered_on(self._workload.today)
        titles, seconds = self._workload.titles, self._workload.inputs.seconds
        for study in next_chapters(self._library, self._workload):
            bank, subject = self._workload.locations[study.subject]
            items = tuple(
                self._item(study.chapter, number, name, name in answered)
                for number, name in study.questions
            )
            line = TodayLine(
                kind=LineKind.FIRST_STUDY,
                bank=bank,
                subject=subject,
                subject_title=titles[study.subject],
                chapter=study.chapter.partition("/")[2],
                chapter_title=titles[study.chapter],
                offer=True,
                items=items,
                minutes=len(items) * seconds / 60,
            )
            yield line
            if line.left:
                return

    def _item(
        self, chapter: str, number: int, question: str, done: bool, group: int = 0
    ) -> LineItem:
        titles = self._workload.titles
        subject = self._workload.subject_of_chapter(chapter)
        return LineItem(
            question, titles[subject], titles[chapter], number, done, group == 1, group == 2
        )

    def _line(
        self,
        kind: LineKind,
        entry: PlanEntry,
        part: PlanPart,
        parts: Sequence[int],
        items: Sequence[LineItem],
        minutes: float,
    ) -> TodayLine:
        bank, subject = self._workload.locations[entry.subject or ""]
        return TodayLine(
            kind=kind,
            part=part_name(len(parts), part.part),
            part_minutes=parts[part.part] if part.part < len(parts) else 0,
            bank=bank,
            subject=subject,
            subject_title=self._workload.titles[entry.subject or ""],
            chapter=(part.chapter or "").partition("/")[2],
            chapter_title=self._workload.titles.get(part.chapter or "", ""),
            round=entry.round,
            items=tuple(items),
            minutes=minutes,
        )


def missed_before(workload: "PlanWorkload", day: date) -> list[date]:
    """The days with a visit that were missed since the last day with work before `day`; none where
    that is up to `AWAY_DAYS` back, or there was none yet.
    """
    last = max((worked for worked in workload.days_worked if worked < day), default=None)
    if last is None or (day - last).days <= AWAY_DAYS:
        return []
    visits = (entry.day for entry in workload.plan(last + ONE_DAY).entries if entry.is_visit)
    return list(dict.fromkeys(visit for visit in visits if visit < day))


def _short_day(workload: "PlanWorkload", plan: StudyPlan, away_days: int) -> int:
    """The minutes of a short day to come back with after an absence, 0 where none is on offer."""
    today = workload.today
    minutes = sum(entry.minutes for entry in plan.on(today) if entry.is_visit)
    is_taken = any(change.day == today for change in workload.inputs.changed_days)
    if minutes <= SHORT_DAY or is_taken or not away_days:
        return 0
    return 0 if workload.events_on(today) else SHORT_DAY


def _parts_of(workload: "PlanWorkload", day: date) -> tuple[int, ...]:
    from domain.plan.inputs import open_days

    return next(iter(open_days(workload.inputs, day, day + ONE_DAY))).parts


def _ends_round(plan: StudyPlan, visit: PlanEntry) -> bool:
    """Whether a day's visit is the last of its round, with nothing of the round left over."""
    later = (entry for entry in plan.entries if entry.is_visit and entry.day > visit.day)
    is_last = all(entry.round != visit.round for entry in later)
    return visit.round is not None and is_last and not plan.beyond


def _round_on(plan: StudyPlan, day: date) -> int:
    """The last round that has begun by the day, at least the first."""
    begun = [span.round for span in plan.rounds if span.first_day and span.first_day <= day]
    return max(begun, default=1)


def _titles(workload: "PlanWorkload", entries: Sequence[PlanEntry]) -> str:
    return listed(workload.titles[entry.subject] for entry in entries if entry.subject)


def _days_ahead(workload: "PlanWorkload", plan: StudyPlan, day: date) -> Iterator[DayAhead]:
    """The days after `day`, each once."""
    by_day: dict[date, list[PlanEntry]] = {}
    for entry in plan.entries:
        if entry.day > day:
            by_day.setdefault(entry.day, []).append(entry)
    for later, entries in by_day.items():
        yield _ahead(workload, later, entries)


def _ahead(workload: "PlanWorkload", day: date, entries: Sequence[PlanEntry]) -> DayAhead:
    visits = [entry for entry in entries if entry.is_visit]
    return DayAhead(
        day,
        entries[0].role,
        visits[0].kind if visits else entries[0].kind,
        _titles(workload, visits),
        sum(entry.questions for entry in visits),
        sum(entry.minutes for entry in visits),
    )


def _sweeps_ahead(workload: "PlanWorkload", plan: StudyPlan, day: date) -> Iterator[DayAhead]:
    for entry in plan.entries:
        if entry.day > day and entry.kind is EntryKind.SWEEP:
            yield _ahead(workload, entry.day, [entry])


# the plan last seen


class SeenPlan(Struct, frozen=True):
    """The plan as it stood before the candidate on a day."""

    day: date
    summary: PlanSummary


def changed_since_seen(library: "Library", plan: StudyPlan) -> PlanDifference | None:
    """What is different from the plan they last looked at on an earlier day; None if never."""
    today = library.today()
    seen = library.store.cache.load("plan-seen", list[SeenPlan]) or []
    earlier = [difference for difference in seen if difference.day < today]
    return difference(earlier[-1].summary, summary_of(plan)) if earlier else None


def remember_seen(library: "Library", plan: StudyPlan) -> None:
    """The candidate has this plan before them now."""
    if library.read_only:
        return
    today = library.today()
    seen = library.store.cache.load("plan-seen", list[SeenPlan]) or []
    earlier = [difference for difference in seen if difference.day < today][-1:]
    library.store.cache.save("plan-seen", [*earlier, SeenPlan(today, summary_of(plan))])
