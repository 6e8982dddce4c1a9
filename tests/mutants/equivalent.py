"""Mutants that no test can notice, each with the reason."""

EQUIVALENT: dict[str, str] = {
    "banks/maintenance/backup.py _change_places: False → True": "there is no former one",
    "banks/maintenance/backup.py _document_problem: return '' → return None": "both say no problem",
    "banks/maintenance/backup.py _problem: return '' → return None": "both say no problem",
    "banks/maintenance/backup.py read_backup: 1 → 2": "one byte too many is enough to see it",
    "banks/maintenance/backup.py restore: False → True": "there is no former one",
    "banks/maintenance/backup.py restore: False → True #2": "there is no former one",
    "banks/maintenance/backup.py restore: without lock.release()": "it goes with its last name",
    "banks/maintenance/backup.py write_backup: 1 → 2": "as many bytes come back, however packed",
    "banks/maintenance/merge.py _copy_figures: False → True": "there is no former one",
    "banks/maintenance/merge.py _join: _fullness(other) > _fullness(first) → "
    "_fullness(other) >= _fullness(first)": "of two that are as full both are the same",
    "banks/maintenance/merge.py module: 0 → 1": "records are always set",
    "banks/maintenance/merge.py module: without other.close()": "a reader holds nothing",
    "domain/grading.py _close: return False → return None": "both count as no",
    "domain/grading.py module: 3 → 4": "three times the digits are exact already",
    "domain/history.py History.__init__: 0 → 1": "versions are only ever compared",
    "domain/tiers.py TierRules.problems: True → False": "each of the three has three entries",
    "domain/tiers.py _Reading.standing: signs < 3 → signs <= 3": "the third tier is the last",
    "domain/tiers.py _Reading.standing: 3 → 4": "the third tier is the last",
}
"""A mutant's name, as the run prints it → why it does the same as the code."""
