"""Who is revised and who is swept in which round: the pairing of blocks and sweeps.

The subjects stand in one order. In odd rounds its first half takes the blocks while the second
half is swept; in even rounds they change roles. Each round keeps the order, and that makes the
shortest gap between a subject's two visits as long as any order can: of two neighbours, the one
whose first visit came later would only come sooner if they changed places.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from msgspec import Struct

from domain.plan.inputs import PlanInputs
from domain.plan.load import SubjectLoad

UNKNOWN_STRENGTH = 0.5


class Visit(Struct, frozen=True):
    """One turn of a subject in a round: its block of revision days, or its sweep."""

    round: int
    subject: str
    sweep: bool


def in_order(inputs: PlanInputs, subjects: Sequence[SubjectLoad], first: date) -> list[str]:
    """Subject ids as they take their turns: as the candidate set them, then by need.

    Subjects that are open on the first day come first, weakest and heaviest leading; the others
    follow by the day they open. Ties keep the bank's order.
    """
    known = {subject.id for subject in subjects}
    chosen = [subject for subject in dict.fromkeys(inputs.order) if subject in known]
    named = set(chosen)
    others = [subject for subject in subjects if subject.id not in named]
    others.sort(key=lambda subject: (_opens(subject, first), -need(subject)))
    return chosen + [subject.id for subject in others]


def need(subject: SubjectLoad) -> float:
    """Weight in the exam times the share still missed: what a block could win."""
    weight = subject.questions if subject.weight is None else subject.weight
    strength = UNKNOWN_STRENGTH if subject.strength is None else subject.strength
    return weight * (1 - strength)


def visits(inputs: PlanInputs, order: Sequence[str]) -> Iterator[Visit]:
    """Every visit of the plan, round by round, blocks before sweeps, each in its order."""
    light = set(inputs.sweep_only)
    full = [subject for subject in order if subject not in light]
    half = (len(full) + 1) // 2
    for number in range(1, inputs.rounds + 1):
        odd = number % 2 == 1
        blocks, sweeps = (full[:half], full[half:]) if odd else (full[half:], full[:half])
        if not odd or inputs.rounds == 1:
            sweeps = sweeps + [subject for subject in order if subject in light]
        yield from (Visit(number, subject, False) for subject in blocks)
        yield from (Visit(number, subject, True) for subject in sweeps)


def heads(waiting: Iterable[Visit]) -> list[Visit]:
    """The first visit of each subject, in order: the others begin afresh after it."""
    first: dict[str, Visit] = {}
    for visit in waiting:
        first.setdefault(visit.subject, visit)
    return list(first.values())


def _opens(subject: SubjectLoad, first: date) -> date:
    return max(subject.open_from or first, first)
