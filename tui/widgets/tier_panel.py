"""Where all questions stand, as bars beside the day."""

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from domain.tiers import Tier
from tui.widgets.tiers import STYLES, WIDTH, tier_mark

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.triage import Counts

_BAR = 12


class TierPanel(Static):
    """Counts per tier over all banks, each with its share as a bar."""

    def show(self, library: "Library") -> None:
        """Count and draw."""
        from banks.views.triage import total_counts

        if self.display:
            self.update(_drawn(total_counts(library)))


def _drawn(counts: "Counts") -> Content:
    lines = [Content.styled("Where the questions stand\n", "bold")]
    for tier in Tier:
        count = getattr(counts, tier.word)
        length = round(_BAR * count / counts.total) if counts.total else 0
        bar = Content.styled("━" * length, STYLES[tier])
        lines.append(Content.assemble(tier_mark(tier, pad=True), f" {count:>7,} ", bar))
    lines.append(Content(f"\n{'settled':{WIDTH}} {counts.settled:>7,}"))
    lines.append(Content(f"{'waiting':{WIDTH}} {counts.waiting:>7,}"))
    return Content("\n").join(lines)
