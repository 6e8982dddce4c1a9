"""Living a plan through the library's own views, with an independent book of what was put up.

Nothing here asks the plan's own progress: what was done is counted from what Today put up and
the candidate answered. Every rule that is broken is a line of `Life.violations`.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from pathlib import Path

from msgspec.structs import replace

from banks.library import Given, Library
from banks.planning.intents import accept, begin_day
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import evidence_log
from banks.views.papers import begin, draw, hand_in
from banks.views.plan import FINAL_REVISION, GO_ON, final_revision
from banks.views.today import LineKind, TodayLine, TodayView, today_view
from domain.plan.inputs import Role
from domain.plan.packing import LEAST_PIECE
from domain.plan.study_plan import EntryKind, PlanEntry, PlanPart, StudyPlan
from domain.responses import Medium, PaperKind, Purpose
from domain.tiers import Tier
from tests.lived.candidates import LivedCase, Memory, days

MINUTES_OFF = 0.01
SPILL = 10
RESTS, VISIT_NEAR, LAST_DAYS = 4, 7, 7
"""Days for which a pass leaves alone what was tried, or what has its visit; and the last days."""


class LifeClock:
    """A clock that stands at noon of a day, a second later at each look."""

    def __init__(self, day: date) -> None:
        self.day, self._looks = day, 0

    def turn_to(self, day: date) -> None:
        """Another day begins."""
        self.day, self._looks = day, 0

    def __call__(self) -> datetime:
        self._looks += 1
        return datetime.combine(self.day, time(9), UTC) + timedelta(seconds=self._looks)


@dataclass
class Visited:
    """The book's page of one visit: what was answered in it, by day, and what was put up."""

    kind: LineKind
    subject: str
    round: int | None
    answered: dict[str, date] = field(default_factory=dict)
    owed: set[str] = field(default_factory=set)
    days: set[date] = field(default_factory=set)


class Life:
    """One candidate's life with a plan."""

    def __init__(self, case: LivedCase, folder: Path) -> None:
        self.case = case
        self.rng = case.rng()
        self.memory = Memory(case, self.rng)
        self.clock = LifeClock(case.inputs.start or date.min)
        self.library = Library.open(folder, self.clock)
        self.library.save_bank(case.bank)
        self.tried: dict[str, date] = {}
        self.visited: dict[tuple[str, LineKind, int | None], Visited] = {}
        self.violations: list[str] = []
        self.plan: StudyPlan | None = None
        self.first_plan: StudyPlan | None = None
        self.worked_yesterday = True
        self.missed_days = self.asked = self.papers = 0
        self.always_fits = True

    def close(self) -> None:
        """Let the store go."""
        self.library.close()

    def live(self) -> "Life":
        """From the first day to the exam."""
        if self.case.first_study:
            self._study_first()
        accept(self.library, self.case.inputs)
        for day in days(self.case):
            self.clock.turn_to(day)
            self._live_day(day)
        return self

    def _study_first(self) -> None:
        """Record first study on the day before the plan begins."""
        self.clock.turn_to((self.case.inputs.start or date.min) - timedelta(days=1))
        given = [
            Given(question=name, verdict=self.memory.verdict(name))
            for name in self.case.bank.questions
        ]
        self.library.record(given, Purpose.STUDY)
        self.tried = dict.fromkeys(self.case.bank.questions, self.clock.day)

    # a day

    def _live_day(self, day: date) -> None:
        attends = self.rng.random() < self.case.attendance
        share = self.rng.uniform(self.case.finishes_days, 1.0)
        if not attends:
            self.missed_days += 1
            self.worked_yesterday = False
            return
        workload = self._begin_day()
        plan = workload.plan()
        self._compare(day, plan)
        takes_pass = self.rng.random() < self.case.takes_passes
        view = today_view(self.library, workload, may_choose=takes_pass)
        self._promised(day, view.lines, plan)
        did_all = True
        lines = view.lines
        for paper in [line for line in lines if line.kind is LineKind.PAPER]:
            if self.case.takes_papers:
                self._take_paper(day, paper, plan)
                lines = ()
        for part in dict.fromkeys(line.part for line in view.planned):
            # what a part puts up is asked again when it begins, as the screen does
            lines = lines or today_view(self.library, may_choose=False).lines
            for line in lines:
                if line.part == part and not line.offer:
                    did_all &= self._do(day, line, share)
            lines = ()
        if _pass_of(view) is not None:
            self._take_pass(day, plan, share)
        self.plan = plan
        self.first_plan = self.first_plan or plan
        self.worked_yesterday = did_all
        self.always_fits &= plan.feasible

    def _begin_day(self) -> PlanWorkload:
        """The morning's plan. A short one asks once how its last days shall go."""
        workload = begin_day(self.library)
        assert workload is not None
        asked = final_revision(workload) if workload.plan().beyond else None
        if asked is None:
            return workload
        self.asked += 1
        accept(self.library, asked.offers[FINAL_REVISION if self.case.takes_final else GO_ON])
        self.plan = None
        return PlanWorkload(self.library)

    def _do(self, day: date, line: TodayLine, share: float) -> bool:
        """Answer a line, or as much of it as there is strength for."""
        asked = [item.question for item in line.items if not item.done]
        todo = asked if share >= 1 else asked[: round(len(asked) * share)]
        self._put_up(day, line, asked)
        given = [
            Given(question=name, verdict=self.memory.verdict(name), seconds=self.memory.seconds())
            for name in todo
        ]
        if given:
            self.library.record(given, line.purpose)
        page = self._page(line)
        for name in todo:
            page.answered[name] = day
            self.tried[name] = day
        if todo:
            page.days.add(day)
        return len(todo) == len(asked)

    def _take_paper(self, day: date, line: TodayLine, plan: StudyPlan) -> None:
        """Take the day's paper from the printed bank, before all else. It fits beside the visits,
        and these ask nothing again that it asked.
        """
        used = sum(entry.minutes for entry in plan.on(day) if entry.is_visit)
        room = sum(self.case.inputs.minutes[day.weekday()])
        if used + line.minutes > room + MINUTES_OFF:
            self._broken(day, f"a paper of {line.minutes:.0f} of {room - used:.0f} minutes")
        seed = self.rng.randrange(2**32)
        paper = draw(
            self.library, evidence_log(self.library), PaperKind(line.paper), seed, line.planned
        )
        sitting = begin(self.library, paper, seed, Medium.PRINTED)
        given = [
            Given(question=name, verdict=self.memory.verdict(name), seconds=self.memory.seconds())
            for name in paper.questions
        ]
        self.library.record(given, line.purpose, sitting=sitting)
        hand_in(self.library, self.library.sitting(sitting))
        self.tried |= dict.fromkeys(paper.questions, day)
        self.papers += 1
        again = today_view(self.library, may_choose=False).lines
        sweeps = [other for other in again if other.kind is LineKind.SWEEP]
        # The list of one that was begun before stands.
        new = [other for other in sweeps if not self._page(other).days]
        asked = {name for other in new for name in other.questions}
        if twice := asked.intersection(paper.questions):
            self._broken(day, f"the sweep asks {len(twice)} again that the paper asked")
        if any(other.left for other in again if other.kind is LineKind.PAPER):
            self._broken(day, "the paper is put up again once it is handed in")

    def _take_pass(self, day: date, plan: StudyPlan, share: float) -> None:
        """Take the day's pass, if there is one: half of it, a look, and the rest."""
        first = _pass_of(today_view(self.library))
        if first is None:
            return
        self._judge_pass(day, plan, first)
        self._do(day, replace(first, items=first.items[::2]), share)
        again = _pass_of(today_view(self.library))
        if again is None or again.questions != first.questions:
            self._broken(day, "the pass holds other questions once it is begun")
        else:
            self._do(day, again, share)

    def _judge_pass(self, day: date, plan: StudyPlan, line: TodayLine) -> None:
        """A pass asks nothing tried lately, stands in for no visit, and is light at the end."""
        exam, inputs = self.case.inputs.exam or date.max, self.case.inputs
        recent = [name for name in line.questions if (day - self.tried[name]).days <= RESTS]
        if recent:
            self._broken(day, f"the pass asks {len(recent)} that were tried in the last days")
        near = {
            entry.subject
            for entry in plan.entries
            if entry.is_visit and (entry.day - day).days <= VISIT_NEAR
        }
        subjects = {self.library.subject_id(name) for name in line.questions}
        if is_final := line.is_final:
            near = set()
        if near & subjects:
            self._broken(day, f"the pass asks of {sorted(near & subjects)}, which have a visit")
        used = sum(entry.minutes for entry in plan.on(day) if entry.is_visit)
        room = sum(inputs.minutes[day.weekday()])
        if line.minutes > max(0.0, room - used) + MINUTES_OFF:
            self._broken(day, f"a pass of {line.minutes:.0f} of {room - used:.0f} minutes")
        if (exam - day).days <= LAST_DAYS and not is_final and line.minutes > room / 2:
            self._broken(day, f"a pass of {line.minutes:.0f} minutes in the last days")
        if (exam - day).days == 1:
            self._broken(day, "a pass on the eve")

    # the book

    def _page(self, line: TodayLine) -> Visited:
        subject = f"{line.bank}/{line.subject}"
        if line.kind is LineKind.PASS:
            subject = f"pass of {self.clock.day}"
        key = (subject, line.kind, line.round)
        return self.visited.setdefault(key, Visited(line.kind, key[0], line.round))

    def _put_up(self, day: date, line: TodayLine, asked: Sequence[str]) -> None:
        """Nothing is put up twice in a visit, nor in a line."""
        page = self._page(line)
        if line.kind is LineKind.SWEEP and not page.days:
            page.owed = self._repeatedly_missed(page.subject)
        again = [name for name in asked if name in page.answered]
        if again:
            self._broken(day, f"{line.kind} of {page.subject} puts up {len(again)} again")
        twice = [name for name, count in Counter(asked).items() if count > 1]
        if twice:
            self._broken(day, f"{line.kind} of {page.subject} holds {len(twice)} twice")

    def _repeatedly_missed(self, subject: str) -> set[str]:
        """What a sweep of the subject that begins today owes, whatever the day holds."""
        history, today = self.library.history, self.clock.day
        return {
            name
            for name in self.case.bank.questions
            if self.library.subject_id(name) == subject
            and history.standing_before(name, today).tier >= Tier.HARDER
        }

    def _promised(self, day: date, lines: Sequence[TodayLine], plan: StudyPlan) -> None:
        """A day is at most 15 % over its minutes; a line's minutes are those of its questions."""
        inputs = self.case.inputs
        used: dict[str, float] = defaultdict(float)
        room = sum(minutes for minutes in inputs.minutes[day.weekday()])
        for line in lines:
            if not line.offer:
                used["day"] += line.minutes
                expected = line.count * inputs.seconds / 60
                if line.kind is not LineKind.PAPER and abs(line.minutes - expected) > MINUTES_OFF:
                    self._broken(day, f"{line.count} questions promised as {line.minutes} minutes")
        slack = SPILL * inputs.seconds / 60
        if used["day"] > room * (1 + inputs.stretch) + slack:
            self._broken(day, f"{used['day']:.0f} minutes put up on a day of {room}")

    def _compare(self, day: date, plan: StudyPlan) -> None:
        """Whoever does each visit on its day sees nothing move, but for sweeps from the first day
        on whose sweeps together outgrew it.
        """
        before = self.plan
        if before is None or not self.worked_yesterday or self.missed_days:
            return
        full = self._first_outgrown(before, plan, day)
        old, new = _ahead(before, day, full), _ahead(plan, day, full)
        if old != new:
            gone, come = sorted(old - new), sorted(new - old)
            self._broken(day, f"moved: {gone[:2]} became {come[:2]}")

    def _first_outgrown(self, before: StudyPlan, plan: StudyPlan, today: date) -> date:
        """The first day to come that was to hold several sweeps, which are now more than it holds:
        much more was missed than expected.
        """
        shared: dict[date, set[tuple[str | None, int | None]]] = defaultdict(set)
        for entry in before.entries:
            if entry.kind is EntryKind.SWEEP and entry.day >= today and not entry.spill:
                shared[entry.day].add((entry.subject, entry.round))
        sizes: Counter[tuple[str | None, int | None]] = Counter()
        for entry in plan.entries:
            if entry.kind is EntryKind.SWEEP:
                sizes[entry.subject, entry.round] += entry.questions
        for day, visits in sorted(shared.items()):
            minutes = sum(sizes[visit] for visit in visits) * self.case.inputs.seconds / 60
            if len(visits) > 1 and minutes > sum(self.case.inputs.minutes[day.weekday()]):
                return day
        return date.max

    def _broken(self, day: date, what: str) -> None:
        self.violations.append(f"{self.case.seed}: {day}: {what}")

    # the end

    def judge(self) -> list[str]:
        """All that was broken, the end of the life included."""
        if self.asked > 1:
            self._broken(self.clock.day, f"asked {self.asked} times how the last days shall go")
        if self.first_plan is not None:
            self._judge_skipped_days(self.first_plan)
        if self.always_fits and PlanWorkload(self.library).plan().feasible:
            self._judge_finished()
        if self.case.attendance == 1.0 and self.case.finishes_days == 1.0:
            self._judge_on_time()
        return self.violations

    def _judge_skipped_days(self, plan: StudyPlan) -> None:
        """No revision day stands empty inside a block that can hold the next piece."""
        inputs = self.case.inputs
        busy = {entry.day for entry in plan.entries if entry.is_visit}
        blocks: dict[tuple[str | None, int | None], list[PlanEntry]] = defaultdict(list)
        for entry in plan.entries:
            if entry.kind is EntryKind.BLOCK:
                blocks[entry.subject, entry.round].append(entry)
        for entries in blocks.values():
            for before, after in pairwise(entries):
                empty = before.day + timedelta(days=1)
                while empty < after.day:
                    is_open = inputs.roles[empty.weekday()] is Role.REVISION
                    if is_open and empty not in busy and empty not in inputs.off:
                        self._judge_skipped_day(empty, after.parts[0])
                    empty += timedelta(days=1)

    def _judge_skipped_day(self, day: date, piece: PlanPart) -> None:
        inputs = self.case.inputs
        minutes = sum(inputs.minutes[day.weekday()]) * (1 + inputs.stretch)
        holds = int(minutes * 60 / inputs.seconds + 1e-9)
        sizes = Counter(
            f"{self.case.bank.id}/{question.chapter}"
            for question in self.case.bank.questions.values()
        )
        left = sizes[piece.chapter or ""] - piece.numbers[0] + 1
        if holds >= left or (holds >= LEAST_PIECE and left >= 2 * LEAST_PIECE):
            self._broken(day, f"no work on a day that holds {holds} of the {left} that are next")

    def _judge_finished(self) -> None:
        """What always fitted is finished: every block whole, and of sweeps all that is owed."""
        blocks = [page for page in self.visited.values() if page.kind is LineKind.BLOCK]
        by_subject = Counter(page.subject for page in blocks)
        sizes = Counter(map(self.library.subject_id, self.case.bank.questions))
        rounds_due = _blocks_wanted(self.case.inputs.rounds)
        for subject, size in sizes.items():
            if by_subject[subject] not in rounds_due:
                self._broken(self.clock.day, f"{subject}: {by_subject[subject]} blocks")
            for page in blocks:
                if page.subject == subject and len(page.answered) != size:
                    problem = f"{subject}: {len(page.answered)} of {size} in a block"
                    self._broken(self.clock.day, problem)
        for page in self.visited.values():
            # what another visit of the subject asks while a sweep is under way counts for it too
            left = [
                name for name in page.owed if self.tried[name] < min(page.days, default=date.max)
            ]
            if left:
                self._broken(self.clock.day, f"{page.subject}: {len(left)} left out of its sweep")

    def _judge_on_time(self) -> None:
        """Whoever does each visit on its day is done by the last day first planned."""
        last = self.first_plan.last_day if self.first_plan else None
        blocks = [page for page in self.visited.values() if page.kind is LineKind.BLOCK]
        late = [max(page.days) for page in blocks if page.days and last and max(page.days) > last]
        if late:
            self._broken(self.clock.day, f"a block ended on {max(late)}, planned for {last}")


def _pass_of(view: TodayView) -> TodayLine | None:
    return next((line for line in view.lines if line.kind is LineKind.PASS), None)


def _blocks_wanted(rounds: int) -> tuple[int, ...]:
    """How many blocks a subject may have: over two rounds one."""
    if rounds == 1:
        return (1,)
    return (rounds // 2,) if rounds % 2 == 0 else (rounds // 2, rounds // 2 + 1)


def _ahead(plan: StudyPlan, day: date, full: date) -> set[tuple[object, ...]]:
    """What stands still, from `day` on: date, subject, round of each visit; a block's numbers.

    Sweeps from the day `full` on are left out.
    """
    return {
        (
            entry.day.isoformat(),
            entry.kind.value,
            entry.subject,
            entry.round,
            tuple((part.chapter, part.numbers) for part in entry.parts)
            if entry.kind is EntryKind.BLOCK
            else (),
        )
        for entry in plan.entries
        if entry.is_visit
        and entry.day >= day
        and not entry.spill
        and not (entry.kind is EntryKind.SWEEP and entry.day >= full)
    }
