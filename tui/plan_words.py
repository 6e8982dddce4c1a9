"""What is said about a plan: for the Plan screen, Today and the commands alike."""

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING

from banks.views.today import LineKind, TodayLine, TodayView
from domain.plan.changes import PlanDifference
from domain.plan.inputs import Use
from domain.plan.study_plan import EntryKind, PassKind, PlanEntry, StudyPlan
from domain.text import counted
from tui.dates import day_near, time_words

if TYPE_CHECKING:
    # The first screen says what the day is for without the planner and the evidence.
    from banks.views.plan import ComparedPattern, FinalRevision, PaceOffer, PlanOutlook, PlanView
    from domain.evidence.differences import ScoreDifference
    from domain.evidence.intervals import Interval
    from domain.plan.levers import PlanAdvice, PlanLever
    from domain.plan.outlook import Finish

WEEKDAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")
FREE = {
    Use.SLACK: "spare",
    Use.REST: "rest",
    Use.OFF: "off",
    Use.FINAL: "final revision",
}
"""What a day without a visit is."""
PAPER_CHOICES = (
    ("l", "Move it to the next sweep day with room"),
    ("d", "Leave this one out"),
    ("x", "Plan no papers any more"),
)
"""What can be done about a planned paper: its shortcut, and words."""


def plain_day(day: date) -> str:
    """4 Jan."""
    return f"{day.day} {day:%b}"


def fits_words(plan: StudyPlan, *, at_own_pace: bool = True, with_spare: bool = True) -> str:
    """Whether the plan fits, and what it needs for that; with its spare days, unless they stand
    beside it.
    """
    if not plan.feasible:
        unreached = sum(left.questions for left in plan.beyond)
        minutes = round(plan.shortfall_minutes)
        return (
            f"{minutes:,} minutes of work do not fit before the exam: "
            f"{counted(unreached, 'question')} are not reached."
        )
    needs = needs_words(plan.needs_attendance or 0)
    spare = f"; {counted(plan.slack_days, 'spare day')}" if with_spare else ""
    words = f"{needs[:1].upper()}{needs[1:]}{spare}."
    return words if at_own_pace else f"{words} At your own pace it does not fit."


def needs_words(needs: int) -> str:
    """What a plan that fits asks of the days to come, `needs` of 100."""
    if needs == 0:
        return "all visits are done"
    days = "every planned day" if needs == 100 else f"{needs} of 100 planned days"
    return f"fits if you keep {days}"


def attendance_words(outlook: "PlanOutlook", plan: StudyPlan) -> str:
    """Where the candidate's own days lead: what is not reached, else how sure the finish is."""
    share, reached = round(100 * outlook.attendance), outlook.at_attendance
    whose = f"At your {share} of 100"
    if outlook.is_assumed:
        whose = f"At {share} of 100 (assumed until your own days are known)"
    chance = _chance(outlook.finishes, plan.exam)
    if not reached.feasible:
        words = f", {counted(reached.unreached, 'question')} are not reached"
    elif chance in ("", _LIKELY):
        is_kept = share >= (plan.needs_attendance or 0)
        words = " it does" if is_kept else " it still does, packed closer"
    else:
        words = f", finishing in time is {chance}"
    return f"{whose}{words}."


_LIKELY = "likely"


def _chance(finishes: "tuple[Finish, ...]", exam: date) -> str:
    """How likely the last round is done before the exam, in words."""
    if not finishes:
        return ""
    early, late = finishes[-1].half
    if late is not None and late < exam:
        return _LIKELY
    return "as likely as not" if early is not None and early < exam else "unlikely"


def finish_words(finish: "Finish", exam: date) -> str:
    """When a round ends at the rate so far, with its ranges, or what of it is left then."""
    if finish.likely is None or finish.likely >= exam:
        left = time_words(max(finish.left, 1))
        return f"Round {finish.round} at your rate so far: all but {left} done by the exam."
    half = _range(finish.half, exam)
    most = _range(finish.most, exam)
    ends = _when(finish.likely, exam)
    return f"Round {finish.round} ends around {ends} (50 %: {half}, 90 %: {most})."


def _range(days: tuple[date | None, date | None], exam: date) -> str:
    """ "28–30 Jun", "28 May to 2 Jun", "28 Jun to after the exam", "after the exam"."""
    early, late = (_when(day, exam) for day in days)
    if early == late:
        return early
    month = early.partition(" ")[2]
    return f"{early.split()[0]}–{late}" if late.endswith(f" {month}") else f"{early} to {late}"


def _when(day: date | None, exam: date) -> str:
    return "after the exam" if day is None or day >= exam else day_near(day, exam)


def lost_week_words(view: "PlanView", outlook: "PlanOutlook") -> str:
    """What the loss of the next seven days would do."""
    left = outlook.without_a_week
    if left is None:
        return "If the next seven days were lost, the plan would not fit."
    if left >= view.plan.slack_days:
        return "If the next seven days were lost, it would still fit, packed closer."
    return f"If the next seven days were lost, {counted(left, 'spare day')} would be left."


def offer_words(outlook: "PlanOutlook", kept: "PlanView") -> dict[str, str]:
    """What may be accepted now, in words, by the names of `PlanOutlook.offers`, in their order."""
    from banks.views.plan import FINAL_REVISION, GO_ON, OWN_PACE

    words = {lever.accept: lever_words(lever, kept, kept.titles) for lever in outlook.levers}
    if outlook.advice:
        words[outlook.advice.accept] = advice_words(outlook.advice)
    if outlook.pace:
        words[OWN_PACE] = pace_words(outlook.pace)
    if outlook.final_revision:
        go_on, final = final_choices(outlook.final_revision)
        words |= {GO_ON: go_on, FINAL_REVISION: final}
    return {name: words[name] for name in outlook.offers}


def lever_words(lever: "PlanLever", before: "PlanView", titles: Mapping[str, str]) -> str:
    """One change that makes a short plan fit."""
    words = _lever(lever, before, titles)
    if lever.unreached:
        words += f": {counted(lever.unreached, 'question')} are not reached"
    elif lever.days:
        words += f" ({counted(lever.days, 'more spare day')})" if lever.days > 0 else ""
    if lever.is_beyond_habit:
        words += _BEYOND_HABIT
    return words


_BEYOND_HABIT = "; more than you have kept up in any week"


def _lever(lever: "PlanLever", before: "PlanView", titles: Mapping[str, str]) -> str:
    from domain.plan.levers import Lever

    match lever.lever:
        case Lever.RESERVE:
            return f"Give up {counted(lever.value, 'reserve day')}"
        case Lever.REVISION_MINUTES:
            return f"{lever.value} more minutes on revision days"
        case Lever.SWEEP_MINUTES:
            return f"{lever.value} more minutes on sweep days"
        case Lever.SWEEP_DAY:
            return f"Sweep on {WEEKDAYS[lever.value]} too"
        case Lever.ROUNDS:
            return f"{counted(lever.value, 'round')} instead of {before.inputs.rounds}"
        case Lever.SWEEP_ONLY:
            new = [s for s in lever.inputs.sweep_only if s not in before.inputs.sweep_only]
            return f"Only sweep {', '.join(titles[subject] for subject in new)}"
        case Lever.EARLIER:
            return f"Start {counted(lever.value, 'day')} earlier"
        case Lever.MOST_VALUABLE:
            return "Most valuable chapters first"


def advice_words(advice: "PlanAdvice") -> str:
    """What a few minutes more would bring."""
    ends = ""
    if advice.before and advice.after and advice.after < advice.before:
        ends = f", round 1 ends {plain_day(advice.after)} instead of {plain_day(advice.before)}"
    beyond = _BEYOND_HABIT if advice.is_beyond_habit else ""
    return f"{advice.minutes} more minutes per revision day: one subject per week{ends}{beyond}."


def pace_words(offer: "PaceOffer") -> str:
    """The own pace, in place of the written one."""
    fits = "it does not fit then"
    if offer.slack_days is not None:
        fits = f"{counted(offer.slack_days, 'spare day')} then"
    return f"Plan with your own {offer.own:.0f} s per question, not {offer.written:g} s: {fits}"


def worth_words(worth: "ScoreDifference | None") -> str:
    """What a change of plan is expected to bring, with the certainty of its sign."""
    if worth is None:
        return "the effect on the score can't be told yet"
    if worth.too_small:
        return "too small an effect on the score to tell"
    more = "more" if worth.score > 0 else "less"
    marks = counted(round(abs(worth.score)), "mark")
    return f"about {marks} {more} ({_certainty(worth)} sure it is {more})"


def worth_figure(worth: "ScoreDifference | None") -> str:
    """The same in a column."""
    if worth is None:
        return "can't tell yet"
    if worth.too_small:
        return "too small to tell"
    return f"{worth.score:+.0f} marks, {_certainty(worth)} sure".replace("-", "−")


def _certainty(worth: "ScoreDifference") -> str:
    return "over 99 %" if worth.certainty > 0.99 else f"{100 * worth.certainty:.0f} %"


def final_question(choice: "FinalRevision") -> str:
    """How the last days of a short plan shall go."""
    subjects = ""
    if choice.subjects:
        subjects = f"; {counted(len(choice.subjects), 'subject')} get no block"
    return (
        f"{counted(choice.days, 'day')} to the exam, and {counted(choice.unreached, 'question')}"
        f" are not reached{subjects}. How do you want to use the days?"
    )


def final_choices(choice: "FinalRevision") -> tuple[str, str]:
    """Going on with the visits, and final revision: what each leaves out."""
    names = ", ".join(choice.subjects[:3]) + (" …" if len(choice.subjects) > 3 else "")
    go_on = f"Go on with the visits{f'; without a block: {names}' if names else ''}"
    return go_on, (
        f"Final revision: about {counted(choice.by_worth, 'question')} of the whole bank by worth; "
        f"{counted(choice.given_up, 'question')} lose their visit"
    )


def pattern_words(compared: "ComparedPattern") -> str:
    """Another pattern of work and what it leaves spare."""
    from domain.plan.levers import PatternKind

    value = compared.pattern.value
    match compared.pattern.kind:
        case PatternKind.ROUNDS:
            words = counted(value, "round")
        case PatternKind.PASSES:
            words = "Passes on" if value else "Passes off"
        case PatternKind.SPARE_WEEKS:
            words = f"Keep {counted(value, 'spare week')} free of passes"
        case PatternKind.REVISION_MINUTES:
            words = f"{value} more minutes on revision days"
        case PatternKind.SWEEP_DAY:
            words = f"Sweep on {WEEKDAYS[value]} too"
        case PatternKind.FINAL_REVISION:
            words = f"Final revision in the last {counted(value, 'day')}"
            words = words if value else "Visits instead of final revision"
    fits = "does not fit"
    if compared.slack_days is not None:
        fits = counted(compared.slack_days, "spare day")
    elif compared.pattern.inputs.final_from is not None:
        fits = f"{counted(compared.unreached, 'question')} get no visit"
    return f"{words} ({fits})"


def change_sentences(change: PlanDifference) -> Iterator[str]:
    """What is new since the plan was last seen."""
    slack = counted(change.slack_days[1], "spare day")
    if not change.feasible[1]:
        unreached = counted(change.unreached[1], "question")
        if change.feasible[0]:
            yield f"The plan no longer fits: {unreached} would not be reached. See Plan (f3)."
        return
    if not change.feasible[0]:
        yield f"The plan fits again, with {slack}."
    elif change.slack_days[1] < change.slack_days[0]:
        fewer = change.slack_days[0] - change.slack_days[1]
        yield f"The remaining days were replanned: {slack}, {fewer} fewer."
    elif change.slack_days[1] > change.slack_days[0]:
        more = change.slack_days[1] - change.slack_days[0]
        yield f"Now {slack}, {more} more than before."
    elif change.shifts:
        yield f"The remaining days were replanned; still {slack}."


def trial_words(change: PlanDifference) -> str:
    """What is being tried, before and after."""
    before, after = change.slack_days
    if change.feasible == (False, True):
        words = f"it fits, {counted(after, 'spare day')}"
    elif not change.feasible[1]:
        words = f"does not fit: {counted(change.unreached[1], 'question')} not reached"
    else:
        words = f"spare {before} → {after} days" if before != after else f"still {after} spare"
    moved = len(change.shifts)
    moves = f", {counted(moved, 'visit')} {'moves' if moved == 1 else 'move'}" if moved else ""
    first, last = change.last_days
    ends = ""
    if first and last and first != last:
        ends = f", ends {plain_day(first)} → {plain_day(last)}"
    return words + moves + ends


def replanned_words(change: PlanDifference | None) -> str:
    """How an import changed the plan, "" where it did not."""
    return f"The plan changed: {trial_words(change)}." if change else ""


def counting_words(title: str, change: PlanDifference | None, *, counts: bool, how: str) -> str:
    """That a bank counts in the plan or not, and what the other would change; `how` does it."""
    state = "counts" if counts else "does not count"
    effect = f"; {how}: {trial_words(change)}" if change else ""
    return f"{title} {state} in the plan{effect}."


def absence_marks(cost: "Interval") -> str:
    """What days without work cost: "about 1–4 marks", "about 3 marks"."""
    from domain.evidence.differences import SMALLEST

    if cost[1] < SMALLEST:
        return "too few marks to tell"
    low, high = map(round, cost)
    return f"about {low}–{high} marks" if low < high else f"about {high} marks"


def welcome_words(view: TodayView, cost: "Interval | None" = None) -> str:
    """The first words after an absence, with what it cost once that is known."""
    lost = f": they cost {absence_marks(cost)}" if cost else ""
    return f"Welcome back after {counted(view.away_days, 'day')}{lost}. No need to catch up."


def rest_words(view: TodayView) -> str:
    """What a day is on which the plan needs nothing."""
    if view.days_to_exam < 0:
        worked = f"You worked for it on {counted(view.days_worked, 'day')}. "
        return (
            "The exam is behind you, and the plan ends here.\n"
            f"{worked if view.days_worked else ''}Press e to plan for another."
        )
    if view.days_to_exam == 0:
        return "The exam is today. All the best."
    if view.days_to_exam == 1:
        return "The day before the exam: nothing to revise"
    if view.role is Use.REST:
        return "A day of rest: nothing planned"
    if view.role is Use.OFF:
        return "A day off: nothing planned"
    if view.is_choosing:
        return "Spare day: choosing a pass…"
    has_pass = any(line.kind is LineKind.PASS for line in view.lines)
    return "Spare day: a pass is on offer" if has_pass else "Spare day: nothing planned"


_LAST_DAYS_WORDS = {
    7: "The last week: what stands here is enough; there is nothing to make up.",
    6: "What stands here is enough for today.",
    5: "Try to work at the hour of the exam from today on.",
    4: "Keep your usual hours of sleep this week.",
    3: "From today on no forecast stands here; Progress (f8) still has it.",
    2: "`resieve exam --checklist` keeps a list of what to take along.",
    1: "`resieve exam --card card.pdf` writes a page for the morning.",
}
"""What each of the last days is told, by days to the exam (common practice, no source)."""
_NEEDS_WORK = range(4, 8)
"""Of these days it is told only where there is something to do."""


def last_days_words(view: TodayView) -> str:
    """What the last seven days are told, a day at a time, and what is left to do after the exam."""
    days = view.days_to_exam
    if days < 0:
        return "R on Papers (f7) records your result, n what came."
    return "" if days in _NEEDS_WORK and not view.lines else _LAST_DAYS_WORDS.get(days, "")


def pass_words(line: TodayLine, *, with_count: bool = True) -> str:
    """What a pass holds, the most of it first: "Pass · 21 questions, 2 subjects, waiting most of
    all · Wind 12, Maps 9".
    """
    subjects = Counter(item.subject for item in line.items)
    about = [counted(line.count, "question")] if with_count else []
    if len(subjects) > 1:
        about.append(counted(len(subjects), "subject"))
    if line.pass_kind is PassKind.SURE_AND_WRONG:
        about.append("sure and wrong or mixed up")
    elif line.waiting * 2 >= line.count:
        about.append("waiting most of all")
    each = (f"{title} {count}" for title, count in subjects.most_common())
    return " · ".join(filter(None, [line.title, ", ".join(about), ", ".join(each)]))


def paper_words(line: TodayLine) -> str:
    """ "rehearsal at 10:00": at the exam's hour, where that is known."""
    return f"{line.paper} at {line.hour:%H:%M}" if line.hour else line.paper


def entry_words(entry: PlanEntry, titles: Mapping[str, str]) -> str:
    """What an entry of the plan is about."""
    title = titles.get(entry.subject or "", "")
    match entry.kind:
        case EntryKind.BLOCK:
            return title
        case EntryKind.SWEEP:
            return f"sweep {title}" + (", what was left" if entry.spill else "")
        case EntryKind.PAPER:
            return entry.paper or "paper"
        case EntryKind.PASS:
            return f"{_PASSES[entry.pass_kind or PassKind.WORTH]}, {entry.minutes:.0f} minutes"
        case _:
            return FREE.get(entry.role, "free") + (", reserved" if entry.reserve else "")


_PASSES = {
    PassKind.WORTH: "pass",
    PassKind.WAITING: "pass, what waits first",
    PassKind.SURE_AND_WRONG: "pass over what was sure and wrong or mixed up",
}
