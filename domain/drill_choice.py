"""What a free drill is made of: the conditions chosen, and the questions that meet them."""

from collections.abc import Iterable
from enum import StrEnum
from random import Random

from msgspec import Struct

from domain.responses import Reason
from domain.tiers import HARD_TIERS, REPEATEDLY_MISSED, Tier


class TierChoice(StrEnum):
    """The tiers to draw from."""

    ANY = "any"
    UNTRIED = "never seen"
    CLEAR = "clear"
    HARD = "hard"
    HARDER = "harder"
    HARDEST = "hardest"
    REPEATEDLY_MISSED = "repeatedly missed"
    HARD_TIERS = "hard, harder, hardest"

    @property
    def tiers(self) -> frozenset[Tier]:
        """The tiers meant."""
        return _TIERS[self]


_TIERS = {
    TierChoice.ANY: frozenset(Tier),
    TierChoice.UNTRIED: frozenset({Tier.UNTRIED}),
    TierChoice.CLEAR: frozenset({Tier.CLEAR}),
    TierChoice.HARD: frozenset({Tier.HARD}),
    TierChoice.HARDER: frozenset({Tier.HARDER}),
    TierChoice.HARDEST: frozenset({Tier.HARDEST}),
    TierChoice.REPEATEDLY_MISSED: frozenset(REPEATEDLY_MISSED),
    TierChoice.HARD_TIERS: frozenset(HARD_TIERS),
}


class DrillChoice(Struct, frozen=True, omit_defaults=True):
    """The conditions of a free drill; a question has to meet all of them.

    "" is every bank, subject or chapter. `unsure`: its newest response was unsure or a guess.
    `reason` was said of one of its responses. `with_text`: it has its text here, so that it can
    be drilled without the printed bank. `questions` and `minutes` are limits, 0 for none.
    """

    bank: str = ""
    subject: str = ""
    chapter: str = ""
    tier: TierChoice = TierChoice.ANY
    waiting: bool = False
    unsure: bool = False
    reason: Reason | None = None
    noted: bool = False
    flagged: bool = False
    with_text: bool = False
    questions: int = 20
    in_random_order: bool = True
    minutes: int = 0


class DrillCandidate(Struct, frozen=True, gc=False):
    """A question as the conditions see it; `chapter` is "bank/subject/chapter" in ids."""

    question: str
    chapter: tuple[str, str, str]
    tier: Tier
    is_waiting: bool = False
    was_unsure: bool = False
    is_noted: bool = False
    is_flagged: bool = False
    has_text: bool = False
    reasons: frozenset[Reason] = frozenset()


def matching(candidates: Iterable[DrillCandidate], choice: DrillChoice) -> list[DrillCandidate]:
    """The questions that meet all conditions, in the order given."""
    tiers, heading = choice.tier.tiers, (choice.bank, choice.subject, choice.chapter)
    return [
        candidate
        for candidate in candidates
        if candidate.tier in tiers
        and (candidate.is_waiting or not choice.waiting)
        and (candidate.was_unsure or not choice.unsure)
        and (candidate.is_noted or not choice.noted)
        and (candidate.is_flagged or not choice.flagged)
        and (candidate.has_text or not choice.with_text)
        and (choice.reason is None or choice.reason in candidate.reasons)
        and all(map(_is_within, candidate.chapter, heading))
    ]


def drawn(matching_ids: Iterable[str], choice: DrillChoice, rng: Random) -> list[str]:
    """The questions to drill: at most so many, in the order given or shuffled."""
    ids = list(matching_ids)
    if choice.in_random_order:
        rng.shuffle(ids)
    return ids[: choice.questions] if choice.questions else ids


def _is_within(name: str, chosen: str) -> bool:
    return chosen in ("", name)
