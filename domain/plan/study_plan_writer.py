"""The draft written out: an entry per day and visit, papers, passes, and the plan's figures."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from math import floor

from msgspec.structs import replace

from domain.plan.block_layout import BlockLayout
from domain.plan.inputs import DAYS_A_WEEK, LAST_DAYS, OpenDay, PaperDay, Use
from domain.plan.problem import HUNDREDTHS, PlanRequest, Problem
from domain.plan.scheduler import PlanDraft, best_draft
from domain.plan.study_plan import (
    BeyondPlan,
    EntryKind,
    IdleMinutes,
    PassKind,
    PlanEntry,
    PlanPart,
    RoundDays,
    ScheduledVisit,
    StudyPlan,
)
from domain.plan.sweep_layout import SweepShare
from domain.plan.visits import Visit

WAITING_PASS_DAYS = 14
"""So near the exam, or nearer, a pass takes first what would wait on its eve."""

LEAST_PASS = 10
"""Fewer idle minutes than this hold no pass."""

SAMPLE_QUESTIONS, LEAST_SAMPLE = 100, 40
SAMPLE_EVERY = 4
"""A sample paper on the first sweep day with room from the 4th, the 8th and so on."""

REHEARSAL_WEEKS, REHEARSAL_EVERY, NO_PAPER_DAYS = 10, 2, 5
"""In the last ten weeks every second sweep day with room; none in the last five days."""


def make_study_plan(request: PlanRequest) -> StudyPlan:
    """The plan of this morning."""
    problem = Problem(request)
    return _Writer(problem, best_draft(problem)).plan()


class _Writer:
    """Writes one draft out."""

    def __init__(self, problem: Problem, draft: PlanDraft) -> None:
        self._problem, self._draft = problem, draft
        self._request = problem.request
        self._entries: dict[date, list[PlanEntry]] = defaultdict(list)
        self._used: dict[date, float] = defaultdict(float)
        self._ahead = [d for d in self._request.calendar if d.day >= self._request.first]

    def plan(self) -> StudyPlan:
        request, draft = self._request, self._draft
        shares: dict[date, list[SweepShare]] = defaultdict(list)
        for share in draft.sweeps.shares:
            shares[share.day].append(share)
        blocks = _blocks_by_day(draft.blocks)
        for day in self._ahead:
            self._write_visits(day, shares.get(day.day, ()), blocks.get(day.day, ()))
        visit_days = {day for day, entry in self._entries.items() if entry}
        papers = self._papers(visit_days)
        study = [d for d in self._ahead if d.parts and d.day < request.end]
        idle = self._idle(study, papers)
        self._write_papers(papers)
        self._write_passes(study, visit_days, idle)
        beyond = tuple(self._beyond())
        return StudyPlan(
            first=request.first,
            exam=request.exam,
            order=request.order,
            entries=tuple(self._in_order(visit_days)),
            visits=self._visits(),
            rounds=self._rounds(study, visit_days),
            beyond=beyond,
            idle=tuple(idle),
            paper_days=tuple(papers),
            study_days=len(study),
            visit_days=len(visit_days),
        )

    def _role(self, day: OpenDay) -> Use:
        final = self._request.inputs.final_from
        return Use.FINAL if final is not None and day.day >= final else day.use

    # visits

    def _write_visits(
        self,
        day: OpenDay,
        shares: Sequence[SweepShare],
        blocks: Sequence[tuple[BlockLayout, int]],
    ) -> None:
        """In the order in which they take the day's minutes."""
        due = [share for share in shares if not share.spill]
        spilled = [share for share in shares if share.spill]
        for share in due:
            self._write_sweep(day, share)
        for layout, index in blocks:
            self._write_block(day, layout, index)
        for share in spilled:
            self._write_sweep(day, share)
        over = round(max(0.0, self._used[day.day] - day.minutes), 2)
        if over:
            entries = self._entries[day.day]
            self._entries[day.day] = [_with_over(entry, over) for entry in entries]

    def _write_sweep(self, day: OpenDay, share: SweepShare) -> None:
        parts = self._shared_out(day, None, share.questions, share.pace)
        self._write_visit(day, share.visit, parts, spill=share.spill)

    def _write_block(self, day: OpenDay, layout: BlockLayout, index: int) -> None:
        task = layout.task
        begin = sum(layout.loads[:index])
        end = begin + layout.loads[index]
        parts: list[PlanPart] = []
        position = 0
        pieces = []
        for chapter, numbers in task.left:
            taken = numbers[max(0, begin - position) : max(0, end - position)]
            if taken:
                pieces.append((chapter, taken))
            position += len(numbers)
        ends = self._part_ends(day, end - begin, task.pace)
        at, part = 0, 0
        for chapter, numbers in pieces:
            while numbers:
                while at >= ends[part]:
                    part += 1
                taken, numbers = numbers[: ends[part] - at], numbers[ends[part] - at :]
                at += len(taken)
                minutes = len(taken) * task.pace / HUNDREDTHS
                parts.append(PlanPart(part, chapter, taken, len(taken), minutes))
        self._used[day.day] += (end - begin) * task.pace / HUNDREDTHS
        self._write_visit(day, task.visit, parts)

    def _write_visit(
        self, day: OpenDay, visit: Visit, parts: Iterable[PlanPart], *, spill: bool = False
    ) -> None:
        self._entries[day.day].append(
            PlanEntry(
                day=day.day,
                role=self._role(day),
                kind=EntryKind.SWEEP if visit.sweep else EntryKind.BLOCK,
                round=visit.round,
                subject=visit.subject,
                parts=tuple(parts),
                spill=spill,
            )
        )

    def _part_ends(self, day: OpenDay, total: int, pace: int) -> list[int]:
        """After how many of the questions each part of the day ends.

        Parts fill up one after the other, behind what the day holds already; a day that runs over
        is shared out by its parts' minutes.
        """
        used, whole = self._used[day.day], sum(day.parts)
        needed = used + total * pace / HUNDREDTHS
        scale = max(1.0, needed / whole)
        ends, gone = [], 0.0
        for minutes in day.parts:
            gone += minutes * scale
            holds = floor((gone - used) * HUNDREDTHS / pace + 1e-6)
            ends.append(min(total, max(0, holds)))
        ends[-1] = total
        return ends

    def _shared_out(
        self, day: OpenDay, chapter: str | None, questions: int, pace: int
    ) -> Iterator[PlanPart]:
        """Work without numbers over the parts of the day."""
        begin = 0
        for part, end in enumerate(self._part_ends(day, questions, pace)):
            if end > begin:
                minutes = (end - begin) * pace / HUNDREDTHS
                yield PlanPart(part, chapter, (), end - begin, minutes)
            begin = max(begin, end)
        self._used[day.day] += questions * pace / HUNDREDTHS

    def _visits(self) -> tuple[ScheduledVisit, ...]:
        questions: dict[Visit, int] = defaultdict(int)
        days: dict[Visit, list[date]] = defaultdict(list)
        for share in self._draft.sweeps.shares:
            questions[share.visit] += share.questions
            days[share.visit].append(share.day)
        for layout in self._draft.blocks:
            questions[layout.task.visit] += layout.task.questions
            days[layout.task.visit] += layout.days
        scheduled_visits = [
            ScheduledVisit(visit, min(taken), max(taken), questions[visit])
            for visit, taken in days.items()
        ]
        return tuple(
            sorted(scheduled_visits, key=lambda v: (v.first, v.visit.sweep, v.visit.subject))
        )

    def _beyond(self) -> Iterator[BeyondPlan]:
        for task in self._draft.blocks_left:
            minutes = task.questions * task.pace / HUNDREDTHS
            yield BeyondPlan(task.visit, task.questions, minutes)
        for rest in self._draft.sweeps.beyond:
            minutes = rest.questions * rest.pace / HUNDREDTHS
            yield BeyondPlan(rest.visit, rest.questions, minutes)

    # what else takes minutes

    def _papers(self, visit_days: set[date]) -> list[PaperDay]:
        """Those written at acceptance, moved where their room is gone; else those proposed."""
        inputs = self._request.inputs
        days = [d for d in self._ahead if d.use is Use.SWEEP and d.parts]
        days = [d for d in days if (self._request.exam - d.day).days > NO_PAPER_DAYS]
        if not inputs.papers:
            return []
        if not inputs.paper_days:
            return list(self._proposed(days))
        papers: list[PaperDay] = []
        taken: set[date] = set()
        for paper in inputs.paper_days:
            room = (
                day.day
                for day in days
                if day.day >= paper.day
                and day.day not in taken
                and self._room(day) >= self._least_minutes(paper)
            )
            if paper.day >= self._request.first and (held := next(room, None)):
                taken.add(held)
                papers.append(PaperDay(held, paper.kind, paper.questions, paper.minutes))
        return papers

    def _room(self, day: OpenDay) -> float:
        return day.minutes - self._used[day.day]

    def _least_minutes(self, paper: PaperDay) -> float:
        if paper.kind == "rehearsal":
            return paper.minutes
        return LEAST_SAMPLE * self._request.pace / HUNDREDTHS

    def _proposed(self, days: Sequence[OpenDay]) -> Iterator[PaperDay]:
        request = self._request
        last_weeks = request.exam - timedelta(weeks=REHEARSAL_WEEKS)
        begin = request.inputs.start or request.first
        sweeps = [d.day for d in request.calendar if d.use is Use.SWEEP and d.parts]
        number = {day: place for place, day in enumerate(sweeps, 1)}
        owed, is_turn = 0, False
        for day in days:
            if day.day < begin:
                continue
            owed += number[day.day] % SAMPLE_EVERY == 0
            if day.day >= last_weeks and request.rehearsal is not None:
                questions, minutes = request.rehearsal
                if self._room(day) < minutes:
                    continue
                is_turn = not is_turn
                if is_turn:
                    yield PaperDay(day.day, "rehearsal", questions, minutes)
                continue
            holds = floor(self._room(day) * HUNDREDTHS / request.pace)
            if owed and holds >= LEAST_SAMPLE:
                owed = 0
                count = min(SAMPLE_QUESTIONS, holds)
                yield PaperDay(day.day, "sample paper", count, count * request.pace / HUNDREDTHS)

    def _write_papers(self, papers: Sequence[PaperDay]) -> None:
        by_day = {day.day: day for day in self._ahead}
        for paper in papers:
            day = by_day[paper.day]
            minutes = min(paper.minutes, max(0.0, self._room(day)))
            self._used[paper.day] += minutes
            part = PlanPart(0, None, (), paper.questions, minutes)
            self._entries[paper.day].append(
                PlanEntry(
                    day=paper.day,
                    role=self._role(day),
                    kind=EntryKind.PAPER,
                    parts=(part,),
                    paper=paper.kind,
                )
            )

    def _idle(self, study: Sequence[OpenDay], papers: Sequence[PaperDay]) -> list[IdleMinutes]:
        held = {paper.day: paper.minutes for paper in papers}
        return [
            IdleMinutes(day.day, day.use, left)
            for day in study
            if (left := round(self._room(day) - held.get(day.day, 0.0), 2)) > 0
        ]

    def _write_passes(
        self, study: Sequence[OpenDay], visit_days: set[date], idle: Sequence[IdleMinutes]
    ) -> None:
        inputs, exam = self._request.inputs, self._request.exam
        minutes = {day.day: day.minutes for day in idle}
        final = inputs.final_from or date.max
        kept = self._kept_spare([d.day for d in study if d.day not in visit_days])
        kinds = self._last_kinds(study, visit_days)
        for day in study:
            left = minutes.get(day.day, 0.0)
            if day.day >= final:
                self._write_pass(day, left, PassKind.WORTH, Use.FINAL)
                continue
            if not inputs.passes or day.day in kept:
                continue
            if inputs.last_week and (exam - day.day).days <= LAST_DAYS:
                left = min(left, day.minutes / 2)
            kind = kinds.get(day.day, PassKind.WORTH)
            self._write_pass(day, left, kind, day.use if day.day in visit_days else Use.SLACK)

    def _last_kinds(
        self, study: Sequence[OpenDay], visit_days: set[date]
    ) -> Mapping[date, PassKind]:
        """The passes of the last weeks, the last free day's apart."""
        if not self._request.inputs.last_week:
            return {}
        exam = self._request.exam
        left = {day.day: (exam - day.day).days for day in study}
        kinds = {day: PassKind.WAITING for day in left if left[day] <= WAITING_PASS_DAYS}
        free = [day for day in left if left[day] <= LAST_DAYS and day not in visit_days]
        return kinds | dict.fromkeys(free[-1:], PassKind.SURE_AND_WRONG)

    def _kept_spare(self, spare: Sequence[date]) -> set[date]:
        """The spare days that stay free: the last ones, so many weeks of them."""
        inputs = self._request.inputs
        week = sum(
            bool(sum(inputs.minutes[n])) and inputs.roles[n].value != "rest"
            for n in range(DAYS_A_WEEK)
        )
        count = inputs.keep_weeks * week
        return set(spare[-count:]) if count else set()

    def _write_pass(self, day: OpenDay, left: float, kind: PassKind, role: Use) -> None:
        if left < LEAST_PASS:
            return
        minutes = float(floor(left))
        part = PlanPart(len(day.parts) - 1, None, (), 0, minutes)
        reserve = day.day in self._request.inputs.reserve
        self._entries[day.day].append(
            PlanEntry(
                day=day.day,
                role=role,
                kind=EntryKind.PASS,
                parts=(part,),
                pass_kind=kind,
                reserve=reserve,
            )
        )

    # the whole

    def _in_order(self, visit_days: set[date]) -> Iterator[PlanEntry]:
        """Every day's entries; a day without any has one that says what it is."""
        request = self._request
        for day in self._ahead:
            entries = self._entries.get(day.day)
            if entries:
                yield from entries
                continue
            role = day.use
            if day.parts:
                is_final = request.inputs.final_from and day.day >= request.inputs.final_from
                role = Use.FINAL if is_final else Use.SLACK
            if day.day >= request.end and day.parts:
                role = Use.REST
            yield PlanEntry(day=day.day, role=role, reserve=day.day in request.inputs.reserve)

    def _rounds(self, study: Sequence[OpenDay], visit_days: set[date]) -> tuple[RoundDays, ...]:
        spans: dict[int, list[date]] = defaultdict(list)
        for visit, days in self._problem.done_days.items():
            spans[visit.round] += days
        for scheduled in self._visits():
            spans[scheduled.visit.round] += (scheduled.first, scheduled.last)
        for task in self._problem.blocks:
            if task.since is not None:
                spans[task.visit.round].append(task.since)
        count = self._request.inputs.rounds
        begins = [min(spans[number], default=None) for number in range(1, count + 1)]
        spare = [day.day for day in study if day.day not in visit_days]
        slack = [0] * count
        for day in spare:
            begun = [n for n, first in enumerate(begins) if first is not None and first <= day]
            slack[max(begun, default=0)] += 1
        return tuple(
            RoundDays(
                number,
                min(spans[number], default=None),
                max(spans[number], default=None),
                slack[number - 1],
            )
            for number in range(1, count + 1)
        )


def _blocks_by_day(blocks: Sequence[BlockLayout]) -> Mapping[date, list[tuple[BlockLayout, int]]]:
    blocks_by_day: dict[date, list[tuple[BlockLayout, int]]] = defaultdict(list)
    for layout in blocks:
        for index, (slot, load) in enumerate(zip(layout.slots, layout.loads, strict=True)):
            if load:
                blocks_by_day[slot.day].append((layout, index))
    return blocks_by_day


def _with_over(entry: PlanEntry, over: float) -> PlanEntry:
    return replace(entry, over_minutes=over)
