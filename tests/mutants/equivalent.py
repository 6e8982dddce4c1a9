"""Mutants that no test can notice, each with the reason."""

EQUIVALENT: dict[str, str] = {
    "domain/grading.py _close: return False → return None": "both count as no",
    "domain/grading.py module: 3 → 4": "three times the digits are exact already",
    "domain/history.py History.__init__: 0 → 1": "versions are only ever compared",
    "domain/tiers.py TierRules.problems: True → False": "each of the three has three entries",
    "domain/tiers.py _Reading.standing: signs < 3 → signs <= 3": "the third tier is the last",
    "domain/tiers.py _Reading.standing: 3 → 4": "the third tier is the last",
}
"""A mutant's name, as the run prints it → why it does the same as the code."""
