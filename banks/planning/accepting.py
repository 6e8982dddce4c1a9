"""The candidate's word on the plan: inputs are tried out first, then accepted and kept."""

from msgspec.structs import replace

from banks.library import Library
from banks.views.workload import Workload
from domain.errors import InputError
from domain.plan.edits import settled
from domain.plan.inputs import PlanInputs
from domain.plan.result import Plan
from domain.plan.wording import KEPT


def try_out(workload: Workload, inputs: PlanInputs) -> Plan:
    """The plan that these inputs would give today; nothing is changed. Raises InputError."""
    return workload.planner(workload.today, inputs).plan(inputs)


def accept(library: Library, inputs: PlanInputs) -> Plan:
    """Keep the inputs, with today as first day where none was said, and the plan's own order.

    Raises InputError when no plan can be made of them; then nothing is changed.
    """
    workload = Workload(library)
    inputs = replace(inputs, start=inputs.start or workload.today)
    problems = inputs.problems(workload.today)
    if not problems and inputs.exam <= workload.today:
        problems = [f"The exam on {inputs.exam} must come after today, {workload.today}."]
    if problems:
        raise InputError(f"{problems[0]} {KEPT}")
    plan = try_out(workload, inputs)
    library.accept_plan(settled(inputs, plan))
    return plan
