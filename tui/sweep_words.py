"""What the chooser chose and left out, in words."""

from banks.views.sweeping import SweepPick, SweepView
from domain.chooser import LeftOut
from domain.text import counted

_LEFT_OUT = {
    LeftOut.MINUTES: "do not fit",
    LeftOut.RECENT: "tried in the last 4 days",
    LeftOut.VISIT: "in subjects whose visit is near",
    LeftOut.FIRST_STUDY: "not studied yet",
    LeftOut.DUPLICATE: "nearly the same as another",
}


def gain_words(found: SweepView) -> str:
    """What the picks bring, once for all of them; empty without a model to tell."""
    if found.gain is None or not found.picks:
        return ""
    return f"about {found.gain:.1f} marks in {found.seconds / 60:.0f} minutes"


def left_out_words(found: SweepView) -> str:
    """What is left out and what that costs: "Left out: 810 do not fit (−3.1 marks), …"."""
    parts = left_out_parts(found)
    return f"Left out: {', '.join(parts)}." if parts else ""


def left_out_parts(found: SweepView) -> list[str]:
    """The same, reason by reason."""
    parts = []
    for reason, omission in found.left_out.items():
        cost = f" (−{omission.gain:.1f} marks)" if omission.gain and omission.gain >= 0.05 else ""
        parts.append(f"{omission.questions:,} {_LEFT_OUT[reason]}{cost}")
    return parts


def pick_words(pick: SweepPick) -> str:
    """Why a question is in: "harder · 2 signs · last tried 43 days ago"."""
    standing = "settled" if pick.settled else counted(pick.signs, "sign")
    return f"{pick.tier.word} · {standing} · last tried {counted(pick.days, 'day')} ago"
