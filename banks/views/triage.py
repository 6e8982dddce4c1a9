"""The tiers and what is in them: counts, a filtered list, and the trail of one question."""

from collections import Counter
from collections.abc import Collection, Iterator
from datetime import date

from msgspec import Struct

from banks.library import Library, Location
from domain.questions import Question
from domain.responses import Reason
from domain.tiers import Standing, Step, Tier, TierRules


class Filter(Struct, frozen=True):
    """What to list. Empty fields let everything pass; `text` is looked for in all of the text."""

    bank: str = ""
    subject: str = ""
    chapter: str = ""
    tiers: frozenset[Tier] = frozenset()
    missed: int = 0
    text: str = ""


class Row(Struct, frozen=True, gc=False):
    """One question of the list. `subject` and `chapter` are titles."""

    question: Question
    location: Location
    standing: Standing


class Counts(Struct, frozen=True):
    """How many questions stand in each tier."""

    untried: int = 0
    clear: int = 0
    hard: int = 0
    harder: int = 0
    hardest: int = 0

    @property
    def total(self) -> int:
        """All questions."""
        return self.untried + self.clear + self.hard + self.harder + self.hardest


class Explanation(Struct, frozen=True):
    """What is behind a standing: every dated step, the reasons said, and the rules.

    `reasons` has, for each study day where one was said, the newest.
    """

    standing: Standing
    steps: list[Step]
    reasons: dict[date, Reason]
    rules: TierRules


class SubjectCounts(Struct, frozen=True):
    """The counts of one subject."""

    bank_id: str
    subject_id: str
    title: str
    counts: Counts


def rows(library: Library, wanted: Filter) -> list[Row]:
    """The questions that pass, in the banks' order."""
    return [row for row in _candidates(library, wanted) if _passes(library, row, wanted)]


def by_urgency(found: list[Row]) -> list[Row]:
    """Hardest first, then most missed, then longest not seen; ties keep the banks' order."""
    return sorted(
        found,
        key=lambda row: (
            -row.standing.tier, -row.standing.missed_days, row.standing.last or date.min,
        ),
    )  # fmt: skip


def counts(found: Collection[Row]) -> Counts:
    """The counts per tier of a list."""
    return Counts(**{tier.word: n for tier, n in Counter(r.standing.tier for r in found).items()})


def total_counts(library: Library) -> Counts:
    """The counts over all banks."""
    standing = library.history.standing
    tiers = Counter(standing(question.id).tier.word for _, question in library.active_questions())
    return Counts(**tiers)


def explanation(library: Library, question_id: str) -> Explanation:
    """What is behind a question's standing."""
    history = library.history
    return Explanation(
        history.standing(question_id),
        history.trail(question_id),
        history.reasons_by_day(question_id),
        history.rules,
    )


def _candidates(library: Library, wanted: Filter) -> Iterator[Row]:
    for location, question in library.active_questions(wanted.bank or None):
        if wanted.subject not in ("", location.subject.id):
            continue
        if wanted.chapter not in ("", location.chapter.id):
            continue
        yield Row(question, location, library.history.standing(question.id))


def _passes(library: Library, row: Row, wanted: Filter) -> bool:
    if wanted.tiers and row.standing.tier not in wanted.tiers:
        return False
    if row.standing.missed_days < wanted.missed:
        return False
    return not wanted.text or wanted.text.casefold() in _text(library, row.question)


def _text(library: Library, question: Question) -> str:
    parts = (
        question.stem, *(option.text for option in question.options), question.explanation,
        question.reference, *question.tags, library.history.note(question.id),
    )  # fmt: skip
    return "\n".join(parts).casefold()
