"""What other tier rules would do to the counts, before they are used."""

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Library
from banks.views.triage import Counts, Filter, counts, rows
from domain.tiers import TierRules, fold, is_waiting


class RulesPreview(Struct, frozen=True):
    """The counts per tier under the rules in force and under the others."""

    now: Counts
    then: Counts


def preview(library: Library, rules: TierRules) -> RulesPreview:
    """Read the whole history under `rules` as well. Takes a second per 150,000 responses."""
    history, today = library.history, library.today()
    now = rows(library, Filter())
    standings = [fold(history.tier_events(row.question.id), rules) for row in now]
    then = [
        replace(row, standing=new, is_waiting=is_waiting(new, today, rules.waiting_days))
        for row, new in zip(now, standings, strict=True)
    ]
    return RulesPreview(counts(now), counts(then))
