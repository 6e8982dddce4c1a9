"""The plan's hard rules as an integer program, to hold the engine's "fits" against.

General reference: SciPy's HiGHS (`scipy.optimize.milp`). Every way to lay the visits that obeys
the hard rules is a solution; preferences are left out. Blocks follow one another in any order and
may share a day, which then holds no more than its minutes; sweeps begin on a sweep day, between
the subject's other visits, and their rest may take any minutes left later on.
"""

from collections.abc import Mapping
from datetime import date
from itertools import pairwise

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from domain.plan.block_layout import BlockTask
from domain.plan.problem import PlanRequest, Problem


class Rows:
    """A linear program while it is written: variables, then rows of them."""

    def __init__(self) -> None:
        self.low: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self._entries: list[tuple[int, int, float]] = []
        self._lower: list[float] = []
        self._upper: list[float] = []

    def variable(self, high: float, whole: bool = True) -> int:
        """A variable from 0 to `high`."""
        self.low.append(0.0)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.low) - 1

    def row(self, terms: Mapping[int, float], low: float = -np.inf, high: float = np.inf) -> None:
        """low ≤ sum of factor × variable ≤ high."""
        self._entries += [(len(self._lower), column, factor) for column, factor in terms.items()]
        self._lower.append(low)
        self._upper.append(high)

    def has_solution(self) -> bool:
        """Whether anything fulfils all rows."""
        if not self.low:
            return True
        at, columns, factors = zip(*self._entries, strict=True)
        matrix = coo_array((factors, (at, columns)), shape=(len(self._lower), len(self.low)))
        solution = milp(
            np.zeros(len(self.low)),
            constraints=LinearConstraint(matrix.tocsr(), self._lower, self._upper),
            bounds=Bounds(self.low, self.high),
            integrality=self.whole,
            options={"time_limit": 60.0},
        )
        assert solution.status in (0, 2), solution.message
        return solution.status == 0


def _total(*terms: Mapping[int, float]) -> dict[int, float]:
    summed: dict[int, float] = {}
    for term in terms:
        for column, factor in term.items():
            summed[column] = summed.get(column, 0.0) + factor
    return summed


class _Block:
    """One block: after each day its position, and the room that the day gives it."""

    def __init__(self, rows: Rows, task: BlockTask, days: list[date], rooms: list[int]) -> None:
        least, edges = task.least_piece, [sum(task.sizes[:n]) for n in range(len(task.sizes) + 1)]
        insides = {
            position
            for begin, end in pairwise(edges)
            for position in range(begin + least, end - least + 1)
        }
        total, positions = edges[-1], sorted({*edges} | insides)
        self.load: list[dict[int, float]] = []
        self.room, self.moved, self.begun, self.ended = [], [], [], []
        before: dict[int, float] = {}
        for number, day in enumerate(days):
            chosen = {p: rows.variable(1) for p in positions}
            rows.row(dict.fromkeys(chosen.values(), 1.0), 1, 1)
            after = {column: float(p) for p, column in chosen.items() if p}
            load = _total(after, {c: -f for c, f in before.items()})
            rows.row(load, 0)
            moved, begun = rows.variable(1), rows.variable(1)
            rows.row(_total(load, {moved: -float(total)}), high=0)
            cut = {chosen[p]: -float(least) for p in insides}
            rows.row(_total(load, cut, {moved: -float(least)}), -least)
            rows.row({begun: 1.0, moved: -1.0}, 0)
            if self.begun:
                rows.row({begun: 1.0, self.begun[-1]: -1.0}, 0)
            if day < task.opens:
                rows.row({begun: 1.0}, 0, 0)
            room = rows.variable(rooms[number], whole=False)
            rows.row({room: 1.0, begun: -float(rooms[number])}, high=0)
            if self.ended:
                rows.row({room: 1.0, self.ended[-1]: float(rooms[number])}, high=rooms[number])
            self.load.append(load)
            self.room.append(room)
            self.moved.append(moved)
            self.begun.append(begun)
            self.ended.append(chosen[total])
            before = after
        if days:
            rows.row({self.ended[-1]: 1.0}, 1)
        needed = _total(*({c: f * task.pace for c, f in load.items()} for load in self.load))
        rows.row(_total(dict.fromkeys(self.room, 1.0), {c: -f for c, f in needed.items()}), 0)


def can_fit(request: PlanRequest, share: float = 1.0) -> bool:
    """Whether there is any way in this share of each day's minutes; nothing may be done yet."""
    problem, rows = Problem(request), Rows()
    by_day = {slot.day: slot.room for slot in problem.revision if slot.day >= request.first}
    rooms_of = by_day | problem.sweep_rooms
    days = sorted(rooms_of)
    rooms = [int(share * rooms_of[day]) for day in days]
    if not days:
        return not problem.blocks and not problem.sweeps
    blocks = {task.visit: _Block(rows, task, days, rooms) for task in problem.blocks}
    takes: list[dict[int, float]] = [{} for _ in days]
    sweep_begins: dict[object, list[int]] = {}
    for visit in problem.sweeps:
        count, pace = problem.expected(visit), request.pace_of(visit.subject)
        share = [rows.variable(count) for _ in days]
        begins = [rows.variable(1) for _ in days]
        sweep_begins[visit] = begins
        rows.row(dict.fromkeys(share, 1.0), count, count)
        rows.row(dict.fromkeys(begins, 1.0), 1, 1)
        for number, day in enumerate(days):
            if day not in problem.sweep_rooms or day < problem.opens.get(visit.subject, day):
                rows.row({begins[number]: 1.0}, 0, 0)
            rows.row(
                _total({share[number]: 1.0}, dict.fromkeys(begins[: number + 1], -float(count))),
                high=0,
            )
            if count:
                rows.row({begins[number]: 1.0, share[number]: -1.0}, high=0)
            takes[number][share[number]] = float(pace)
    for sequence in problem.sequences.values():
        for earlier, later in pairwise(sequence):
            for number in range(len(days)):
                if later.sweep and earlier in blocks:
                    begun = dict.fromkeys(sweep_begins[later][: number + 1], 1.0)
                    ended = blocks[earlier].ended[number - 1 : number] if number else []
                    rows.row(_total(begun, dict.fromkeys(ended, -1.0)), high=0)
                if earlier.sweep and later in blocks:
                    begun = {blocks[later].begun[number]: 1.0}
                    done = dict.fromkeys(sweep_begins[earlier][:number], -1.0)
                    rows.row(_total(begun, done), high=0)
    names = list(blocks)
    stretch = request.inputs.stretch
    for place, name in enumerate(names):
        for other in names[place + 1 :]:
            first = rows.variable(1)
            for number in range(len(days)):
                a, b = blocks[name], blocks[other]
                rows.row({b.begun[number]: 1.0, a.ended[number]: -1.0, first: 1.0}, high=1)
                rows.row({a.begun[number]: 1.0, b.ended[number]: -1.0, first: -1.0}, high=0)
    for number, room in enumerate(rooms):
        rows.row(
            _total(takes[number], {block.room[number]: 1.0 for block in blocks.values()}), high=room
        )
        if not blocks:
            continue
        strict = rows.variable(1)
        if days[number] in problem.sweep_rooms:
            rows.row({strict: 1.0}, 1)
        moved = {block.moved[number]: 1.0 for block in blocks.values()}
        rows.row(_total(moved, {strict: -float(len(blocks))}), high=1)
        work = dict(takes[number])
        for task in problem.blocks:
            load = blocks[task.visit].load[number]
            work = _total(work, {c: f * task.pace for c, f in load.items()})
        rows.row(_total(work, {strict: stretch * room}), high=room * (1 + stretch))
    return rows.has_solution()
