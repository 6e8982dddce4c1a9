"""A block divided over its days: exact, by the order of wishes in the plan's rules.

No day is skipped that can hold the next piece; then the fewest cuts; then the fullest day is as
little full as can be, then the next fullest, and so on; ties go to fuller earlier days. A chapter
is cut at a question number, into pieces of at least ten.

A position is how many of the block's questions come before it. Sets of positions are whole
numbers used as bit sets, so what a day can reach from all of them takes a few shifts. They bound
the few positions that a dynamic program over the days then looks at one by one.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import accumulate
from math import lcm

LEAST_PIECE = 10
"""The fewest questions in a piece of a cut chapter, where a day holds so many."""


class BlockShape:
    """The chapters of a block by their sizes, and which positions a day may end at.

    A piece of a cut chapter has at least `least` questions.
    """

    def __init__(self, sizes: Sequence[int], least: int = LEAST_PIECE) -> None:
        self.least = least
        self.edges = (0, *accumulate(size for size in sizes if size))
        self.total = self.edges[-1]
        self.boundaries = self.insides = 0
        for edge in self.edges:
            self.boundaries |= 1 << edge
        for begin, end in zip(self.edges, self.edges[1:], strict=False):
            if end - begin >= 2 * self.least:
                self.insides |= _run(begin + self.least, end - self.least)

    def after(self, positions: int, holds: int) -> tuple[int, int]:
        """What a day that holds so many questions reaches: at chapter boundaries, and by a cut."""
        if holds < 1:
            return 0, 0
        whole = _spread(positions << 1, holds - 1) & self.boundaries
        if holds < self.least:
            return whole, 0
        return whole, _spread(positions << self.least, holds - self.least) & self.insides

    def before(self, positions: int, holds: int) -> int:
        """From where a day that holds so many questions reaches any of the positions."""
        if holds < 1:
            return 0
        reached = _spread_down((positions & self.boundaries) >> 1, holds - 1)
        if holds >= self.least:
            reached |= _spread_down((positions & self.insides) >> self.least, holds - self.least)
        return reached & (self.boundaries | self.insides)

    def is_cut(self, position: int) -> bool:
        """Whether the position lies inside a chapter."""
        return not self.boundaries >> position & 1

    def too_big_for(self, holds: int) -> int:
        """The positions whose next piece is more than a day that holds so many questions."""
        too_big = 1 << self.total
        if holds >= 2 * self.least - 1:
            return too_big
        for begin, end in zip(self.edges, self.edges[1:], strict=False):
            can_be_cut = end - begin >= 2 * self.least
            if holds < (self.least if can_be_cut else end - begin):
                too_big |= 1 << begin
            if can_be_cut:
                lowest = begin if holds < self.least else end - 2 * self.least
                too_big |= _run(lowest + 1, end - max(holds, self.least - 1) - 1) & self.insides
        return too_big


@lru_cache(maxsize=1024)
def block_shape(sizes: tuple[int, ...], least: int = LEAST_PIECE) -> BlockShape:
    """The shape of a block with chapters of these sizes, cut in pieces of at least `least`."""
    return BlockShape(sizes, least)


def _run(low: int, high: int) -> int:
    """The positions from `low` to `high`, both included."""
    return ((1 << max(0, high - low + 1)) - 1) << low


def _spread(positions: int, most: int) -> int:
    """The positions, each with all those up to `most` behind it."""
    width = 1
    while 2 * width <= most + 1:
        positions |= positions << width
        width *= 2
    return positions | positions << (most + 1 - width)


def _spread_down(positions: int, most: int) -> int:
    width = 1
    while 2 * width <= most + 1:
        positions |= positions >> width
        width *= 2
    return positions | positions >> (most + 1 - width)


class BlockDays:
    """A block and the days it may take, in one unit of time.

    `pace` is for a question, `rooms` are those of the days. A day holds at most `1 + stretch`
    times its room (a day in `strict` only its room); the days together hold no more than their
    rooms and the `credit` that days before them left.
    """

    def __init__(
        self,
        sizes: Sequence[int],
        pace: int,
        rooms: Sequence[int],
        stretch: float,
        credit: int = 0,
        strict: Sequence[bool] = (),
        least: int = LEAST_PIECE,
    ) -> None:
        self.shape = block_shape(tuple(sizes), least)
        self.pace, self.rooms, self.credit = pace, tuple(rooms), credit
        self.holds = tuple(
            int(room * (1 if strict and strict[day] else 1 + stretch) / pace + 1e-9)
            for day, room in enumerate(rooms)
        )

    def fewest(self) -> int | None:
        """How many leading days hold the block, None where all of them don't."""
        shape, needed = self.shape, self.shape.total * self.pace
        if not needed:
            return 0
        reached, room, end = 1, self.credit, 1 << shape.total
        for day, holds in enumerate(self.holds):
            room += self.rooms[day]
            whole, cut = shape.after(reached, holds)
            reached |= whole | cut
            if needed > room:
                reached &= ~end
            elif reached & end:
                return day + 1
        return None

    def most(self) -> int:
        """How many of the block's leading questions the days hold, ended where a day may end."""
        reached, room, most = 1, self.credit, 0
        for holds, minutes in zip(self.holds, self.rooms, strict=True):
            room += minutes
            whole, cut = self.shape.after(reached, holds)
            ends = (whole | cut) & _run(0, max(0, min(room // self.pace, self.shape.total)))
            most = max(most, ends.bit_length() - 1)
            reached |= whole | cut
        return most

    def least_on_last(self, days: int) -> int:
        """The fewest questions on the last of so many days, the fewest that hold the block: one at
        least, as fewer days don't.
        """
        reached, room = 1, self.credit
        for holds, minutes in zip(self.holds[: days - 1], self.rooms, strict=False):
            whole, cut = self.shape.after(reached, holds)
            reached |= whole | cut
            room += minutes
        within = reached & _run(0, max(0, min(room // self.pace, self.shape.total - 1)))
        return self.shape.total - (within.bit_length() - 1)

    def pack(self) -> list[int]:
        """How many questions each of the days takes; the days together hold the block."""
        needed = self.shape.total * self.pace
        rooms = accumulate(self.rooms, initial=self.credit)
        opens = sum(room < needed for room in rooms) - 1
        return list(pack_stretch(self.shape, self.rooms, self.holds, opens))


@lru_cache(maxsize=2048)
def pack_stretch(
    shape: BlockShape, rooms: tuple[int, ...], holds: tuple[int, ...], earliest: int
) -> tuple[int, ...]:
    """The loads; the block ends on the day `earliest` or later, so that its days hold it."""
    if not shape.total:
        return (0,) * len(rooms)
    stays = [shape.too_big_for(most) for most in holds]
    cuts = _fewest_cuts(shape, holds, stays, earliest)
    if cuts is None:
        before, ended = _run(0, shape.total - 1), _run(0, shape.total)
        allowed = [before if day < earliest else ended for day in range(len(rooms))]
        return _best_path(shape, rooms, holds, stays, allowed)
    scale = lcm(*(room for room in rooms if room))
    per_question = [scale // room if room else 0 for room in rooms]

    def limited(level: int) -> tuple[int, ...]:
        return tuple(
            min(most, level // share) if share else 0
            for most, share in zip(holds, per_question, strict=True)
        )

    def reaches(level: int) -> bool:
        most = limited(level)
        if sum(most) < shape.total:
            return False
        fewest = _fewest_cuts(shape, most, stays, earliest)
        return fewest is not None and fewest <= cuts

    levels = _levels(holds, per_question)
    low, high = 0, len(levels) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if reaches(levels[middle]) else (middle + 1, high)
    least = limited(levels[low])
    return _best_path(shape, rooms, least, stays, _allowed(shape, least, stays, cuts, earliest))


def _levels(holds: Sequence[int], per_question: Sequence[int]) -> list[int]:
    """How full any day can be, each value once, in order."""
    kinds = set(zip(holds, per_question, strict=True))
    return sorted({number * share for most, share in kinds for number in range(1, most + 1)})


def _fewest_cuts(
    shape: BlockShape, holds: Sequence[int], stays: Sequence[int], earliest: int
) -> int | None:
    """The fewest cuts with which the days hold the block, None where they don't."""
    last = _by_cuts(shape, holds, stays, len(holds), earliest)[-1]
    return next((used for used, reached in enumerate(last) if reached >> shape.total & 1), None)


def _by_cuts(
    shape: BlockShape, holds: Sequence[int], stays: Sequence[int], most: int, earliest: int
) -> list[list[int]]:
    """What is reached after each day, by how many cuts it takes."""
    days = [[1]]
    for day, (hold, stay) in enumerate(zip(holds, stays, strict=True)):
        by_cuts = [0] * (min(most, len(days)) + 1)
        for used, reached in enumerate(days[-1]):
            whole, cut = shape.after(reached, hold)
            by_cuts[used] |= whole | reached & stay
            if used < most:
                by_cuts[used + 1] |= cut
        if day < earliest:
            by_cuts = [reached & ~(1 << shape.total) for reached in by_cuts]
        days.append(by_cuts)
    return days


def _allowed(
    shape: BlockShape, holds: Sequence[int], stays: Sequence[int], cuts: int, earliest: int
) -> list[int]:
    """The positions after each day that lie on some way to the end with so many cuts."""
    days = _by_cuts(shape, holds, stays, cuts, earliest)
    goals = [1 << shape.total] * (cuts + 1)
    allowed = []
    for day in range(len(holds) - 1, -1, -1):
        kept = [reached & goal for reached, goal in zip(days[day + 1], goals, strict=False)]
        kept += [0] * (cuts + 1 - len(kept))
        merged = 0
        for reached in kept:
            merged |= reached
        allowed.append(merged)
        goals = [
            shape.before(kept[used] & shape.boundaries, holds[day])
            | (shape.before(kept[used + 1] & shape.insides, holds[day]) if used < cuts else 0)
            | kept[used] & stays[day]
            for used in range(cuts + 1)
        ]
    return allowed[::-1]


def _best_path(
    shape: BlockShape,
    rooms: Sequence[int],
    holds: Sequence[int],
    stays: Sequence[int],
    allowed: Sequence[int],
) -> tuple[int, ...]:
    """The best way through the allowed positions, from the last day back to the first.

    Each load weighs more than all lower ones together, so the least sum is the least ordered list
    of loads, fullest first.
    """
    scale = lcm(*(room for room in rooms if room))
    per_question = [scale // room if room else 0 for room in rooms]
    ranks = {level: rank for rank, level in enumerate(_levels(holds, per_question))}
    bits = len(rooms).bit_length()
    best = {shape.total: (0, 0, 0)}
    following: list[dict[int, int]] = []
    for day in range(len(rooms) - 1, -1, -1):
        hold, share, stay = holds[day], per_question[day], stays[day]
        weights = [0, *(1 << bits * ranks[load * share] for load in range(1, hold + 1))]
        begins = _bits(allowed[day - 1]) if day else iter((0,))
        choices: dict[int, int] = {}
        costs = {}
        ends = sorted(best, reverse=True)
        for begin in begins:
            chosen = None
            for end in ends:
                load = end - begin
                if load > hold or load < 0:
                    continue
                if load and load < shape.least and shape.is_cut(end):
                    continue
                skips, cuts, weight = best[end]
                if load:
                    cost = (skips, cuts + shape.is_cut(end), weight + weights[load])
                else:
                    cost = (skips + (not stay >> begin & 1), cuts, weight)
                if chosen is None or cost < chosen:
                    chosen, choices[begin] = cost, end
            if chosen is not None:
                costs[begin] = chosen
        best = costs
        following.append(choices)
    position, loads = 0, []
    for choices in reversed(following):
        loads.append(choices[position] - position)
        position = choices[position]
    return tuple(loads)


def _bits(positions: int) -> Iterator[int]:
    while positions:
        low = positions & -positions
        yield low.bit_length() - 1
        positions ^= low
