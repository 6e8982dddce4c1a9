"""What other tier rules would do to the counts, before they are used."""

from collections import Counter

from msgspec import Struct

from banks.library import Library
from banks.views.triage import Counts
from domain.tiers import TierRules, fold


class RulesPreview(Struct, frozen=True):
    """The counts per tier under the rules in force and under the others."""

    now: Counts
    then: Counts


def preview(library: Library, rules: TierRules) -> RulesPreview:
    """Read the whole history under `rules` as well. Takes a second per 150,000 responses."""
    now: Counter[str] = Counter()
    then: Counter[str] = Counter()
    for _, question in library.active_questions():
        now[library.history.standing(question.id).tier.word] += 1
        then[fold(library.history.tier_events(question.id), rules).tier.word] += 1
    return RulesPreview(Counts(**now), Counts(**then))
