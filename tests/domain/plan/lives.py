"""Candidates who live with a plan, day by day, made anew every morning from what they recorded."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random

from msgspec.structs import replace

from domain.plan.inputs import ONE_DAY, PlanInputs, Role, SubjectLoad
from domain.plan.problem import PlanRequest
from domain.plan.study_plan import EntryKind, PlanEntry, StudyPlan
from domain.plan.study_plan_writer import make_study_plan
from domain.plan.visits import BegunVisit, EndedVisit, PlanResponse, Visit, VisitFold
from domain.responses import Purpose
from tests.domain.plan.scenes import subject

MONDAY = date(2027, 1, 4)


def random_inputs(rng: Random) -> PlanInputs:
    """A week of any shape with time for blocks and for sweeps."""
    roles = [Role.REVISION] * rng.randint(2, 6)
    roles += [Role.SWEEP] * rng.randint(1, max(1, 7 - len(roles)))
    roles = (roles + [Role.REST] * 7)[:7]
    if Role.SWEEP not in roles:
        roles[-1] = Role.SWEEP
    if rng.random() < 0.4:
        rng.shuffle(roles)
    minutes = tuple(_parts(rng, role) for role in roles)
    start = MONDAY + rng.randint(0, 6) * ONE_DAY
    off = tuple(sorted({start + rng.randint(0, 200) * ONE_DAY for _ in range(rng.randint(0, 8))}))
    return PlanInputs(
        exam=start + timedelta(days=400),
        start=start,
        minutes=minutes,
        roles=tuple(roles),
        off=off,
        rounds=rng.choice((1, 2, 2, 2, 3)),
        seconds=float(rng.randint(20, 150)),
    )


def _parts(rng: Random, role: Role) -> tuple[int, ...]:
    if role is Role.REST:
        return ()
    return tuple(rng.choice((30, 45, 60, 75, 90, 150)) for _ in range(rng.randint(1, 3)))


def random_subjects(rng: Random, most: int = 12) -> list[SubjectLoad]:
    """Subjects with uneven chapters."""
    return [
        subject(
            f"s{number:02}",
            [rng.randint(5, 80) for _ in range(rng.randint(1, 9))],
            weight=float(rng.randint(1, 20)),
        )
        for number in range(rng.randint(2, most))
    ]


class PlanLife:
    """One candidate. `inputs` are written at the first morning, as when a plan is accepted."""

    def __init__(self, inputs: PlanInputs, subjects: list[SubjectLoad], rng: Random) -> None:
        self.rng, self.subjects = rng, {subject.id: subject for subject in subjects}
        self.fold = VisitFold(subjects)
        self.today = inputs.start or MONDAY
        self.inputs = inputs
        first = self.plan()
        self.inputs = replace(inputs, order=first.order, paper_days=first.paper_days)
        self.lists: dict[str, tuple[tuple[str, int], ...]] = {}
        self.put_up: dict[str, list[tuple[str, int]]] = {}
        self.begun: dict[Visit, str] = {}

    def request(self) -> PlanRequest:
        """What this morning's plan is made of."""
        progress = self.fold.progress(self.today)
        return PlanRequest.of(self.inputs, list(self.subjects.values()), self.today, progress)

    def plan(self) -> StudyPlan:
        return make_study_plan(self.request())

    def work(self, plan: StudyPlan, share: float = 1.0) -> None:
        """Do today's entries in their order, up to a share of their minutes."""
        entries = [entry for entry in plan.on(self.today) if entry.is_visit]
        left = share * sum(entry.minutes for entry in entries) + 1e-6
        for entry in entries:
            if entry.kind is EntryKind.SWEEP:
                left = self._sweep(entry, left)
            else:
                left = self._revise(entry, left)

    def _revise(self, entry: PlanEntry, left: float) -> float:
        assert entry.subject is not None
        for part in entry.parts:
            each = part.minutes / part.questions
            for number in part.numbers:
                if left < each - 1e-6:
                    return left
                left -= each
                self.fold.read(
                    [PlanResponse(self.today, entry.subject, part.chapter or "", number)]
                )
        self._learn(entry.subject)
        return left

    def _learn(self, name: str) -> None:
        """What a block showed: how many questions are missed again and again."""
        known = self.subjects[name]
        if name not in self.fold.progress(self.today).since:
            repeated = int(known.questions * self.rng.uniform(0, 0.4))
            self.subjects[name] = replace(known, repeated=repeated, tried_twice=known.questions)

    def _sweep(self, entry: PlanEntry, left: float) -> float:
        assert entry.subject is not None
        assert entry.round is not None
        name, visit = entry.subject, Visit(entry.round, entry.subject, True)
        if visit not in self.begun:
            known = self.subjects[name]
            numbers = [(c.id, n) for c in known.chapters for n in c.numbers]
            count = known.expected_repeated(self.inputs.hard_share)
            chosen = tuple(sorted(self.rng.sample(numbers, count)))
            self.begun[visit] = f"{visit}"
            self.put_up[f"{visit}"] = []
            self.fold.read([BegunVisit(f"{visit}", self.today, visit, chosen)])
            if not chosen:
                self.fold.read([EndedVisit(self.today, f"{visit}", "empty")])
                return left
        under_way = self.fold.progress(self.today).open_sweeps.get(name)
        if under_way is None:
            return left
        waiting, each = under_way.left, entry.minutes / max(1, entry.questions)
        holds = min(entry.questions, int(left / each + 1e-6)) if each else 0
        for chapter, number in waiting[:holds]:
            self.put_up[self.begun[visit]].append((chapter, number))
            self.fold.read([PlanResponse(self.today, name, chapter, number, Purpose.SWEEP)])
        return left - holds * each

    def mornings(self) -> Iterator[StudyPlan]:
        """A plan each morning until the last visit is done."""
        while self.inputs.exam is not None and self.today < self.inputs.exam:
            plan = self.plan()
            yield plan
            if not any(plan.coming()):
                return
            self.today += ONE_DAY


Standing = dict[tuple[object, ...], list[tuple[date, tuple[object, ...]]]]


def standing(plan: StudyPlan, behind: date) -> Standing:
    """What stands still: each visit's days ahead, and a block's numbers."""
    visits: Standing = {}
    for entry in plan.entries:
        if entry.day <= behind or not entry.is_visit or entry.spill:
            continue
        visit = (entry.round, entry.subject, entry.kind)
        numbers = tuple((part.chapter, part.numbers) for part in entry.parts if part.chapter)
        visits.setdefault(visit, []).append((entry.day, numbers))
    return visits
