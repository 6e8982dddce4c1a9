"""The candidate's word on the plan: inputs are tried out first, then accepted and written down."""

from typing import TYPE_CHECKING

from msgspec.structs import replace

from banks.planning.workload import PlanWorkload, counting_banks
from domain.errors import InputError
from domain.plan.day_entries import make_study_plan
from domain.plan.inputs import PlanInputs
from domain.plan.scheduler import PlanRequest
from domain.plan.study_plan import StudyPlan
from domain.plan.wording import KEPT

if TYPE_CHECKING:
    from banks.library import Library


def request_for(workload: PlanWorkload, inputs: PlanInputs) -> PlanRequest:
    """What a plan with these inputs depends on this morning. Raises InputError."""
    if [bank.id for bank in counting_banks(inputs, workload.library.banks)] != [
        bank.id for bank in workload.banks
    ]:
        workload = PlanWorkload(workload.library, inputs)
    return workload.request(inputs=inputs)


def try_out(workload: PlanWorkload, inputs: PlanInputs) -> StudyPlan:
    """The plan that these inputs would give today; nothing is changed. Raises InputError."""
    return make_study_plan(request_for(workload, inputs))


def accept(library: "Library", inputs: PlanInputs) -> StudyPlan:
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
    library.accept_plan(replace(inputs, order=plan.order, paper_days=plan.paper_days))
    return plan
