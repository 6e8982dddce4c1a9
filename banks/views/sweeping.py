"""What to take in the minutes there are: the chooser over a library's questions."""

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace as bank_with
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Library
from banks.planning.first_study import FirstStudies
from banks.views.evidence_log import EvidenceLog, Studied, evidence_log
from banks.views.exam import exam_blueprint
from domain.chooser import Choice, Choosable, LeftOut, Lookahead, Omission, choose
from domain.evidence.forecast import worth_of_a_right
from domain.evidence.intervals import Interval
from domain.plan.outlook import own_pace
from domain.questions import Form, Question, bank_of, fingerprint
from domain.tiers import Tier

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
    known = {studied.question.id: studied.question for studied in read.studied}
    ahead = lookahead(library, read)
    named = bool(subject or tiers)
    chosen = choose_distinct(
        library, pool, lambda choosable: choose(choosable, minutes * 60, today, ahead, named=named)
    )

    def placed(choosable: Choosable) -> SweepPick:
        question = known[choosable.question]
        chapter = read.chapters[f"{choosable.subject.partition('/')[0]}/{question.chapter}"]
        return SweepPick(
            question,
            read.title(choosable.subject),
            chapter,
            library.history.standing(question.id).tier,
            choosable.signs,
            choosable.settled,
            today - (choosable.since or today),
            choosable.seconds,
        )

    return SweepView(
        minutes,
        tuple(map(placed, chosen.picks)),
        chosen.gain,
        chosen.seconds,
        chosen.left_out,
        len(pool),
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


def choose_distinct(
    library: Library, pool: list[Choosable], choose_from: Callable[[list[Choosable]], Choice]
) -> Choice:
    """The choice without near-duplicates: those among the picks are named, and chosen anew."""
    groups: dict[str, str] = {}
    while True:
        grouped = [
            replace(question, duplicates=groups[question.question])
            if question.question in groups
            else question
            for question in pool
        ]
        chosen = choose_from(grouped)
        pairs = list(_near_pairs(library, [pick.question for pick in chosen.picks]))
        if not pairs:
            return chosen
        for first, second in pairs:
            old, new = groups.get(second, second), groups.setdefault(first, first)
            groups |= {name: new for name, group in groups.items() if group == old} | {second: new}


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
) -> list[Choosable]:
    """Every question of these tiers (none named: all) as the chooser weighs it, in book order.

    With `this_morning` as it stood before anything was answered today.
    """
    last_day = read.today.toordinal() - this_morning
    paper = exam_blueprint(library, read)
    marking = paper.marking()
    worth = {
        part.subject: worth_of_a_right(marking, part.subject, read.blanks)
        * part.questions
        / read.subjects[part.subject].questions
        for part in paper.sections
    }
    times, studies = _Times(library, read), FirstStudies(library)
    choosable = []
    for studied in read.studied:
        if subject not in ("", studied.subject):
            continue
        standing = library.history.standing(studied.question.id)
        if this_morning and standing.last is not None and standing.last >= read.today:
            standing = library.history.standing_before(studied.question.id, read.today)
        practice = studied.practice(last_day)
        if tiers and standing.tier not in tiers:
            continue
        since = practice.last if practice and standing.last is not None else None
        if practice is None:
            chapter = f"{bank_of(studied.question.id)}/{studied.question.chapter}"
            studied_on = studies.day_of(studied.subject, chapter)
            since = studied_on.toordinal() if studied_on else None
        choosable.append(
            Choosable(
                question=studied.question.id,
                subject=studied.subject,
                worth=worth.get(studied.subject, 0.0),
                seconds=times.of(studied),
                since=since,
                practice=practice,
                signs=standing.signs,
                settled=standing.settled,
                duplicates=fingerprint(studied.question)
                if studied.question.form is Form.FULL
                else "",
            )
        )
    return choosable


def exam_day(library: Library, read: EvidenceLog) -> date:
    """The exam day, or today where none is set or it is past."""
    return max(library.settings.plan.exam or read.today, read.today)


class _Times:
    """Seconds a question takes: its own times, drawn towards its subject's pace as the plan has it,
    so that the first few responses alone do not set it.
    """

    def __init__(self, library: Library, read: EvidenceLog) -> None:
        timings = (
            (studied.subject, read.today, seconds)
            for studied in read.studied
            for seconds in studied.timed
        )
        self._pace = own_pace(timings, library.settings.plan.seconds)

    def of(self, studied: Studied) -> float:
        usual = self._pace.of(studied.subject)
        return (sum(studied.timed) + OWN_PACE * usual) / (len(studied.timed) + OWN_PACE)
