"""How a tier looks wherever it is shown: a mark that needs no colour, and its word."""

from textual.content import Content

from domain.tiers import Tier

MARKS = {
    Tier.UNTRIED: "·",
    Tier.CLEAR: "o",
    Tier.HARD: "!",
    Tier.HARDER: "!!",
    Tier.HARDEST: "!!!",
}
STYLES = {
    Tier.UNTRIED: "$foreground 65%",
    Tier.CLEAR: "$success",
    Tier.HARD: "$warning",
    Tier.HARDER: "bold $warning",
    Tier.HARDEST: "bold $error",
}
WIDTH = 11
"""Cells of the mark and the longest word."""


def tier_mark(tier: Tier, *, pad: bool = False) -> Content:
    """Mark and word: "!!  harder". Padded to WIDTH for a column."""
    text = f"{MARKS[tier]:<4}{tier.word}" if pad else f"{MARKS[tier]} {tier.word}"
    return Content.styled(text.ljust(WIDTH) if pad else text, STYLES[tier])
