"""What the candidate decides of the plan and its visits, put on record."""

from collections.abc import Callable, Sequence
from datetime import date

from msgspec.structs import replace

from banks.library import Library
from banks.planning.visits import due_sweeps, empty_sweeps, sweep_begun, visit_ended
from banks.planning.workload import PlanWorkload, banks_that_count, try_out
from domain.errors import InputError
from domain.plan.changes import (
    with_day_minutes,
    with_paper_moved,
    without_paper,
    without_papers,
)
from domain.plan.inputs import ONE_DAY, PlanInputs
from domain.plan.parsing import KEPT
from domain.plan.study_plan import StudyPlan
from domain.responses import AnyRecord, VisitEnd


def accept(library: Library, inputs: PlanInputs) -> StudyPlan:
    """Keep the inputs; undone like any act.

    What is written down with them stays until the candidate accepts another plan: the first day,
    the banks that count, the order of subjects, the seconds per question and the days of papers.
    Raises InputError when no plan can be made of them; then nothing is changed.
    """
    workload = PlanWorkload(library, inputs)
    inputs = replace(
        inputs,
        start=inputs.start or workload.today,
        banks=tuple(bank.id for bank in workload.banks),
    )
    problems = inputs.problems(workload.today)
    if not problems and inputs.exam is not None and inputs.exam <= workload.today:
        problems = [f"The exam on {inputs.exam} must come after today, {workload.today}."]
    if problems:
        raise InputError(f"{problems[0]} {KEPT}")
    plan = try_out(workload, inputs)
    # Where the last paper was put off to no day with room, none is planned any more.
    papers = inputs.papers and bool(plan.paper_days or not inputs.paper_days)
    library.accept_plan(
        replace(inputs, order=plan.order, papers=papers, paper_days=plan.paper_days)
    )
    return plan


def shorten_day(library: Library, minutes: int) -> None:
    """Give today only so many minutes; undone like any act."""
    inputs = with_day_minutes(library.settings.plan, library.today(), (minutes,))
    accept(library, inputs)


def move_paper(library: Library, day: date) -> date | None:
    """Move the paper planned for a day to the next sweep day with room; undone like any act.

    Gives that day, None where there is none left: then the paper is dropped. Raises InputError
    where no paper is planned.
    """
    workload, kept = PlanWorkload(library), library.settings.plan
    papers = workload.plan().paper_days
    plan = try_out(workload, with_paper_moved(kept, papers, day))
    library.accept_plan(replace(kept, paper_days=plan.paper_days, papers=bool(plan.paper_days)))
    before = {paper.day for paper in papers}
    return next((paper.day for paper in plan.paper_days if paper.day not in before), None)


def drop_paper(library: Library, day: date) -> None:
    """Plan no paper for that day; undone like any act. Raises InputError where none is planned."""
    papers = PlanWorkload(library).plan().paper_days
    library.accept_plan(without_paper(library.settings.plan, papers, day))


def papers_off(library: Library) -> None:
    """Plan no papers any more; undone like any act."""
    library.accept_plan(without_papers(library.settings.plan))


def count_bank(library: Library, bank: str, *, counts: bool) -> None:
    """Let a bank count in the plan, or set it aside; undone like any act.

    Raises InputError where it is so already, or would leave no bank to plan.
    """
    inputs, title = library.settings.plan, library.bank(bank).title
    counting = banks_that_count(library)
    if (bank in counting) == counts:
        state = "counts already" if counts else "is set aside already"
        raise InputError(f"{title} {state}; nothing was changed")
    if counting == {bank}:
        raise InputError(f"{title} is the only bank that counts; take up another one first")
    kept = [other for other in library.banks if (counts if other == bank else other in counting)]
    inputs = replace(inputs, banks=tuple(kept))
    if inputs.is_set_up:
        accept(library, inputs)
    else:
        library.accept_plan(inputs)


def begin_day(
    library: Library, keep: Callable[[Sequence[AnyRecord]], None] | None = None
) -> PlanWorkload | None:
    """Judge the sweeps of this morning: one with an empty list is done.

    To be called when the day begins in front of the candidate; reading alone changes nothing.
    `keep` stands in for the library's own where that must not run in this thread. Gives the
    workload as it is now, None without a plan.
    """
    if not library.settings.plan.is_set_up:
        return None
    workload = PlanWorkload(library)
    if library.read_only or not (records := empty_sweeps(workload)):
        return workload
    (keep or library.keep)(records)
    return PlanWorkload(library)


def enough(library: Library, subject: str) -> str:
    """End the sweep of a subject ("bank/subject") that is under way or due; undone like any act.

    Gives the subject's title. Raises InputError when there is none.
    """
    workload = PlanWorkload(library)
    title = workload.titles.get(subject, subject)
    label = f"enough for the sweep of {title}"
    open_sweep = workload.progress(workload.today + ONE_DAY).open_sweeps.get(subject)
    if open_sweep is not None:
        library.keep([visit_ended(library, open_sweep.id, VisitEnd.ENOUGH)], label=label)
        return title
    entry = due_sweeps(workload, workload.today, [subject]).get(subject)
    if entry is None:
        raise InputError(f"{title}: no sweep is due; nothing was changed")
    begun = sweep_begun(library, workload, entry)
    library.keep([begun, visit_ended(library, begun.id, VisitEnd.ENOUGH)], label=label)
    return title
