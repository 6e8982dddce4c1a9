"""What to sweep in the minutes there are, chosen from the hard-tiers."""

from collections.abc import Collection, Iterator
from dataclasses import replace as bank_with
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from banks.editing.duplicates import find_duplicates
from banks.exporters.sheets.question_sheet import Order, Sheet, sheet_of
from banks.library import Library
from banks.views.evidence_log import EvidenceLog, Studied, evidence_log
from banks.views.exam import blueprint
from domain.evidence.forecast import worth_of_a_right
from domain.evidence.memory.practice import UNSEEN
from domain.evidence.memory.rates import mended
from domain.plan.pace import own_pace
from domain.questions import Form, Question, fingerprint
from domain.sweep import Sweep as Chosen
from domain.sweep import Sweepable, choose_sweep
from domain.tiers import HARD_TIERS, Tier

OWN_PACE = 2
"""How many times of its own a question needs to outweigh its subject's pace."""


class SweepPick(Struct, frozen=True):
    """A question of the sweep, where it stands, and why it is in."""

    question: Question
    subject: str
    chapter: str
    tier: Tier
    why: tuple[str, ...]
    gain: float
    seconds: float


class SweepView(Struct, frozen=True):
    """The picks for so many minutes; `more` and `more_gain` are what ten more would add.

    `pool` is how many questions were there to choose from, `uses` what gave the chances.
    """

    minutes: float
    picks: tuple[SweepPick, ...]
    gain: float
    seconds: float
    more: tuple[SweepPick, ...]
    more_gain: float
    pool: int
    uses: str


def sweep(
    library: Library,
    minutes: float,
    subject: str = "",
    tiers: Collection[Tier] = HARD_TIERS,
    day: date | None = None,
) -> SweepView:
    """The most expected marks for the minutes. `subject` is a key ("bank/subject") or ""."""
    read = evidence_log(library)
    pool = candidates(library, read, subject, tiers, day)
    known = {one.question.id: one.question for one in read.studied}
    chosen = _choose(library, pool, minutes * 60)

    def placed(one: Sweepable) -> SweepPick:
        question = known[one.question]
        chapter = read.chapters[f"{one.subject.partition('/')[0]}/{question.chapter}"]
        return SweepPick(
            question, read.title(one.subject), chapter, one.tier, one.why, one.gain, one.seconds
        )

    return SweepView(
        minutes, tuple(map(placed, chosen.picks)), chosen.gain, chosen.seconds,
        tuple(map(placed, chosen.more)), chosen.more_gain, len(pool), read.memory.name,
    )  # fmt: skip


def _choose(library: Library, pool: list[Sweepable], seconds: float) -> Chosen:
    """The choice without near-duplicates: those among the picks are told apart and chosen anew."""
    twins: dict[str, str] = {}
    while True:
        grouped = [replace(one, duplicates=twins.get(one.question, one.duplicates)) for one in pool]
        chosen = choose_sweep(grouped, seconds)
        pairs = list(_near_pairs(library, [pick.question for pick in chosen.picks]))
        if not pairs:
            return chosen
        for one, other in pairs:
            old, new = twins.get(other, other), twins.setdefault(one, one)
            twins |= {name: new for name, group in twins.items() if group == old} | {other: new}


def _near_pairs(library: Library, ids: list[str]) -> Iterator[tuple[str, str]]:
    """Pairs among these questions that are nearly the same."""
    for bank in library.banks.values():
        picked = {name: bank.questions[name] for name in ids if name in bank.questions}
        for pair in find_duplicates(bank_with(bank, questions=picked)):
            yield pair.keep.id, pair.drop.id


def sheet(library: Library, found: SweepView, order: Order) -> Sheet:
    """The picks as a sheet to print. Raises InputError when there are none."""
    tiers = {one.question.id: one.tier for one in found.picks}
    about = f"{found.minutes:g} minutes, chosen on {library.today()} · {order}"
    return sheet_of(library.banks.values(), tiers, order, "Sweep", about)


def candidates(
    library: Library,
    read: EvidenceLog,
    subject: str = "",
    tiers: Collection[Tier] = HARD_TIERS,
    day: date | None = None,
) -> list[Sweepable]:
    """Every question of these tiers as the chooser weighs it, on the exam day or another.

    An untried question is mended as often as is assumed before there is a log.
    """
    paper = blueprint(library, read)
    marking, on = paper.marking(), (day or exam_day(library, read)).toordinal()
    worth = {
        part.subject: worth_of_a_right(marking, part.subject, read.blanks)
        * part.questions / read.subjects[part.subject].questions
        for part in paper.sections
    }  # fmt: skip
    chances, mends, times = read.memory.chances, mended(read.trials), _Times(library, read)
    found = []
    for one in read.studied:
        now = one.practice()
        tier = Tier(now.tier) if now else Tier.UNTRIED
        if tier not in tiers or subject not in ("", one.subject):
            continue
        cell = now.cell(on) if now else UNSEEN
        found.append(Sweepable(
            question=one.question.id, subject=one.subject, tier=tier,
            missed_days=one.missed_days,
            chance=chances.chance(one.subject, cell), mends=mends.chance(one.subject, cell),
            worth=worth.get(one.subject, 0.0), seconds=times.of(one),
            duplicates=fingerprint(one.question) if one.question.form is Form.FULL else "",
        ))  # fmt: skip
    return found


def exam_day(library: Library, read: EvidenceLog) -> date:
    """The exam day, or today where none is set or it is past."""
    return max(library.settings.plan.exam or read.today, read.today)


class _Times:
    """Seconds a question takes: its own times, drawn towards its subject's pace as the plan has it,
    so that the first few responses alone do not set it.
    """

    def __init__(self, library: Library, read: EvidenceLog) -> None:
        timings = ((one.subject, read.today, one.seconds) for one in read.responses)
        self._pace = own_pace(timings, library.settings.plan.seconds)
        self._own: dict[str, list[float]] = {}
        for one in read.responses:
            if one.seconds > 0:
                self._own.setdefault(one.question, []).append(one.seconds)

    def of(self, one: Studied) -> float:
        usual = self._pace.of(one.subject)
        own = self._own.get(one.question.id, ())
        return (sum(own) + OWN_PACE * usual) / (len(own) + OWN_PACE)
