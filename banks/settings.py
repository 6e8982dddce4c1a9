"""What the candidate has set: the plan's inputs, the rules, the keys, the looks."""

from msgspec import Struct, field

from domain.drill_choice import DrillChoice
from domain.marking.blueprint import Blueprint, ExamBlueprint
from domain.plan.inputs import PlanInputs
from domain.tiers import TierRules


class Looks(Struct, frozen=True, omit_defaults=True):
    """How the screens look. `theme` is a name from `tui.theme`; "" follows the terminal.

    `goes_on`: in the drill the next question comes by itself after a response right and sure.
    """

    theme: str = ""
    shuffle_options: bool = True
    goes_on: bool = False


class Settings(Struct, frozen=True, omit_defaults=True):
    """All settings; each has a default, so an empty file is a valid one.

    `turn_hour` is the local hour at which a study day gives way to the next (0-23);
    `idle_cap` the most seconds one question may count; `keys` maps action names to keys.
    `exam` is how the exam is made and marked, None until it is told. `paper` is how the next mock
    paper is made, None until it is set: then as the exam, from questions with an answer key.
    `own_line` is what the candidate writes to themselves on the week's page,
    `checklist` what they take along to the exam.
    `drill` is what the last free drill was made of. `import_words` holds, by bank, what the
    candidate's own words in files of marks mean.
    """

    plan: PlanInputs = PlanInputs()
    tier_rules: TierRules = field(default=TierRules(), name="ladder")
    looks: Looks = Looks()
    turn_hour: int = 3
    idle_cap: float = 300.0
    keys: dict[str, str] = {}
    exam: ExamBlueprint | None = None
    paper: Blueprint | None = None
    own_line: str = ""
    checklist: tuple[str, ...] = ()
    drill: DrillChoice = DrillChoice()
    import_words: dict[str, dict[str, str]] = {}

    def problems(self) -> list[str]:
        """What makes these settings unusable, in words; empty when they are fine."""
        problems = self.tier_rules.problems()
        if not 0 <= self.turn_hour <= 12:
            problems.append(f"a new study day starts at an hour from 0 to 12, not {self.turn_hour}")
        if not 10 <= self.idle_cap <= 3600:
            problems.append(f"the time cap is 10 to 3600 seconds, not {self.idle_cap:g}")
        return problems
