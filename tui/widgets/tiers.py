"""How a tier looks wherever it is shown: a mark that needs no colour, and its word."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from domain.tiers import Standing, Tier

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.triage import Counts, SubjectCounts


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


_BAR = 12
_TITLE, _FIGURE = 17, 8
_SUBJECTS = 8
"""Subjects named, those with the most waiting."""


class TierPanel(Static):
    """Counts per tier over the banks of the plan, and the subjects in which most is waiting."""

    def show(self, library: "Library") -> None:
        """Count and draw."""
        from banks.planning.workload import banks_that_count
        from banks.views.listing import by_subject
        from banks.views.triage import Filter, counts, rows

        if self.display:
            planned = banks_that_count(library)
            found = [row for row in rows(library, Filter()) if row.location.bank.id in planned]
            self.update(_drawn(counts(found), by_subject(found)))


def _drawn(counts: "Counts", subjects: Sequence["SubjectCounts"]) -> Content:
    lines = [Content.styled("Where the questions stand\n", "bold")]
    for tier in Tier:
        count = getattr(counts, tier.word)
        length = round(_BAR * count / counts.total) if counts.total else 0
        bar = Content.styled("━" * length, STYLES[tier])
        lines.append(Content.assemble(tier_mark(tier, pad=True), f" {count:>7,} ", bar))
    lines.append(Content(f"\n{'settled':{WIDTH}} {counts.settled:>7,}"))
    lines.append(Content(f"{'waiting':{WIDTH}} {counts.waiting:>7,}"))
    most = sorted(subjects, key=lambda one: -one.counts.waiting)[:_SUBJECTS]
    if counts.waiting:
        heads = f"{'':{_TITLE}}{'waiting':>{_FIGURE}}{'settled':>{_FIGURE}}"
        lines.append(Content.styled(f"\n{heads}", "$text-muted"))
        lines += [_subject(one) for one in most if one.counts.waiting]
    return Content("\n").join(lines)


def _subject(subject: "SubjectCounts") -> Content:
    title = Content(subject.title).truncate(_TITLE, ellipsis=True, pad=True)
    own = subject.counts
    return title.append(f"{own.waiting:>{_FIGURE},}{own.settled:>{_FIGURE},}")
