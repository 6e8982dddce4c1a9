"""The tiers and what is in them: counts, a filtered list, and the trail of one question."""

from collections import Counter
from collections.abc import Collection, Iterator
from datetime import date, timedelta

from msgspec import Struct
from msgspec.structs import replace

from banks.contents import Location
from banks.library import Library
from banks.planning.tallies import SubjectTally, tallies_of
from domain.questions import Question
from domain.responses import Reason
from domain.tiers import (
    Counts,
    Standing,
    Step,
    SubjectCounts,
    Tier,
    TierRules,
    WaitingState,
    fold,
    is_waiting,
)

WEEK = timedelta(days=7)


class Filter(Struct, frozen=True):
    """What to list. Empty fields let everything pass; `text` is looked for in all of the text.

    A question passes that is in one of `tiers` and, with `waiting`, is waiting too; with a
    `reason`, where that was said of a response; with `sure_wrong`, where one was wrong though sure.
    """

    bank: str = ""
    subject: str = ""
    chapter: str = ""
    tiers: frozenset[Tier] = frozenset()
    missed: int = 0
    text: str = ""
    waiting: bool = False
    reason: Reason | None = None
    sure_wrong: bool = False


class Row(Struct, frozen=True, gc=False):
    """One question of the list. `is_waiting`: tried, not settled, and not tried for long."""

    id: str
    number: int
    location: Location
    standing: Standing
    is_waiting: bool = False

    @property
    def question(self) -> Question:
        """The question itself, read from the bank."""
        return self.location.bank.questions[self.id]


class Explanation(Struct, frozen=True):
    """What is behind a standing: every dated step, the reasons said, and the rules.

    `reasons` has, for each study day where one was said, the newest.
    """

    standing: Standing
    steps: list[Step]
    reasons: dict[date, Reason]
    rules: TierRules


def rows(library: Library, chosen: Filter) -> list[Row]:
    """The questions that pass, in the banks' order."""
    if chosen.reason or chosen.sure_wrong:
        library.history.read_all()
    return [row for row in _candidates(library, chosen) if _passes(library, row, chosen)]


def by_urgency(listed: list[Row]) -> list[Row]:
    """Hardest first, then most missed, then longest not seen; ties keep the banks' order."""
    return sorted(
        listed,
        key=lambda row: (
            -row.standing.tier, -row.standing.missed_days, row.standing.last or date.min,
        ),
    )  # fmt: skip


def counts(listed: Collection[Row]) -> Counts:
    """The counts of a list."""
    tiers = Counter(row.standing.tier for row in listed)
    return Counts(
        **{tier.word: count for tier, count in tiers.items()},
        settled=sum(row.standing.settled for row in listed),
        waiting=sum(row.is_waiting for row in listed),
    )


def waiting_state(library: Library, banks: Collection[str] = ()) -> WaitingState:
    """How many questions are waiting and settled in these banks (all when none is named)."""
    states = waiting_by_subject(library, banks).values()
    return WaitingState(
        sum(state.waiting for state in states),
        sum(state.change for state in states),
        sum(state.settled for state in states),
        _last_tried(library),
    )


def waiting_by_subject(
    library: Library, banks: Collection[str] = ()
) -> dict[tuple[str, str], WaitingState]:
    """The same for each subject with something tried, by bank id and subject id."""
    today, last_tried = library.today(), _last_tried(library)
    states: dict[tuple[str, str], WaitingState] = {}
    for name, tally in tallies_of(library, date.max).items():
        bank, _, subject = name.partition("/")
        if not banks or bank in banks:
            waiting = tally.waiting(today)
            change = waiting - tally.waiting_then(today - WEEK)
            states[bank, subject] = WaitingState(waiting, change, tally.settled, last_tried)
    return states


def subject_counts(library: Library, banks: Collection[str]) -> list[SubjectCounts]:
    """The counts of every subject with questions in these banks, in their order."""
    tallies, today = tallies_of(library, date.max), library.today()
    return [
        SubjectCounts(
            bank.id,
            subject.id,
            subject.title,
            tallies.get(f"{bank.id}/{subject.id}", SubjectTally()).counts(total, today),
        )
        for bank in sorted(library.banks.values(), key=lambda bank: bank.id)
        if bank.id in banks
        for subject in bank.subjects
        if (total := sum(len(bank.index.rows_in(chapter.id)) for chapter in subject.chapters))
    ]


def _last_tried(library: Library) -> date:
    """When what begins to wait today was last tried."""
    return library.today() - timedelta(days=library.history.rules.waiting_days)


def explanation(library: Library, question_id: str) -> Explanation:
    """What is behind a question's standing."""
    history = library.history
    return Explanation(
        history.standing(question_id),
        history.trail(question_id),
        history.reasons_by_day(question_id),
        history.rules,
    )


def _candidates(library: Library, chosen: Filter) -> Iterator[Row]:
    today, after_days = library.today(), library.history.rules.waiting_days
    for location in library.locations(chosen.bank or None):
        if chosen.subject not in ("", location.subject.id):
            continue
        if chosen.chapter not in ("", location.chapter.id):
            continue
        index = location.bank.index
        for row in index.rows_in(location.chapter.id):
            standing = library.history.standing(index.ids[row])
            waits = is_waiting(standing, today, after_days)
            yield Row(index.ids[row], index.numbers[row], location, standing, waits)


def _passes(library: Library, row: Row, chosen: Filter) -> bool:
    if chosen.tiers and row.standing.tier not in chosen.tiers:
        return False
    if row.standing.missed_days < chosen.missed:
        return False
    if chosen.waiting and not row.is_waiting:
        return False
    if not has_said(library, row.id, chosen):
        return False
    return not chosen.text or chosen.text.casefold() in _text(library, row.question)


def has_said(library: Library, question_id: str, chosen: Filter) -> bool:
    """Whether what the filter asks to have been said was said of a response to the question."""
    history = library.history
    if chosen.reason and chosen.reason not in history.reasons_by_day(question_id).values():
        return False
    if not chosen.sure_wrong:
        return True
    return any(map(history.is_sure_miss, history.responses(question_id)))


def _text(library: Library, question: Question) -> str:
    parts = (
        question.stem, *(option.text for option in question.options), question.explanation,
        question.reference, *question.tags, library.history.note(question.id),
    )  # fmt: skip
    return "\n".join(parts).casefold()


class RulesPreview(Struct, frozen=True):
    """The counts per tier under the rules in force and under the others."""

    now: Counts
    then: Counts


def preview_rules(library: Library, rules: TierRules) -> RulesPreview:
    """What other tier rules would do to the counts, before they are used.

    Folds the whole history under `rules` as well, which takes a second per 150,000 responses.
    """
    history, today = library.history, library.today()
    now = rows(library, Filter())
    standings = [fold(history.judged(row.id), rules) for row in now]
    then = [
        replace(row, standing=new, is_waiting=is_waiting(new, today, rules.waiting_days))
        for row, new in zip(now, standings, strict=True)
    ]
    return RulesPreview(counts(now), counts(then))
