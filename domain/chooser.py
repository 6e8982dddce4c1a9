"""What to take in the minutes there are: passes, final revision, free sweeps, worth of an hour.

What isn't settled comes first, by the score it is expected to gain per second; then what is
settled, the longest unseen. Of the former a pass takes last what a visit of the plan will ask
anyway, and in the last weeks first what would wait on the eve of the exam.

The gain looks ahead: what answering today, right or missed and looked up, changes about the exam.
Without a memory model that can be trusted it is replaced by worth · days unseen, a third of it for
a question that was never missed nor doubted; so it is among questions of which the model expects
no gain.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from domain.evidence.differences import gains_of_answering
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import Practice, PracticeColumns
from domain.tiers import Tier

if TYPE_CHECKING:
    from numpy import bool_, float64, int_, object_
    from numpy.typing import NDArray

REST_DAYS = 4
"""A question tried so few days ago, or fewer, is left alone."""

WITHOUT_SIGN = 0.35
"""The weight of a question without signs beside one with signs (from simulated candidates)."""


class Choosable(Struct, frozen=True, kw_only=True, gc=False):
    """A question that could be taken. Days are ordinals of study days.

    `worth` is the score between a right response and a miss, times how often the exam is expected
    to ask the question; `seconds` what it takes. `since` is the day of its last try; for an untried
    question (`practice` None) the day on which its first study was said to be done, None: it was
    not. Of the questions that share a `duplicates` name at most one is taken.
    """

    question: str
    subject: str
    worth: float
    seconds: float
    since: int | None
    practice: Practice | None
    signs: int = 0
    settled: bool = False
    duplicates: str = ""


class Pool(NamedTuple):
    """Many of them, in book order, a column each.

    `own` is the number that each one's subject has among `subjects`. `since` is 0 where it is None,
    `group` the number that questions of one `duplicates` share, -1 for all others.
    """

    names: "NDArray[object_]"
    subjects: Sequence[str]
    own: "NDArray[int_]"
    worth: "NDArray[float64]"
    seconds: "NDArray[float64]"
    since: "NDArray[int_]"
    practice: PracticeColumns
    signs: "NDArray[int_]"
    settled: "NDArray[bool_]"
    group: "NDArray[int_]"

    @classmethod
    def of(cls, questions: Iterable[Choosable]) -> "Pool":
        """The columns of these."""
        import numpy as np

        each = list(questions)
        subjects, groups = dict[str, int](), dict[str, int]()
        own = [subjects.setdefault(q.subject, len(subjects)) for q in each]
        group = [groups.setdefault(q.duplicates, len(groups)) if q.duplicates else -1 for q in each]
        names = np.empty(len(each), dtype=object)
        names[:] = [question.question for question in each]
        return cls(
            names,
            tuple(subjects),
            np.array(own, dtype=int),
            np.array([question.worth for question in each], dtype=float),
            np.array([question.seconds for question in each], dtype=float),
            np.array([question.since or 0 for question in each], dtype=int),
            PracticeColumns.of([question.practice for question in each]),
            np.array([question.signs for question in each], dtype=int),
            np.array([question.settled for question in each], dtype=bool),
            np.array(group, dtype=int),
        )

    @property
    def size(self) -> int:
        """How many questions there are to choose from."""
        return len(self.names)

    def where(self, chosen: "NDArray[bool_]") -> "Pool":
        """Those where it says so."""
        return self._replace(
            names=self.names[chosen],
            own=self.own[chosen],
            worth=self.worth[chosen],
            seconds=self.seconds[chosen],
            since=self.since[chosen],
            practice=self.practice.taken(chosen),
            signs=self.signs[chosen],
            settled=self.settled[chosen],
            group=self.group[chosen],
        )

    def only(self, keep: Callable[[str, str], bool]) -> "Pool":
        """Those of which question and subject are to be kept."""
        import numpy as np

        asked = zip(self.names, self.own.tolist(), strict=True)
        kept = (keep(name, self.subjects[subject]) for name, subject in asked)
        return self.where(np.fromiter(kept, dtype=bool, count=self.size))

    def one_of(self, first: str, second: str) -> "Pool":
        """With these two, and those grouped with either, in one group."""
        import numpy as np

        both = np.isin(self.names, [first, second])
        old = self.group[both]
        joined = both | np.isin(self.group, old[old >= 0])
        return self._replace(group=np.where(joined, self.group.max() + 1, self.group))

    def choosable(self, place: int) -> Choosable:
        """One of them."""
        group = int(self.group[place])
        return Choosable(
            question=self.names[place],
            subject=self.subjects[self.own[place]],
            worth=float(self.worth[place]),
            seconds=float(self.seconds[place]),
            since=int(self.since[place]) or None,
            practice=self.practice.practice(place),
            signs=int(self.signs[place]),
            settled=bool(self.settled[place]),
            duplicates=str(group) if group >= 0 else "",
        )

    def choosables(self) -> Iterator[Choosable]:
        """All of them, one by one."""
        return map(self.choosable, range(self.size))


class VisitsAhead(Struct, frozen=True):
    """What is left to visits of the plan, by subject id.

    A subject that is `closed` takes none, as its visit is near or its first still ahead. In the
    next weeks a block asks every question of `blocks`, a sweep the repeatedly missed of `sweeps`.
    """

    closed: frozenset[str] = frozenset()
    blocks: frozenset[str] = frozenset()
    sweeps: frozenset[str] = frozenset()


NO_VISITS = VisitsAhead()


class LeftOut(StrEnum):
    """Why a question is not among those chosen."""

    RECENT = "tried in the last days"
    VISIT = "its subject has its visit"
    FIRST_STUDY = "its first study is not done"
    MINUTES = "no minutes left"
    DUPLICATE = "another question is nearly the same"


class Omission(Struct, frozen=True):
    """How many questions were left out for one reason, and the score that taking them would gain.

    `gain` is None without a model.
    """

    questions: int
    gain: float | None


class Choice(Struct, frozen=True):
    """The questions chosen, in the order given (book order), and what they take and gain.

    `gain` is the score expected from them in the exam, None without a model.
    """

    picks: tuple[Choosable, ...]
    seconds: float
    gain: float | None
    left_out: dict[LeftOut, Omission]


class Lookahead:
    """What questions are expected to gain in the exam if they are answered today.

    p · P(right in the exam | right today) + (1 − p) · P(right in the exam | missed today and
    looked up) − P(right in the exam | left alone), p being the chance of being right today.
    """

    def __init__(self, model: Logistic, today: int, exam: int) -> None:
        self._model, self._today, self._exam = model, today, max(today, exam)

    def gains(self, pool: Pool) -> "NDArray[float64]":
        """The score each is expected to gain, in the order given; never below 0."""
        model, today, exam = self._model, self._today, self._exam
        gains = gains_of_answering(pool.subjects, pool.own, pool.practice, model, today, exam)
        # A fitted model may expect less after a try than without it: then it has nothing to say.
        gained: NDArray[float64] = gains.clip(0.0) * pool.worth
        return gained


def choose(
    questions: Pool | Iterable[Choosable],
    seconds: float,
    today: int,
    lookahead: Lookahead | None = None,
    visits: VisitsAhead = NO_VISITS,
    waiting_since: int = 0,
    named: bool = False,
    most: int | None = None,
) -> Choice:
    """The questions to take in so many seconds, and at most so many, kept in the order given.

    What `visits` will ask comes behind the rest of what isn't settled; among this rest, what was
    last tried by the day `waiting_since` comes first. `named` says that the candidate asked for a
    subject or a tier: then what was tried lately counts too. 11,000 questions take a few ms.
    """
    import numpy as np

    pool = questions if isinstance(questions, Pool) else Pool.of(questions)
    gains = lookahead.gains(pool) if lookahead else np.zeros(pool.size)
    omitted = _barred(pool, today, visits.closed, named)
    order = _order(pool, gains, today, visits, waiting_since)
    order = order[~np.any(list(omitted.values()), axis=0)[order]]
    taken, left, passed_over = _taken(pool, order, seconds, most)
    is_in = np.zeros(pool.size, dtype=bool)
    is_in[taken] = True
    again = passed_over & (pool.group >= 0) & np.isin(pool.group, pool.group[is_in])
    omitted |= {LeftOut.MINUTES: passed_over & ~again, LeftOut.DUPLICATE: again}
    return Choice(
        tuple(map(pool.choosable, sorted(taken))),
        seconds - left,
        float(gains[is_in].sum()) if lookahead else None,
        {
            reason: Omission(int(lost.sum()), float(gains[lost].sum()) if lookahead else None)
            for reason in LeftOut
            if (lost := omitted[reason]).any()
        },
    )


def worth_per_second(
    pool: Pool, today: int, lookahead: Lookahead | None = None
) -> "NDArray[float64]":
    """What answering each is worth by the order of the chooser; only comparable among themselves.

    What was never tried counts, without a model, as unseen for longest.
    """
    import numpy as np

    if lookahead is not None:
        per_second: NDArray[float64] = lookahead.gains(pool) / pool.seconds
        return per_second
    known = pool.since > 0
    days = today - pool.since
    longest = int(days[known].max()) if known.any() else 1
    return _by_rule(pool, np.where(known, days, longest)) / pool.seconds


def worth_of_an_hour(
    questions: Pool | Iterable[Choosable],
    today: int,
    lookahead: Lookahead,
    seconds: float = 3600,
) -> dict[str, float]:
    """For each subject, the score expected from spending the time on it alone."""
    import numpy as np

    pool = questions if isinstance(questions, Pool) else Pool.of(questions)
    gains = lookahead.gains(pool)
    order = _order(pool, gains, today, NO_VISITS, 0)
    order = order[~np.any(list(_barred(pool, today, (), False).values()), axis=0)[order]]
    worth, own = dict[str, float](), pool.own[order]
    for number in np.unique(pool.own).tolist():
        taken, *_ = _taken(pool, order[own == number], seconds, None)
        worth[pool.subjects[number]] = float(gains[taken].sum())
    return worth


def _barred(
    pool: Pool, today: int, visited: Collection[str], named: bool
) -> "dict[LeftOut, NDArray[bool_]]":
    """What can't be taken, by the first reason that holds."""
    unstudied = pool.since == 0
    closed = _of(pool, visited)
    recent = pool.practice.seen & (today - pool.since <= REST_DAYS) & (not named)
    return {
        LeftOut.FIRST_STUDY: unstudied,
        LeftOut.VISIT: closed & ~unstudied,
        LeftOut.RECENT: recent & ~closed & ~unstudied,
    }


def _order(
    pool: Pool, gains: "NDArray[float64]", today: int, visits: VisitsAhead, waiting_since: int
) -> "NDArray[int_]":
    """The places of all in turn: what waits, the rest, what visits will ask, each by gain per
    second, then by the rule; settled ones come last, by age.
    """
    import numpy as np

    by_rule = _by_rule(pool, today - pool.since)
    first = np.where(pool.settled, pool.since, -gains / pool.seconds)
    second = np.where(pool.settled, 0.0, -by_rule / pool.seconds)
    asked = _of(pool, visits.blocks)
    asked |= _of(pool, visits.sweeps) & (pool.practice.tier >= Tier.HARDER)
    waits = pool.practice.seen & (pool.since <= waiting_since)
    turn = np.where(pool.settled, 3, np.where(asked, 2, np.where(waits, 0, 1)))
    return np.lexsort((second, first, turn))


def _of(pool: Pool, subjects: Collection[str]) -> "NDArray[bool_]":
    """Whether each is of one of the subjects."""
    import numpy as np

    return np.array([subject in subjects for subject in pool.subjects], dtype=bool)[pool.own]


def _taken(
    pool: Pool, order: "NDArray[int_]", seconds: float, most: int | None
) -> "tuple[list[int], float, NDArray[bool_]]":
    """Those that fit in turn, the seconds left, and whether each was passed over."""
    import numpy as np

    takes, left, taken, groups = pool.seconds[order], seconds, list[int](), set[int]()
    shortest = np.minimum.accumulate(takes[::-1])[::-1]
    columns = zip(order, takes.tolist(), shortest.tolist(), pool.group[order].tolist(), strict=True)
    for place, each, shortest_left, group in columns:
        if shortest_left > left or len(taken) == most:
            break
        if each <= left and group not in groups:
            taken.append(int(place))
            left -= each
            if group >= 0:
                groups.add(group)
    passed_over = np.zeros(pool.size, dtype=bool)
    passed_over[order] = True
    passed_over[taken] = False
    return taken, left, passed_over


def _by_rule(pool: Pool, days: "NDArray[int_]") -> "NDArray[float64]":
    import numpy as np

    return pool.worth * days * np.where(pool.signs > 0, 1.0, WITHOUT_SIGN)
