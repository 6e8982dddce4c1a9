"""Visits on record: which sweep is due, what its list is, when it begins and when it ends.

The day's pass is put on record beside them, with the list that was chosen for it.
"""

from collections.abc import Collection, Iterable, Iterator
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from msgspec import Struct

from banks.planning.workload import PlanWorkload
from domain.chooser import LeftOut, Omission
from domain.errors import InputError
from domain.plan.inputs import ONE_DAY, open_days
from domain.plan.study_plan import EntryKind, PlanEntry
from domain.plan.visits import ChapterNumber, SweepCandidate, SweepList, sweep_list
from domain.responses import AnyRecord, Purpose, VisitBegun, VisitEnd, VisitEnded, VisitKind
from domain.tiers import Tier

if TYPE_CHECKING:
    from banks.contents import StoreContents

LATE_DAYS = 6
"""For so many days after its own day a sweep that was not begun may still be begun."""


def due_sweeps(
    workload: PlanWorkload,
    day: date,
    subjects: Collection[str] | None = None,
    late: int = LATE_DAYS,
) -> dict[str, PlanEntry]:
    """The sweeps not begun that the plan has on this day or had up to `late` days before, by
    subject id.

    `wanted` names the subjects that are asked about, None all; earlier mornings are looked at
    only for those that do not stand on the day itself.
    """
    tomorrow = day + ONE_DAY
    begun = workload.progress(tomorrow)
    due: dict[str, PlanEntry] = {}
    first = max(workload.inputs.start or day, day - timedelta(days=late))
    for back in range((day - first).days + 1):
        morning = day - timedelta(days=back)
        for entry in workload.plan(morning).on(morning):
            if entry.kind is EntryKind.SWEEP and entry.subject and not entry.spill:
                due.setdefault(entry.subject, entry)
        if subjects is not None and due.keys() >= set(subjects):
            break
    return {
        subject: entry
        for subject, entry in due.items()
        if (subjects is None or subject in subjects)
        and subject not in begun.open_sweeps
        and all(span.last < entry.day for span in begun.sweeps.get(subject, ()))
    }


def list_of_sweep(library: "StoreContents", workload: PlanWorkload, entry: PlanEntry) -> SweepList:
    """The list that a sweep would have if it began now, without what a paper has asked today."""
    asked = asked_in_papers(library, workload.today)
    candidates = [
        (chapter, number, library.history.standing(name))
        for chapter, number, name in workload.active_ids(entry.subject or "")
        if name not in asked
    ]
    recorded = {chapter for chapter, _, stands in candidates if stands.tier is not Tier.UNTRIED}
    return sweep_list(
        [
            SweepCandidate(chapter, number, stands.tier, stands.last, chapter not in recorded)
            for chapter, number, stands in candidates
        ],
        room_for_sweep(workload, entry),
    )


def room_for_sweep(workload: PlanWorkload, entry: PlanEntry) -> int:
    """How many questions the sweep's day holds, beside the other work that stands there."""
    day = next(iter(open_days(workload.inputs, entry.day, entry.day + ONE_DAY)))
    others = sum(workload.plan(entry.day).minutes_beside(entry).values())
    return max(0, int((day.minutes - others) * 60 / workload.inputs.seconds))


class DueSweeps:
    """Which sweeps the next response of purpose sweep begins.

    What is due is found once for a state of plan, banks and visits, so that a key waits for no
    plan.
    """

    def __init__(self, library: "StoreContents") -> None:
        self._library = library
        self._known: tuple[object, ...] = ()
        self._due: dict[tuple[str, date], PlanEntry | None] = {}

    def begun_by(self, question_ids: Iterable[str], at: datetime) -> list[VisitBegun]:
        """The records that begin the sweeps these questions belong to, their lists fixed now.

        What is not due gives none: sweeping it is free practice.
        """
        library = self._library
        if not library.settings.plan.is_set_up:
            return []
        subjects = dict.fromkeys(map(library.subject_id, question_ids))
        day = library.history.day(at)
        self._forget_what_changed()
        unknown = [subject for subject in subjects if (subject, day) not in self._due]
        workload = PlanWorkload(library) if unknown else None
        if workload is not None:
            self._look(workload, unknown, day)
        entries = [entry for subject in subjects if (entry := self._due[subject, day])]
        if not entries:
            return []
        workload = workload or PlanWorkload(library)
        return [sweep_begun(library, workload, entry, at) for entry in entries]

    def _look(self, workload: PlanWorkload, subjects: Collection[str], day: date) -> None:
        try:
            due = due_sweeps(workload, day, subjects)
        except InputError:  # no plan can be made: nothing is due
            due = {}
        for subject in subjects:
            self._due[subject, day] = due.get(subject)

    def _forget_what_changed(self) -> None:
        library = self._library
        state = (
            library.today(),
            library.settings.plan,
            tuple(map(id, library.banks.values())),
            tuple(begun.id for begun in library.history.records_of(VisitBegun)),
            tuple(ended.id for ended in library.history.records_of(VisitEnded)),
        )
        if state != self._known:
            self._known = state
            self._due.clear()


def empty_sweeps(workload: PlanWorkload) -> list[AnyRecord]:
    """What puts on record that sweeps of this morning have nothing to put up."""
    library = workload.library
    try:
        due = due_sweeps(workload, workload.today, late=0)
    except InputError:  # no plan can be made: nothing is due
        return []
    empty = [e for e in due.values() if list_of_sweep(library, workload, e).is_empty]
    return list(_judged_empty(library, workload, empty))


def _judged_empty(
    library: "StoreContents", workload: PlanWorkload, entries: Iterable[PlanEntry]
) -> Iterator[VisitBegun | VisitEnded]:
    for entry in entries:
        begun = sweep_begun(library, workload, entry)
        yield begun
        yield visit_ended(library, begun.id, VisitEnd.EMPTY)


def visit_ended(library: "StoreContents", visit: str, how: VisitEnd) -> VisitEnded:
    """The record that ends a visit that was begun."""
    return VisitEnded(**library.stamp(), visit=visit, how=how)


def sweep_begun(
    library: "StoreContents", workload: PlanWorkload, entry: PlanEntry, at: datetime | None = None
) -> VisitBegun:
    """The record that begins the sweep (now where no moment is given), its list fixed."""
    listed = list_of_sweep(library, workload, entry)
    bank, subject = workload.locations[entry.subject or ""]
    return VisitBegun(
        **library.stamp(at),
        kind=VisitKind.SWEEP,
        bank=bank,
        subject=subject,
        round=entry.round or 1,
        planned=entry.day,
        questions=_ids(workload, listed.questions),
        also_open=_ids(workload, listed.also_open),
        untried=_ids(workload, listed.untried),
    )


def _ids(workload: PlanWorkload, numbered: Iterable[ChapterNumber]) -> tuple[str, ...]:
    return tuple(question for _, _, question in workload.named(numbered))


def asked_in_papers(library: "StoreContents", day: date) -> frozenset[str]:
    """What was answered in papers begun on the day: neither sweep nor pass asks it again."""
    history = library.history
    return frozenset(
        question
        for sitting in history.sittings.values()
        if sitting.opened.purpose is Purpose.PAPER and history.day(sitting.opened.at) == day
        for question in sitting.given
    )


# the day's pass


class ChosenPass(Struct, frozen=True, kw_only=True):
    """The questions chosen for a day's pass, in book order.

    `made_from` is what the choice depends on, beside banks and tier rules. `gain` is the score
    expected from them, None without a model that can be trusted; `waiting` how many of them are.
    """

    day: date
    made_from: tuple[str, ...]
    questions: tuple[str, ...]
    minutes: float
    waiting: int = 0
    gain: float | None = None
    left_out: dict[LeftOut, Omission] = {}


_PASS = "pass"


def chosen_pass(library: "StoreContents", day: date) -> ChosenPass | None:
    """What was chosen for the day's pass, if it was yet."""
    kept = library.store.cache.load(_PASS, ChosenPass)
    return kept if kept is not None and kept.day == day else None


def keep_chosen(library: "StoreContents", chosen: ChosenPass) -> None:
    """Go on with this choice for the day, until the pass begins and its list is on record.

    Whoever only looks keeps it too: nothing of it is on record.
    """
    library.store.cache.save(_PASS, chosen)


def pass_begun_on(library: "StoreContents", day: date) -> VisitBegun | None:
    """The record with the list of the day's pass, once it was begun."""
    for begun in library.history.records_of(VisitBegun):
        if begun.kind is VisitKind.PASS and begun.planned == day:
            return begun
    return None


def pass_begun_by(
    library: "StoreContents", question_ids: Iterable[str], at: datetime
) -> list[VisitBegun]:
    """The record that begins the day's pass, if it was chosen and holds one of these questions."""
    day = library.history.day(at)
    chosen = chosen_pass(library, day)
    if chosen is None or not set(chosen.questions).intersection(question_ids):
        return []
    if pass_begun_on(library, day) is not None:
        return []
    return [
        VisitBegun(
            **library.stamp(at),
            kind=VisitKind.PASS,
            bank="",
            subject="",
            round=0,
            planned=day,
            questions=chosen.questions,
        )
    ]
