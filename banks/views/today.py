"""What to do now: today's lines of the plan, what is done of them, and what has changed."""

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date

from banks.library import Library
from banks.views.day import Ahead, TodayLine, TodayView
from banks.views.plan_changes import changed_since
from banks.views.triage import waiting_state
from banks.views.workload import Workload
from domain.plan.days import ONE_DAY, Use
from domain.plan.progress import Attempt
from domain.plan.result import Piece, Plan, PlannedDay

PARTS = ((), ("Today",), ("Morning", "Evening"), ("Morning", "Midday", "Evening"))
"""What the parts of a day are called, by how many there are."""
_COMING = 6


def today_view(library: Library) -> TodayView:
    """Today on the plan. Raises InputError when the plan's inputs have problems."""
    if not library.settings.plan.is_set_up:
        return TodayView(library.today(), False)
    workload = Workload(library)
    today, inputs = workload.today, workload.inputs
    if today >= inputs.exam:
        return TodayView(today, True, inputs.exam, (inputs.exam - today).days)
    plan = workload.planner(today).plan(inputs)
    day = plan.on(today) or PlannedDay(today, Use.REST)
    return TodayView(
        today=today,
        is_set_up=True,
        exam=plan.exam,
        days_to_exam=(plan.exam - today).days,
        use=day.use,
        round=day.round or _round_on(plan, today),
        rounds=inputs.rounds,
        subject_title=workload.titles.get(day.subject, ""),
        lines=tuple(_lines(library, workload, day)),
        over=day.over,
        coming=tuple(_ahead(workload, one) for one in plan.days if one.day > today)[:_COMING],
        next_sweep=next((_ahead(workload, one) for one in _sweeps_after(plan, today)), None),
        feasible=plan.feasible,
        slack_days=plan.slack_days,
        shortfall_minutes=plan.shortfall_minutes,
        waiting=waiting_state(library, inputs.banks),
        changed=changed_since(workload, today - ONE_DAY, plan),
    )


def _round_on(plan: Plan, day: date) -> int:
    """The last round that has begun by the day, at least the first."""
    begun = [span.round for span in plan.rounds if span.first_day and span.first_day <= day]
    return max(begun, default=1)


def _sweeps_after(plan: Plan, today: date) -> Iterator[PlannedDay]:
    return (one for one in plan.days if one.day > today and one.use is Use.SWEEP and one.pieces)


def _ahead(workload: Workload, day: PlannedDay) -> Ahead:
    title = " and ".join(workload.titles[subject] for subject in day.subjects)
    return Ahead(day.day, day.use, title, day.questions, day.minutes)


def _lines(library: Library, workload: Workload, day: PlannedDay) -> Iterator[TodayLine]:
    numbers = {
        (attempt.chapter, attempt.number)
        for attempt in workload.attempts
        if attempt.day == day.day and not attempt.sweep
    }
    swept = _swept(workload.attempts, day.day)
    for piece in day.pieces:
        if piece.numbers:
            done = sum((piece.chapter, number) in numbers for number in piece.numbers)
        else:
            done = min(piece.questions, swept[piece.subject])
            swept[piece.subject] -= done
        yield _line(library, workload, day, piece, done)


def _swept(attempts: list[Attempt], day: date) -> Counter[str]:
    """How many questions of each subject were swept on the day."""
    taken = {
        (attempt.subject, attempt.chapter, attempt.number)
        for attempt in attempts
        if attempt.day == day and attempt.sweep
    }
    return Counter(subject for subject, _, _ in taken)


def _line(
    library: Library, workload: Workload, day: PlannedDay, piece: Piece, done: int
) -> TodayLine:
    bank, subject = workload.places[piece.subject]
    chapter = piece.chapter.partition("/")[2]
    return TodayLine(
        part=part_name(len(day.parts), piece.part),
        part_minutes=day.parts[piece.part],
        bank=bank,
        subject=subject,
        subject_title=workload.titles[piece.subject],
        chapter=chapter,
        chapter_title=workload.titles.get(piece.chapter, ""),
        first=piece.numbers[0] if piece.numbers else 0,
        last=piece.numbers[-1] if piece.numbers else 0,
        count=piece.questions,
        done=done,
        minutes=piece.minutes,
        questions=_question_ids(library, bank, chapter, piece.numbers),
    )


def part_name(parts: int, part: int) -> str:
    """What part number `part` (0 for the first) of a day of so many parts is called."""
    return PARTS[parts][part] if parts < len(PARTS) else f"Part {part + 1}"


def _question_ids(
    library: Library, bank: str, chapter: str, numbers: tuple[int, ...]
) -> tuple[str, ...]:
    if not numbers:
        return ()
    wanted = frozenset(numbers)
    questions = library.banks[bank].in_chapter(chapter)
    return tuple(question.id for question in questions if question.number in wanted)


def progress_by_part(view: TodayView) -> Mapping[str, tuple[int, int]]:
    """Questions done and planned in each part of the day, in the day's order."""
    found: dict[str, tuple[int, int]] = {}
    for line in view.lines:
        done, count = found.get(line.part, (0, 0))
        found[line.part] = (done + line.count - line.left, count + line.count)
    return found
