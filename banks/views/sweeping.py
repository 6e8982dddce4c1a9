"""What to take in the minutes there are: the chooser over a library's questions."""

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace as bank_with
from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct

from banks.library import Library
from banks.planning.first_study import FirstStudies
from banks.views.evidence_log import EvidenceLog, evidence_log
from banks.views.exam import exam_blueprint
from domain.chooser import Choice, Choosable, LeftOut, Lookahead, Omission, Pool, choose
from domain.evidence.forecast import worth_of_a_right
from domain.evidence.intervals import Interval
from domain.plan.outlook import Pace, own_pace
from domain.questions import Question
from domain.tiers import Tier

if TYPE_CHECKING:
    from numpy import float64, int_
    from numpy.typing import NDArray

OWN_PACE = 2
"""How many times of its own a question needs to outweigh its subject's pace."""


class SweepPick(Struct, frozen=True):
    """A question of the sweep and where it stands; `days` since it was last tried."""

    question: Question
    subject: str
    chapter: str
    tier: Tier
    signs: int
    settled: bool
    days: int
    seconds: float


class SweepView(Struct, frozen=True):
    """The picks for so many minutes, in book order.

    `gain` is the score expected from them, None without a memory model that can be trusted.
    `pool` is how many questions were there to choose from.
    """

    minutes: float
    picks: tuple[SweepPick, ...]
    gain: float | None
    seconds: float
    left_out: dict[LeftOut, Omission]
    pool: int


def sweep(
    library: Library, minutes: float, subject: str = "", tiers: Collection[Tier] = ()
) -> SweepView:
    """What is worth most in the minutes. `subject` is a key ("bank/subject") or "" for all.

    Whoever names a subject or tiers also gets what was tried in the last days.
    """
    read = evidence_log(library)
    today = read.today.toordinal()
    pool = candidates(library, read, subject, tiers)
    ahead = lookahead(library, read)
    named = bool(subject or tiers)
    chosen = choose_distinct(
        library, pool, lambda pool: choose(pool, minutes * 60, today, ahead, named=named)
    )
    tier_of = read.now.tiers

    def placed(choosable: Choosable) -> Iterator[SweepPick]:
        number = read.numbers[choosable.question]
        question = library.question(choosable.question)
        if question is not None:
            yield SweepPick(
                question,
                *read.place(number),
                Tier(int(tier_of[number])),
                choosable.signs,
                choosable.settled,
                today - (choosable.since or today),
                choosable.seconds,
            )

    return SweepView(
        minutes,
        tuple(pick for choosable in chosen.picks for pick in placed(choosable)),
        chosen.gain,
        chosen.seconds,
        chosen.left_out,
        pool.size,
    )


def sweep_request(minutes: float, subject: str = "", tiers: Collection[Tier] = ()) -> str:
    """What was asked of `sweep`, in words, to keep its view under."""
    return " ".join([f"{minutes:g}", subject, *(tier.word for tier in sorted(tiers))])


HOUR_RATIO = (0.69, 1.26)
"""Predicted ÷ true gain of an hour over the simulated memories (`tests.domain.evidence.worth`)."""


class StudyWorth(Struct, frozen=True):
    """What the first study of a subject would have to bring in so many hours.

    `marks` is what the same hours bring in passes and final revision. `right_now` is the chance of
    a random pick among its `questions` of the exam; `right_then` the chance from which studying
    it brings more, None where even all of them right would not.
    """

    title: str
    hours: float
    questions: int
    marks: Interval
    right_now: float
    right_then: Interval | None


def first_study_worth(library: Library, subject: str, hours: float) -> StudyWorth | None:
    """Of a subject by its key, "bank/subject"; None while no model can be trusted.

    Takes a second or two.
    """
    read = evidence_log(library)
    gain = sweep(library, hours * 60).gain
    if gain is None:
        return None
    low, high = gain / HOUR_RATIO[1], gain / HOUR_RATIO[0]
    paper, now = exam_blueprint(library, read), read.guess
    questions = sum(part.questions for part in paper.sections if part.subject == subject)
    every = questions * worth_of_a_right(paper.marking(), subject, read.blanks)
    then = (now + low / every, now + high / every) if every else (2.0, 2.0)
    return StudyWorth(
        read.title(subject),
        hours,
        questions,
        (low, high),
        now,
        (then[0], min(then[1], 1.0)) if then[0] <= 1 else None,
    )


def lookahead(library: Library, read: EvidenceLog) -> Lookahead | None:
    """What tells the worth of a question until the exam; None unless the model is trusted."""
    model = read.memory.trusted_model
    if model is None:
        return None
    exam = exam_day(library, read).toordinal()
    return Lookahead(model, read.today.toordinal(), exam)


def choose_distinct(library: Library, pool: Pool, choose_from: Callable[[Pool], Choice]) -> Choice:
    """The choice without near-duplicates: those among the picks are named, and chosen anew."""
    while True:
        chosen = choose_from(pool)
        pairs = list(_near_pairs(library, [pick.question for pick in chosen.picks]))
        if not pairs:
            return chosen
        for first, second in pairs:
            pool = pool.one_of(first, second)


def _near_pairs(library: Library, ids: list[str]) -> Iterator[tuple[str, str]]:
    """Pairs among these questions that are nearly the same."""
    from banks.find_duplicates import find_duplicates

    for bank in library.banks.values():
        picked = {name: bank.questions[name] for name in ids if name in bank.questions}
        for pair in find_duplicates(bank_with(bank, questions=picked)):
            yield pair.keep.id, pair.drop.id


def candidates(
    library: Library,
    read: EvidenceLog,
    subject: str = "",
    tiers: Collection[Tier] = (),
    *,
    this_morning: bool = False,
) -> Pool:
    """Every question of these tiers (none named: all) as the chooser weighs it, in book order.

    With `this_morning` as it stood before anything was answered today.
    """
    import numpy as np

    stood = read.morning if this_morning else read.now
    paper = exam_blueprint(library, read)
    marking, worth = paper.marking(), dict.fromkeys(read.subjects, 0.0)
    for part in paper.sections:
        each = worth_of_a_right(marking, part.subject, read.blanks)
        worth[part.subject] = each * part.questions / read.subjects[part.subject].questions
    pool = Pool(
        names=np.array(read.ids, dtype=object),
        subjects=read.subject_names,
        own=read.subject,
        worth=np.array(list(worth.values()))[read.subject],
        seconds=_seconds(library, read, this_morning=this_morning),
        since=np.where(
            stood.practice.seen,
            np.where(stood.tried, stood.practice.last, 0),
            studied_on(library, read)[read.chapter],
        ),
        practice=stood.practice,
        signs=stood.signs,
        settled=stood.settled,
        group=read.group,
    )
    chosen = np.ones(pool.size, dtype=bool)
    if subject:
        chosen &= read.of_subjects([subject])
    if tiers:
        chosen &= np.isin(stood.tiers, list(tiers))
    return pool if chosen.all() else pool.where(chosen)


def studied_on(library: Library, read: EvidenceLog) -> "NDArray[int_]":
    """The day (an ordinal) on which each chapter's first study was said to be done; 0: never."""
    import numpy as np

    studies, days = FirstStudies(library), np.zeros(len(read.chapters), dtype=int)
    for number, subject in enumerate(read.subject_of_chapter.tolist()):
        day = studies.day_of(read.subject_names[subject], read.chapter_keys[number])
        days[number] = day.toordinal() if day else 0
    return days


def _seconds(library: Library, read: EvidenceLog, *, this_morning: bool) -> "NDArray[float64]":
    """Seconds a question takes: its own times, drawn towards its subject's pace as the plan has it,
    so that the first few responses alone do not set it.
    """
    import numpy as np

    expected, size = library.settings.plan.seconds, len(read.ids)
    responses, is_past = read.responses, read.is_past

    def learn() -> Pace:
        subjects = read.subject[responses.question[is_past]].tolist()
        timed = zip(subjects, responses.seconds[is_past].tolist(), strict=True)
        names = read.subject_names
        return own_pace(((names[each], read.today, seconds) for each, seconds in timed), expected)

    pace = read.kept("pace", Pace, expected, learn)
    usual = np.array([pace.of(subject) for subject in read.subjects])[read.subject]
    counts = responses.seconds > 0
    if this_morning:
        counts &= is_past
    total = np.bincount(responses.question, responses.seconds * counts, size)
    count = np.bincount(responses.question, counts, size)
    seconds: NDArray[float64] = (total + OWN_PACE * usual) / (count + OWN_PACE)
    return seconds


def exam_day(library: Library, read: EvidenceLog) -> date:
    """The exam day, or today where none is set or it is past."""
    return max(library.settings.plan.exam or read.today, read.today)
