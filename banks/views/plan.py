"""The whole plan as plain values: its weeks, what changed, what would make it fit, the finish."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date, timedelta
from itertools import groupby
from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from banks.kept_history import of_morning
from banks.planning.workload import PlanWorkload, banks_that_count, request_for
from banks.views.today import TodayView
from domain.errors import InputError
from domain.evidence.differences import ScoreDifference
from domain.plan.changes import PlanDifference, PlanSummary, difference, summary_of
from domain.plan.inputs import DAYS_A_WEEK, ONE_DAY, PlanInputs, Use, monday, open_days
from domain.plan.levers import (
    LeverBasis,
    PlanAdvice,
    PlanLever,
    PlanPattern,
    advice_of,
    asks_for_final_revision,
    at_attendance,
    levers_of,
    patterns_of,
    without_days,
)
from domain.plan.outlook import AskedDay, Finish, Work, finishes
from domain.plan.scheduler import fits_at_own_pace
from domain.plan.study_plan import EntryKind, StudyDay, StudyPlan
from domain.plan.study_plan_writer import make_study_plan

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.plan_worth import PlanWorth

MOST_WEEKS = 12
"""How many weeks back count for the outlook."""
LOOKED_AHEAD = timedelta(days=3 * 366)
"""How far ahead a finish day is looked for."""
ASSUMED_ATTENDANCE, KNOWN_WEEKS = 0.80, 3
"""The share of study days kept that is assumed before so many weeks of one's own are known."""
PACE_OFF, TIMED_FOR_PACE = 0.05, 200
"""A pace this far off the written one, over so many timed questions, is worth an offer."""


# the weeks


class PlanTurn(Struct, frozen=True):
    """A subject's turn in a week: its id, title, questions, and whether it is pinned there."""

    subject: str
    title: str
    questions: int
    pinned: bool = False


class PlanWeek(Struct, frozen=True):
    """One week. `days` run from Monday to Sunday, None outside the plan; `exam` is the weekday
    of the exam (0 for Monday) where it lies in this week. `minutes` are those of its visits, of
    the `room` there is.
    """

    monday: date
    rounds: tuple[int, ...]
    days: tuple[StudyDay | None, ...]
    blocks: tuple[PlanTurn, ...]
    sweeps: tuple[PlanTurn, ...]
    minutes: float = 0.0
    room: int = 0
    exam: int | None = None

    def day(self, weekday: int) -> date:
        """The date of a weekday."""
        return self.monday + weekday * ONE_DAY

    def subject_on(self, weekday: int) -> str:
        """The id of the day's subject, else of the week's block, else ""."""
        day = self.days[weekday]
        if day and day.visits:
            return day.visits[0].subject or ""
        return self.blocks[0].subject if self.blocks else ""


def plan_weeks(plan: StudyPlan, inputs: PlanInputs, titles: Mapping[str, str]) -> list[PlanWeek]:
    """Every week from the plan's first day to the exam's."""
    pins = {(pin.subject, pin.week) for pin in inputs.pins}
    by_day = {day.day: day for day in plan.days(inputs)}
    weeks = []
    begin = monday(plan.first)
    while begin <= monday(plan.exam):
        days = tuple(by_day.get(begin + n * ONE_DAY) for n in range(DAYS_A_WEEK))
        known = [day for day in days if day is not None]
        offset = (plan.exam - begin).days
        weeks.append(
            PlanWeek(
                begin,
                tuple(sorted({number for day in known for number in day.rounds})),
                days,
                _turns(known, EntryKind.BLOCK, begin, pins, titles),
                _turns(known, EntryKind.SWEEP, begin, pins, titles),
                sum(day.minutes for day in known),
                sum(sum(day.parts) for day in known),
                offset if 0 <= offset < DAYS_A_WEEK else None,
            )
        )
        begin += DAYS_A_WEEK * ONE_DAY
    return weeks


def _turns(
    days: Sequence[StudyDay],
    kind: EntryKind,
    begin: date,
    pins: set[tuple[str, date]],
    titles: Mapping[str, str],
) -> tuple[PlanTurn, ...]:
    entries = [entry for day in days for entry in day.visits if entry.kind is kind]
    turns = []
    for subject, own in groupby(entries, key=lambda entry: entry.subject or ""):
        pinned = kind is EntryKind.BLOCK and (subject, begin) in pins
        questions = sum(entry.questions for entry in own)
        turns.append(PlanTurn(subject, titles[subject], questions, pinned))
    return tuple(turns)


# the plan


class PaceOffer(Struct, frozen=True):
    """The candidate's own seconds per question, offered in place of those written down.

    `slack_days` is what would be spare then, None where the plan would not fit.
    """

    written: float
    own: float
    inputs: PlanInputs
    slack_days: int | None


class PlanView(Struct, frozen=True):
    """The plan of today. `titles` gives subjects and chapters by id; `at_own_pace` whether it
    fits at the measured seconds too, `seconds` what they are over all subjects.
    """

    today: date
    inputs: PlanInputs
    plan: StudyPlan
    titles: Mapping[str, str]
    at_own_pace: bool
    seconds: float


class PlanOutlook(Struct, frozen=True):
    """What is told beside the plan, and takes longer to find.

    `levers` make a short plan fit; `without_a_week` is what would be spare if the next seven days
    were lost, None if the plan would not fit then; `attendance` is the share of study days kept
    so far (assumed where `is_assumed`), `at_attendance` the plan at that share; `share_done` the
    share of the planned minutes of revision that were done in the complete weeks so far.
    """

    levers: tuple[PlanLever, ...]
    advice: PlanAdvice | None
    pace: PaceOffer | None
    without_a_week: int | None
    finishes: tuple[Finish, ...]
    share_done: float | None
    attendance: float
    is_assumed: bool
    at_attendance: PlanSummary
    final_revision: "FinalRevision | None" = None

    @property
    def offers(self) -> dict[str, PlanInputs]:
        """The inputs of all that can be accepted now, by the names `plan --accept` takes."""
        offers = {lever.accept: lever.inputs for lever in self.levers}
        if self.pace:
            offers[OWN_PACE] = self.pace.inputs
        if self.advice:
            offers[self.advice.accept] = self.advice.inputs
        if self.final_revision:
            offers |= self.final_revision.offers
        return offers


class FinalRevision(Struct, frozen=True):
    """The question how the last days of a short plan shall go, asked once.

    Going on, `unreached` questions get no visit, and the `subjects` of these titles no block.
    Taken, `given_up` questions lose their visit, and there are minutes for `by_worth` questions
    over the whole bank.
    """

    days: int
    unreached: int
    subjects: tuple[str, ...]
    given_up: int
    by_worth: int
    inputs: PlanInputs

    @property
    def offers(self) -> dict[str, PlanInputs]:
        """The inputs by the names `plan --accept` takes, going on first."""
        return {
            GO_ON: replace(self.inputs, final_from=None, final_declined=True),
            FINAL_REVISION: self.inputs,
        }


FINAL_REVISION, GO_ON, OWN_PACE = "final-revision", "go-on", "own-pace"


def final_revision(workload: PlanWorkload) -> FinalRevision | None:
    """The question, if it is to be asked today."""
    plan, today = workload.plan(), workload.today
    if not asks_for_final_revision(workload.inputs, plan, today):
        return None
    begun = bool(workload.events_on(today))  # what was begun this morning is finished
    taken = replace(workload.inputs, final_from=today + ONE_DAY if begun else today)
    after = make_study_plan(workload.request(inputs=taken))
    minutes = sum(entry.minutes for entry in after.entries if entry.kind is EntryKind.PASS)
    has_days = {scheduled.visit for scheduled in plan.visits}
    none = (left.visit for left in plan.beyond if left.visit not in has_days)
    without = [visit.subject for visit in none if not visit.sweep]
    return FinalRevision(
        days=(plan.exam - today).days,
        unreached=sum(left.questions for left in plan.beyond),
        subjects=tuple(workload.titles[subject] for subject in dict.fromkeys(without)),
        given_up=sum(left.questions for left in after.beyond),
        by_worth=round(minutes * 60 / workload.inputs.seconds),
        inputs=taken,
    )


def plan_view(workload: PlanWorkload) -> PlanView:
    """The plan as it stands. Raises InputError when it is not set up."""
    plan = workload.plan()
    return PlanView(
        today=workload.today,
        inputs=workload.inputs,
        plan=plan,
        titles=workload.titles,
        at_own_pace=fits_at_own_pace(workload.request(), workload.measured),
        seconds=workload.own_seconds,
    )


def changed_by(library: "Library", act: Callable[[], object]) -> PlanDifference | None:
    """Do what may change today's plan, and tell what it changed; None where nothing."""
    before = _summary_now(library)
    act()
    after = _summary_now(library)
    if before is None or after is None:
        return None
    change = difference(before, after)
    is_other = replace(before, visits=()) != replace(after, visits=())
    return change if change.shifts or is_other else None


def effect_of_counting(library: "Library", bank: str) -> PlanDifference | None:
    """What it would change if the bank counted in the plan, or no longer did; None without one."""
    counting = banks_that_count(library)
    banks = [other for other in library.banks if (other in counting) != (other == bank)]
    before = _summary_now(library)
    after = _summary_now(library, replace(library.settings.plan, banks=tuple(banks)))
    return difference(before, after) if before and after and banks else None


def _summary_now(library: "Library", inputs: PlanInputs | None = None) -> PlanSummary | None:
    """What is compared of today's plan, by these inputs or those kept; None without one."""
    if not library.settings.plan.is_set_up:
        return None
    with suppress(InputError):
        return summary_of(PlanWorkload(library, inputs).plan())
    return None


def plan_outlook(
    workload: PlanWorkload, plan: StudyPlan, worth: "PlanWorth | None" = None
) -> PlanOutlook:
    """Everything that takes longer: meant for a thread.

    With `worth` a short plan gives up what the chooser holds worth least; without, by weight.
    """
    request = workload.request()
    weeks = weeks_so_far(workload)
    lost = without_days(request)
    attendance, is_assumed = own_attendance(workload)
    kept_up = _kept_up(workload)
    basis = LeverBasis(kept_up=kept_up)
    if worth is not None and not plan.feasible:
        basis = LeverBasis(kept_up, worth.readiness(), worth.chapters())
    return PlanOutlook(
        levers=levers_of(request, basis),
        advice=advice_of(request, kept_up),
        pace=_pace_offer(workload),
        without_a_week=lost.slack_days if lost and lost.feasible else None,
        finishes=finishes_of(workload, plan, weeks),
        share_done=sum(done for done, _ in weeks) / sum(asked for _, asked in weeks)
        if weeks
        else None,
        attendance=attendance,
        is_assumed=is_assumed,
        at_attendance=summary_of(at_attendance(request, attendance)),
        final_revision=final_revision(workload),
    )


def _pace_offer(workload: PlanWorkload) -> PaceOffer | None:
    written, own = workload.inputs.seconds, workload.own_seconds
    if workload.timed < TIMED_FOR_PACE or abs(own - written) <= PACE_OFF * written:
        return None
    inputs = replace(workload.inputs, seconds=float(round(own)))
    plan = make_study_plan(workload.request(inputs=inputs))
    return PaceOffer(written, own, inputs, plan.slack_days if plan.feasible else None)


# how it went so far


def own_attendance(workload: PlanWorkload) -> tuple[float, bool]:
    """The share of the days planned so far that were kept, and whether it is only assumed, because
    too few weeks are known.

    Planned are the days for which the week's first morning asked for a visit; a visit made on
    another day of the week counts.
    """
    mornings = _past_mornings(workload)
    kept = {event.day for event in workload.events}
    planned = attended = 0
    for morning in mornings:
        week = [morning + number * ONE_DAY for number in range(DAYS_A_WEEK)]
        asked = {entry.day for entry in workload.plan(morning).entries if entry.is_visit}
        days = len(asked.intersection(week))
        planned += days
        attended += min(days, len(kept.intersection(week)))
    if len(mornings) < KNOWN_WEEKS or not planned:
        return ASSUMED_ATTENDANCE, True
    return attended / planned, False


def weeks_so_far(workload: PlanWorkload) -> list[tuple[float, float]]:
    """(minutes done, minutes planned) of revision per complete week since the first day.

    Planned is what the plan asked for on the week's first morning; weeks without are left out.
    """
    mornings = _past_mornings(workload)
    asked = {}
    for morning in mornings:
        end = morning + DAYS_A_WEEK * ONE_DAY
        entries = workload.plan(morning).entries
        asked[morning] = sum(
            entry.minutes
            for entry in entries
            if entry.kind is EntryKind.BLOCK and morning <= entry.day < end
        )
    begin = workload.inputs.start or workload.today
    done = dict.fromkeys(mornings, 0.0)
    for day, minutes in workload.block_minutes():
        morning = begin + timedelta(weeks=(day - begin).days // DAYS_A_WEEK)
        if morning in done:
            done[morning] += minutes
    return [(done[morning], asked[morning]) for morning in mornings if asked[morning]]


def _past_mornings(workload: PlanWorkload) -> list[date]:
    """The first morning of each complete week since the first day, of `MOST_WEEKS` at most."""
    begin = workload.inputs.start or workload.today
    weeks = (workload.today - begin).days // DAYS_A_WEEK
    return [begin + timedelta(weeks=n) for n in range(max(0, weeks - MOST_WEEKS), weeks)]


def _kept_up(workload: PlanWorkload) -> float | None:
    """The most minutes of a week so far, None before a whole week is known."""
    begin = workload.inputs.start or workload.today
    if (workload.today - begin).days < DAYS_A_WEEK:
        return None
    by_week: dict[int, float] = {}
    seconds = workload.own_seconds
    for event in workload.responses():
        week = (event.day - begin).days // DAYS_A_WEEK
        by_week[week] = by_week.get(week, 0.0) + seconds / 60
    return max(by_week.values(), default=None)


def finishes_of(
    workload: PlanWorkload, plan: StudyPlan, weeks: list[tuple[float, float]]
) -> tuple[Finish, ...]:
    """When each round that is not over will be finished, if the weeks to come are like these."""
    shares = [done / planned for done, planned in weeks]
    return tuple(finishes(shares, _works(plan), _asked_ahead(workload, plan), plan.exam))


def _works(plan: StudyPlan) -> Iterator[Work]:
    """The revision left up to the end of each round that is not finished."""
    for span in plan.rounds:
        blocks = [
            scheduled.last
            for scheduled in plan.visits
            if scheduled.visit.round == span.round and not scheduled.visit.sweep
        ]
        if span.last_day and blocks:
            lag = max(0, (span.last_day - max(blocks)).days)
            yield Work(span.round, _minutes_up_to(plan, span.round), lag)


def _minutes_up_to(plan: StudyPlan, number: int) -> float:
    """Minutes of revision left in the rounds up to this one, those beyond the exam included."""
    placed = sum(
        entry.minutes
        for entry in plan.entries
        if entry.kind is EntryKind.BLOCK and (entry.round or 0) <= number
    )
    return placed + sum(
        left.minutes for left in plan.beyond if left.visit.round <= number and not left.visit.sweep
    )


def _asked_ahead(workload: PlanWorkload, plan: StudyPlan) -> list[AskedDay]:
    """What each day from today on asks for; after the last block, all the time there is."""
    last = max((visit.last for visit in plan.visits if not visit.visit.sweep), default=plan.first)
    blocks, sweeps = defaultdict[date, float](float), defaultdict[date, float](float)
    for entry in plan.entries:
        if entry.is_visit:
            by_day = sweeps if entry.kind is EntryKind.SWEEP else blocks
            by_day[entry.day] += entry.minutes
    asked: list[AskedDay] = []
    for day in open_days(workload.inputs, workload.today, workload.today + LOOKED_AHEAD):
        room = float(day.minutes) if day.use is Use.REVISION else 0.0
        planned = blocks[day.day] if day.day <= last else room
        idle = 0.0 if room else max(0.0, day.minutes - sweeps[day.day])
        asked.append(AskedDay(day.day, planned, room, idle))
    return asked


# changes that are only tried out


class ComparedPattern(Struct, frozen=True):
    """Another pattern of work: its spare days (None: it does not fit), the questions that get no
    visit, and what it brings.
    """

    pattern: PlanPattern
    slack_days: int | None
    unreached: int
    worth: ScoreDifference | None


Worths = Mapping[str, ScoreDifference | None]
"""What offers bring against the kept plan, by the names under which they are accepted."""


def offer_worths(worth: "PlanWorth", offers: Mapping[str, PlanInputs]) -> Worths:
    """What each offer brings; going on as before brings nothing and is left out."""
    return {name: worth.of(inputs) for name, inputs in offers.items() if name != GO_ON}


class PlanReport(Struct, frozen=True):
    """The plan with everything that is told beside it: what the command `plan` shows."""

    view: PlanView
    outlook: PlanOutlook
    worths: dict[str, ScoreDifference | None]


def plan_report(library: "Library") -> PlanReport:
    """All of it, made once a morning. Raises InputError when no plan is set up."""
    workload = PlanWorkload(library)
    has_begun = bool(workload.events_on(workload.today))
    request = msgspec.json.encode((library.settings, has_begun)).decode()
    report = of_morning(
        library, "plan-report", lambda *_: report_of(library, workload), request, is_todays=True
    )
    return msgspec.msgpack.decode(report.value, type=PlanReport)


def report_of(library: "Library", workload: PlanWorkload) -> PlanReport:
    """The report that this workload gives, with all that is expected of the offers."""
    from banks.views.plan_worth import PlanWorth

    view, worth = plan_view(workload), PlanWorth(library, workload)
    outlook = plan_outlook(workload, view.plan, worth)
    return PlanReport(view, outlook, dict(offer_worths(worth, outlook.offers)))


class TodayReport(Struct, frozen=True):
    """The day, and what is said of the plan beside it: what the command `today` shows. Once the
    exam is over there is no plan.
    """

    view: TodayView
    plan: StudyPlan | None
    final_revision: FinalRevision | None


def today_report(library: "Library", *, ahead: bool = False) -> TodayReport:
    """All of it. Raises InputError when no plan can be made of the inputs."""
    from banks.views.today import today_view

    workload = PlanWorkload(library)
    view = today_view(library, workload, ahead=ahead)
    if view.days_to_exam <= 0:
        return TodayReport(view, None, None)
    return TodayReport(view, workload.plan(), final_revision(workload))


class PlanTrial:
    """The plan that is kept, and the one that is tried in its place. Raises InputError when the
    kept one is not set up.
    """

    def __init__(self, library: "Library") -> None:
        from banks.views.plan_worth import PlanWorth  # most looks at a plan need no evidence

        self.workload = PlanWorkload(library)
        self.worth = PlanWorth(library, self.workload)
        self.kept = plan_view(self.workload)
        self.inputs, self.plan = self.kept.inputs, self.kept.plan

    def drop(self) -> None:
        """Go back to what is kept."""
        self.inputs, self.plan = self.kept.inputs, self.kept.plan

    def change(self, change: Callable[[PlanInputs], PlanInputs]) -> None:
        """Try changed inputs. Raises InputError when no plan can be made; then nothing changes."""
        inputs = change(self.inputs)
        self.plan = make_study_plan(request_for(self.workload, inputs))
        self.inputs = inputs

    def outlook(self) -> PlanOutlook:
        """What is told beside the plan that is kept: meant for a thread."""
        return plan_outlook(self.workload, self.kept.plan, self.worth)

    def worths(self, offers: Mapping[str, PlanInputs]) -> Worths:
        """What each offer brings against the kept plan, by its name: meant for a thread."""
        return offer_worths(self.worth, offers)

    def patterns(self) -> list[ComparedPattern]:
        """Other patterns of work against the kept one: meant for a thread."""
        request = self.workload.request()
        compared = []
        for pattern in patterns_of(request):
            plan = make_study_plan(request.changed(pattern.inputs))
            slack = plan.slack_days if plan.feasible else None
            unreached = sum(left.questions for left in plan.beyond)
            worth = self.worth.difference(plan)
            compared.append(ComparedPattern(pattern, slack, unreached, worth))
        return compared

    @property
    def is_tried(self) -> bool:
        """Whether what is shown differs from what is kept."""
        return self.inputs != self.kept.inputs

    @property
    def difference(self) -> PlanDifference:
        """What keeping it would change."""
        return difference(summary_of(self.kept.plan), summary_of(self.plan))

    @property
    def weeks(self) -> list[PlanWeek]:
        """The weeks of the plan that is shown."""
        return plan_weeks(self.plan, self.inputs, self.kept.titles)
