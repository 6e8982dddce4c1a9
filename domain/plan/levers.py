"""What makes a short plan fit: the smallest change of each lever, each found by planning again.

A plan's `feasible` never turns false by more minutes, so halving finds the smallest change. What
would leave study days without work while questions wait is not offered; what asks for more
minutes than the candidate has kept up comes last. "Most valuable first" is always there: whole
chapters and sweeps are given up, those worth least per minute, until the others fit.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from domain.plan.inputs import DAYS_A_WEEK, LONGEST_DAY, ONE_DAY, PlanInputs, Role, Use, week_begin
from domain.plan.parsing import WEEKDAYS
from domain.plan.problem import PlanRequest, Problem
from domain.plan.scheduler import fits_before_exam
from domain.plan.study_plan import EntryKind, StudyPlan
from domain.plan.study_plan_writer import make_study_plan
from domain.plan.visits import heaviness

STEP_MINUTES, MOST_STEPS = 5, 48
ADVICE_STEPS = 9
"""How many steps of minutes an advice on a plan that fits looks ahead."""
NEEDS_NO_ADVICE = 50
"""A plan that fits at so many of 100 study days, or fewer, is not advised to take more minutes."""


class Lever(StrEnum):
    """By what a plan is made to fit."""

    RESERVE = "reserve days"
    REVISION_MINUTES = "minutes on revision days"
    SWEEP_MINUTES = "minutes on sweep days"
    SWEEP_DAY = "one more sweep day"
    ROUNDS = "fewer rounds"
    SWEEP_ONLY = "sweep only"
    EARLIER = "earlier start"
    MOST_VALUABLE = "most valuable first"


class PlanLever(Struct, frozen=True):
    """One change that makes the plan fit.

    `value` is reserve days given up, minutes more per day, the weekday (Monday 0), rounds left,
    subjects only swept, days earlier, or questions that are not reached. `days` is how many more
    days are spare than now (fewer if negative). `accept` names it to `plan --accept`.
    `is_beyond_habit`: it asks for more minutes a week than were ever kept up. `unreached` counts
    questions left without a visit.
    """

    lever: Lever
    value: int
    days: int
    accept: str
    inputs: PlanInputs
    is_beyond_habit: bool = False
    unreached: int = 0

    @property
    def command(self) -> str:
        """The command that accepts it."""
        return f"resieve plan --accept {self.accept}"


class LeverBasis(Struct, frozen=True):
    """What the levers weigh by: `kept_up`, the most minutes kept up for a week, None while
    unknown; `readiness`, expected ÷ possible score by subject id; `worth` per minute by chapter
    id (missing: the subject's weight per question).
    """

    kept_up: float | None = None
    readiness: Mapping[str, float] = {}
    worth: Mapping[str, float] = {}


class LeverChoice(Struct, frozen=True):
    """Changed inputs under the name by which they are accepted."""

    lever: Lever
    value: int
    accept: str
    inputs: PlanInputs


def levers_of(request: PlanRequest, basis: LeverBasis) -> tuple[PlanLever, ...]:
    """The smallest change of each lever, () where the plan fits or final revision was taken."""
    plan = make_study_plan(request)
    if plan.feasible or request.inputs.final_from is not None:
        return ()
    remedies = []
    for choice in _choices(request, basis):
        after = make_study_plan(request.changed(choice.inputs))
        if after.feasible and not _empties_days(choice, after):
            remedies.append(_lever(choice, plan, after, basis))
    remedies.sort(key=lambda lever: lever.is_beyond_habit)
    return (*remedies, _most_valuable(request, plan, basis))


def _lever(
    choice: LeverChoice, before: StudyPlan, after: StudyPlan, basis: LeverBasis
) -> PlanLever:
    beyond = _is_beyond(choice.inputs, basis.kept_up)
    more = choice.lever in (Lever.REVISION_MINUTES, Lever.SWEEP_MINUTES, Lever.SWEEP_DAY)
    return PlanLever(
        choice.lever,
        choice.value,
        after.slack_days - before.slack_days,
        choice.accept,
        choice.inputs,
        is_beyond_habit=more and beyond,
    )


def _is_beyond(inputs: PlanInputs, kept_up: float | None) -> bool:
    return kept_up is not None and _week_minutes(inputs) > kept_up


def _week_minutes(inputs: PlanInputs) -> int:
    week = zip(inputs.roles, inputs.minutes, strict=True)
    return sum(sum(parts) for role, parts in week if role is not Role.REST)


def _empties_days(choice: LeverChoice, after: StudyPlan) -> bool:
    """Whether work is given up and days stay without any: a week of them, or one where passes
    are off.
    """
    if choice.lever not in (Lever.ROUNDS, Lever.SWEEP_ONLY):
        return False
    inputs = choice.inputs
    week = sum(role is not Role.REST for role in inputs.roles) if inputs.passes else 0
    return after.slack_days > week


def _choices(request: PlanRequest, basis: LeverBasis) -> Iterator[LeverChoice]:
    inputs = request.inputs
    yield from _smallest(request, list(_fewer_reserve_days(request)))
    steps = range(STEP_MINUTES, STEP_MINUTES * MOST_STEPS + 1, STEP_MINUTES)
    for lever, role, name in (
        (Lever.REVISION_MINUTES, Role.REVISION, "revision"),
        (Lever.SWEEP_MINUTES, Role.SWEEP, "sweep"),
    ):
        yield from _smallest(
            request,
            [
                LeverChoice(lever, n, f"{name}+{n}", more_minutes(inputs, role, n))
                for n in steps
                if _is_within_a_day(inputs, role, n)
            ],
        )
    yield from _more_sweep_days(request)
    for rounds in range(inputs.rounds - 1, 0, -1):
        choice = LeverChoice(
            Lever.ROUNDS, rounds, f"rounds={rounds}", replace(inputs, rounds=rounds)
        )
        if fits_before_exam(request.changed(choice.inputs)):
            yield choice
            break
    yield from _smallest(request, list(_sweep_only(request, basis)))
    yield from _smallest(request, list(_earlier(request)))


def _fewer_reserve_days(request: PlanRequest) -> Iterator[LeverChoice]:
    """Ever more of the reserve days to come given up, the last first: near ones may be needed."""
    inputs = request.inputs
    ahead = sorted(day for day in inputs.reserve if day >= request.today)
    for count in range(1, len(ahead) + 1):
        kept = set(inputs.reserve) - set(ahead[-count:])
        changed = replace(inputs, reserve=tuple(sorted(kept)))
        yield LeverChoice(Lever.RESERVE, count, f"reserve-{count}", changed)


def _smallest(request: PlanRequest, choices: Sequence[LeverChoice]) -> Iterator[LeverChoice]:
    """The first of ever stronger changes that fits."""

    def fits(choice: LeverChoice) -> bool:
        return fits_before_exam(request.changed(choice.inputs))

    if choices and fits(choices[-1]):
        yield choices[bisect_left(choices, True, hi=len(choices) - 1, key=fits)]


def more_minutes(inputs: PlanInputs, role: Role, minutes: int) -> PlanInputs:
    """So many minutes more in the last part of each weekday of the role."""
    week = zip(inputs.roles, inputs.minutes, strict=True)
    return replace(
        inputs,
        minutes=tuple(
            (*parts[:-1], parts[-1] + minutes) if held is role and parts else parts
            for held, parts in week
        ),
    )


def _is_within_a_day(inputs: PlanInputs, role: Role, minutes: int) -> bool:
    week = zip(inputs.roles, inputs.minutes, strict=True)
    return all(sum(parts) + minutes <= LONGEST_DAY for held, parts in week if held is role)


def _more_sweep_days(request: PlanRequest) -> Iterator[LeverChoice]:
    """A weekday of rest that becomes a sweep day like the longest there is."""
    inputs = request.inputs
    week = list(zip(inputs.roles, inputs.minutes, strict=True))
    sweep_days = [parts for role, parts in week if role is Role.SWEEP]
    longest: tuple[int, ...] = max(sweep_days, key=_minutes) if sweep_days else ()
    for weekday in range(DAYS_A_WEEK - 1, -1, -1):
        if week[weekday][0] is not Role.REST and _minutes(week[weekday][1]):
            continue
        roles, minutes = list(inputs.roles), list(inputs.minutes)
        roles[weekday], minutes[weekday] = Role.SWEEP, longest
        changed = replace(inputs, roles=tuple(roles), minutes=tuple(minutes))
        if fits_before_exam(request.changed(changed)):
            name = f"sweep-day={WEEKDAYS[weekday]}"
            yield LeverChoice(Lever.SWEEP_DAY, weekday, name, changed)
            return


def _minutes(parts: tuple[int, ...]) -> int:
    return sum(parts)


def _sweep_only(request: PlanRequest, basis: LeverBasis) -> Iterator[LeverChoice]:
    """The readiest subjects only swept, ever more of them."""
    inputs = request.inputs
    full = [subject for subject in request.subjects if subject.id not in inputs.sweep_only]
    full.sort(key=lambda s: (-basis.readiness.get(s.id, 0.0), heaviness(s)))
    for count in range(1, len(full)):
        names = (*inputs.sweep_only, *(subject.id for subject in full[:count]))
        yield LeverChoice(
            Lever.SWEEP_ONLY, count, f"sweep-only={count}", replace(inputs, sweep_only=names)
        )


def _earlier(request: PlanRequest) -> Iterator[LeverChoice]:
    inputs = request.inputs
    start = inputs.start or request.today
    for days in range(1, (start - request.today).days + 1):
        changed = replace(inputs, start=start - days * ONE_DAY)
        yield LeverChoice(Lever.EARLIER, days, f"start={changed.start}", changed)


WORTH_OF_A_SIGN = 1 / 0.35
"""A repeatedly missed question's worth against one without a sign, as in the plan's rules."""


def _most_valuable(request: PlanRequest, before: StudyPlan, basis: LeverBasis) -> PlanLever:
    """Chapters and sweeps still to come given up, the least valuable per minute first, until the
    others fit.
    """
    inputs, problem = request.inputs, Problem(request)
    worth = _worth_by_subject(request, basis)
    ahead: Counter[tuple[str, str]] = Counter()
    for task in problem.blocks:
        for chapter, numbers in task.left:
            ahead[task.visit.subject, chapter] += len(numbers)
    chapters = [
        (basis.worth.get(chapter, worth[subject]), "", chapter, questions)
        for (subject, chapter), questions in ahead.items()
    ]
    sweeps = [
        (worth[visit.subject] * WORTH_OF_A_SIGN, visit.subject, "", problem.expected(visit))
        for visit in {visit.subject: visit for visit in problem.sweeps}.values()
    ]
    if not problem.sweep_rooms:
        sweeps = [(0.0, *sweep[1:]) for sweep in sweeps]
    ranked = sorted(chapters + sweeps, key=lambda chapter: chapter[0])
    order = tuple(sorted(request.order, key=lambda name: worth[name], reverse=True))

    def without(count: int) -> PlanInputs:
        given_up = ranked[:count]
        return replace(
            inputs,
            order=order,
            left_out=(*inputs.left_out, *(chapter for _, _, chapter, _ in given_up if chapter)),
            unswept=(*inputs.unswept, *(subject for _, subject, _, _ in given_up if subject)),
        )

    def fits(count: int) -> bool:
        return fits_before_exam(request.changed(without(count)))

    count = bisect_left(range(len(ranked)), True, key=fits)
    chosen = without(count)
    after = make_study_plan(request.changed(chosen))
    unreached = sum(questions for *_, questions in ranked[:count])
    return PlanLever(
        Lever.MOST_VALUABLE,
        unreached,
        after.slack_days - before.slack_days,
        "most-valuable",
        chosen,
        unreached=unreached,
    )


def _worth_by_subject(request: PlanRequest, basis: LeverBasis) -> dict[str, float]:
    """What a subject's questions are worth on average, by its id."""
    worth = {}
    for subject in request.subjects:
        each = heaviness(subject) / subject.questions
        whole = sum(basis.worth.get(c.id, each) * len(c.numbers) for c in subject.chapters)
        worth[subject.id] = whole / subject.questions
    return worth


class PlanAdvice(Struct, frozen=True):
    """So many minutes more on revision days, and every block takes a single week: round 1 then
    ends on `after` instead of `before`. `is_beyond_habit` as in `PlanLever`.
    """

    minutes: int
    before: date | None
    after: date | None
    accept: str
    inputs: PlanInputs
    is_beyond_habit: bool = False


def advice_of(request: PlanRequest, kept_up: float | None = None) -> PlanAdvice | None:
    """The fewest minutes more that give each subject a week of its own, None where each has one,
    no few minutes do it, or there is plenty to spare. `kept_up` as in `LeverBasis`.
    """
    plan = make_study_plan(request)
    needs = plan.needs_attendance
    if needs is None or needs <= NEEDS_NO_ADVICE or _most_weeks(request, plan) <= 1:
        return None
    steps = [
        minutes
        for minutes in range(STEP_MINUTES, STEP_MINUTES * ADVICE_STEPS + 1, STEP_MINUTES)
        if _is_within_a_day(request.inputs, Role.REVISION, minutes)
    ]

    def gives_weeks(minutes: int) -> bool:
        changed = request.changed(more_minutes(request.inputs, Role.REVISION, minutes))
        return _most_weeks(request, make_study_plan(changed)) <= 1

    if not steps or not gives_weeks(steps[-1]):
        return None
    minutes = steps[bisect_left(steps, True, hi=len(steps) - 1, key=gives_weeks)]
    changed = more_minutes(request.inputs, Role.REVISION, minutes)
    after = make_study_plan(request.changed(changed))
    return PlanAdvice(
        minutes,
        plan.rounds[0].last_day,
        after.rounds[0].last_day,
        f"revision+{minutes}",
        changed,
        _is_beyond(changed, kept_up),
    )


def _most_weeks(request: PlanRequest, plan: StudyPlan) -> int:
    """The most weeks that a block to come takes."""
    weeks: dict[tuple[int | None, str | None], set[date]] = {}
    for entry in plan.entries:
        if entry.kind is EntryKind.BLOCK and entry.role is Use.REVISION:
            week = week_begin(request.inputs, entry.day)
            weeks.setdefault((entry.round, entry.subject), set()).add(week)
    return max(map(len, weeks.values()), default=0)


def without_days(request: PlanRequest, days: int = DAYS_A_WEEK) -> StudyPlan | None:
    """The plan if so many days from today on were lost; None where that leaves none."""
    lost = {request.today + step * ONE_DAY for step in range(days)}
    changed = replace(request.inputs, off=tuple(sorted({*request.inputs.off, *lost})))
    if changed.problems(request.today):
        return None
    return make_study_plan(request.changed(changed))


def at_attendance(request: PlanRequest, share: float) -> StudyPlan:
    """The plan if only this share (0 to 1) of the study days to come were kept, evenly spread.

    Revision days and sweep days each lose theirs: else a share such as five in six would fall on
    the same weekday every week.
    """
    off, owed = set(request.inputs.off), dict.fromkeys(Use, 0.0)
    for day in request.calendar:
        if day.day >= request.today and day.parts:
            owed[day.use] += 1 - share
            if owed[day.use] >= 1:
                owed[day.use] -= 1
                off.add(day.day)
    changed = replace(request.inputs, off=tuple(sorted(off)))
    if changed.problems(request.today):
        return make_study_plan(request)
    return make_study_plan(request.changed(changed))


def asks_for_final_revision(inputs: PlanInputs, plan: StudyPlan, today: date) -> bool:
    """Whether it is to be asked today how the last days shall go: the plan is short, and it was
    not answered yet.
    """
    is_open = inputs.final_from is None and not inputs.final_declined
    return is_open and not plan.feasible and 1 < (plan.exam - today).days <= inputs.final_revision


class PatternKind(StrEnum):
    """How a pattern differs from the one that is kept."""

    ROUNDS = "rounds"
    PASSES = "passes"
    SPARE_WEEKS = "spare weeks"
    REVISION_MINUTES = "minutes on revision days"
    SWEEP_DAY = "one more sweep day"
    FINAL_REVISION = "final revision"


class PlanPattern(Struct, frozen=True):
    """Another pattern of work; `value` is its rounds, 0 or 1 for passes off or on, spare weeks,
    minutes more, the weekday (Monday 0), or the days of final revision, 0 for none.
    """

    kind: PatternKind
    value: int
    inputs: PlanInputs


MOST_ROUNDS, MORE_MINUTES, KEPT_WEEKS = 3, 15, 2


def patterns_of(request: PlanRequest) -> Iterator[PlanPattern]:
    """The patterns worth comparing with the one that is kept: other rounds that fit, passes off
    or on, spare weeks kept, a few minutes more, one more sweep day, final revision or none.
    """
    inputs = request.inputs
    for rounds in range(1, MOST_ROUNDS + 1):
        changed = replace(inputs, rounds=rounds)
        if rounds != inputs.rounds and fits_before_exam(request.changed(changed)):
            yield PlanPattern(PatternKind.ROUNDS, rounds, changed)
    passes = not inputs.passes
    yield PlanPattern(PatternKind.PASSES, passes, replace(inputs, passes=passes, keep_weeks=0))
    if inputs.passes and not inputs.keep_weeks:
        kept = replace(inputs, keep_weeks=KEPT_WEEKS)
        yield PlanPattern(PatternKind.SPARE_WEEKS, KEPT_WEEKS, kept)
    if _is_within_a_day(inputs, Role.REVISION, MORE_MINUTES):
        more = more_minutes(inputs, Role.REVISION, MORE_MINUTES)
        yield PlanPattern(PatternKind.REVISION_MINUTES, MORE_MINUTES, more)
    for choice in _more_sweep_days(request):
        yield PlanPattern(PatternKind.SWEEP_DAY, choice.value, choice.inputs)
    yield from _final_revision(request)


def _final_revision(request: PlanRequest) -> Iterator[PlanPattern]:
    """Taken, in place of the visits of the last days, or given back."""
    inputs, days = request.inputs, request.inputs.final_revision
    if inputs.final_from is not None:
        yield PlanPattern(PatternKind.FINAL_REVISION, 0, replace(inputs, final_from=None))
        return
    begin, last_day = request.exam - days * ONE_DAY, make_study_plan(request).last_day
    if last_day is not None and request.first < begin <= last_day:
        yield PlanPattern(PatternKind.FINAL_REVISION, days, replace(inputs, final_from=begin))
