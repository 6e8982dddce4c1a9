"""Scoring multiple response questions: all or nothing, or option by option."""

from collections.abc import Collection
from enum import StrEnum
from fractions import Fraction

from domain.marking.schemes import Scheme


class MultipleRule(StrEnum):
    """How a question with several right options is marked."""

    ALL_OR_NOTHING = "all or nothing"
    PER_OPTION = "per option"


def share_right(
    rule: MultipleRule, options: Collection[str], key: Collection[str], chosen: Collection[str]
) -> Fraction:
    """How much of the question was right, 0 to 1.

    Per option, each option is a judgement of its own: chosen when in the key, left when not.
    """
    if rule is MultipleRule.ALL_OR_NOTHING:
        return Fraction(set(chosen) == set(key))
    judged_right = sum((option in chosen) == (option in key) for option in options)
    return Fraction(judged_right, len(options))


def multiple_marks(scheme: Scheme, share: Fraction, answered: bool = True) -> Fraction:
    """Marks when each option carries its equal part of the question's marks."""
    return share * scheme.right + (1 - share) * scheme.wrong if answered else scheme.blank
