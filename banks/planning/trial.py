"""Changes to the plan that are only tried out: nothing is kept until it is accepted."""

from collections.abc import Callable

from banks.library import Library
from banks.planning.accepting import try_out
from banks.views.plan import PlanView, view_of
from banks.views.plan_weeks import PlanWeek, plan_weeks
from banks.views.workload import Workload
from domain.plan.changes import Change, compare
from domain.plan.inputs import PlanInputs
from domain.plan.result import Plan


class PlanTrial:
    """The plan that is kept, and the one that is tried in its place. Raises InputError when the
    kept one is not set up.
    """

    def __init__(self, library: Library) -> None:
        self._workload = Workload(library)
        self.kept: PlanView = view_of(self._workload)
        self.drop()

    def drop(self) -> None:
        """Go back to what is kept."""
        self.inputs: PlanInputs = self.kept.inputs
        self.plan: Plan = self.kept.plan

    def change(self, change: Callable[[PlanInputs], PlanInputs]) -> None:
        """Try changed inputs. Raises InputError when no plan can be made; then nothing changes."""
        inputs = change(self.inputs)
        self.plan = try_out(self._workload, inputs)
        self.inputs = inputs

    @property
    def is_tried(self) -> bool:
        """Whether what is shown differs from what is kept."""
        return self.inputs != self.kept.inputs

    @property
    def difference(self) -> Change:
        """What keeping it would change."""
        return compare(self.kept.plan, self.plan)

    @property
    def weeks(self) -> list[PlanWeek]:
        """The weeks of the plan that is shown."""
        return plan_weeks(self.plan, self.inputs, self.kept.titles)
