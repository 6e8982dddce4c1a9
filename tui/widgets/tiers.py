"""How a tier looks wherever it is shown: a mark that needs no colour, and its word."""

from textual.content import Content

from domain.tiers import Standing, Tier

MARKS = {
    Tier.UNTRIED: "·",
    Tier.CLEAR: "o",
    Tier.HARD: "!",
    Tier.HARDER: "!!",
    Tier.HARDEST: "!!!",
}
STYLES = {
    Tier.UNTRIED: "$muted",
    Tier.CLEAR: "$clear",
    Tier.HARD: "$hard",
    Tier.HARDER: "bold $harder",
    Tier.HARDEST: "bold $hardest",
}
SETTLED = "●"
WIDTH = 12
"""Cells of the mark and the longest word, of a settled question with its signs."""


def tier_mark(tier: Tier, *, pad: bool = False) -> Content:
    """Mark and word: "!!  harder". Padded to WIDTH for a column."""
    text = f"{MARKS[tier]:<5}{tier.word}" if pad else f"{MARKS[tier]} {tier.word}"
    return Content.styled(text.ljust(WIDTH) if pad else text, STYLES[tier])


def standing_mark(standing: Standing, *, pad: bool = False) -> Content:
    """As `tier_mark`; a settled question keeps its signs, quieter: "●!! settled"."""
    if not standing.settled:
        return tier_mark(standing.tier, pad=pad)
    signs = "!" * min(standing.signs, 3)
    gap = " " * (4 - len(signs)) if pad else " "
    mark = Content.assemble((SETTLED, "$success"), (signs, "$muted"))
    words = Content.assemble(mark, gap, ("settled", "$success"))
    return words.pad_right(WIDTH - words.cell_length) if pad else words


def short_mark(standing: Standing) -> Content:
    """The mark alone, five cells wide: the widest, and a space."""
    if not standing.settled:
        return Content.styled(f"{MARKS[standing.tier]:<5}", STYLES[standing.tier])
    signs = "!" * min(standing.signs, 3)
    return Content.assemble((SETTLED, "$success"), (f"{signs:<4}", "$muted"))
