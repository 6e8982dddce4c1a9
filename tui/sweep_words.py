"""What the chooser chose and left out, in words."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby

from banks.planning.visits import ChosenPass
from banks.views.evidence import SubjectEvidence
from banks.views.sweeping import StudyWorth, SweepPick, SweepView
from banks.views.today import LineItem, TodayLine
from domain.chooser import LeftOut, Omission
from domain.text import counted
from domain.tiers import Tier

_LEFT_OUT = {
    LeftOut.MINUTES: "do not fit",
    LeftOut.RECENT: "tried in the last 4 days",
    LeftOut.VISIT: "left to their subjects' visits",
    LeftOut.FIRST_STUDY: "not studied yet",
    LeftOut.DUPLICATE: "nearly the same as another",
}

_LEAST_TOLD = 0.05
"""So few marks are not told."""


def gain_words(view: SweepView) -> str:
    """What the picks bring, once for all of them; empty where there is nothing to tell."""
    return _gain(view.gain, view.seconds / 60) if view.picks else ""


def _gain(gain: float | None, minutes: float) -> str:
    if gain is None or gain < _LEAST_TOLD:
        return ""
    return f"about {gain:.1f} marks in {minutes:.0f} minutes"


def hour_figure(gain: float | None) -> str:
    """The marks that one more hour adds: "0.3", "<0.1", and "–" where that can't be told."""
    if gain is None:
        return "–"
    return "<0.1" if gain < _LEAST_TOLD else f"{gain:.1f}"


def hour_words(subjects: Iterable[SubjectEvidence]) -> str:
    """Where one more hour adds most."""
    known = [subject for subject in subjects if subject.hour is not None]
    if not known:
        return "Not enough responses yet to say where one more hour adds most."
    best = max(known, key=lambda subject: subject.hour or 0.0)
    if (best.hour or 0.0) < _LEAST_TOLD:
        return "One more hour now adds less than 0.1 marks in any subject."
    return f"One more hour adds most in {best.title}: about {best.hour:.1f} marks."


def left_out_words(view: SweepView) -> str:
    """What is left out and what that costs: "Left out: 810 do not fit (−3 marks), …"."""
    parts = left_out_parts(view.left_out)
    return f"Left out: {', '.join(parts)}." if parts else ""


def left_out_parts(left_out: Mapping[LeftOut, Omission]) -> list[str]:
    """The same, reason by reason."""
    parts = []
    for reason, omission in left_out.items():
        gain = omission.gain or 0.0
        cost = f" (−{counted(round(gain), 'mark')})" if gain >= 1 else ""
        parts.append(f"{omission.questions:,} {_LEFT_OUT[reason]}{cost}")
    return parts


def pick_words(pick: SweepPick) -> str:
    """Why a question is in: "harder · 2 signs · last tried 43 days ago"."""
    if pick.tier is Tier.UNTRIED:
        return "untried"
    standing = "settled" if pick.settled else counted(pick.signs, "sign")
    return f"{pick.tier.word} · {standing} · last tried {counted(pick.days, 'day')} ago"


def why_pass(line: TodayLine, chosen: ChosenPass | None) -> Iterator[str]:
    """A pass chapter by chapter in book order, then what it leaves out and what that costs."""
    if chosen and (gain := _gain(chosen.gain, chosen.minutes)):
        yield f"Worth {gain}"
    for (subject, chapter), items in groupby(line.items, key=_chapter):
        yield f"{subject} · {chapter}: {_runs([item.number for item in items])}"
    for words in left_out_parts(chosen.left_out) if chosen else ():
        yield f"Not in it: {words}"


def _runs(numbers: list[int]) -> str:
    """Numbers as a book's index has them: 1–3, 7."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def _chapter(item: LineItem) -> tuple[str, str]:
    return item.subject, item.chapter


def study_worth_words(worth: StudyWorth | None) -> Iterator[str]:
    """What a first study would have to bring beside the same hours of passes."""
    if worth is None:
        yield "That can't be told yet: no forecast from your responses has proved reliable."
        return
    low, high = (round(marks) for marks in worth.marks)
    hours = counted(round(worth.hours), "hour") if worth.hours >= 1.5 else f"{worth.hours:g} hours"
    yield f"{hours} of passes and final revision bring about {low}–{high} marks instead."
    of = counted(worth.questions, "question")
    if not worth.questions:
        yield f"The exam has no question on {worth.title}."
    elif worth.right_then is None:
        yield f"All {of} on {worth.title} right in the exam would bring less."
    else:
        then = "–".join(f"{100 * chance:.0f}" for chance in worth.right_then)
        yield (
            f"The exam has {of} on {worth.title}: studying it pays if you then get more than "
            f"{then} % of them right, not the {100 * worth.right_now:.0f} % of a random pick."
        )
