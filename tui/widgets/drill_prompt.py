"""The lines around the question in a drill: what can be pressed now, and how the sitting went."""

from textual.content import Content

from banks.views.drill import ShownQuestion, SittingScore, TierMoves
from domain.verdicts import Confidence, Verdict
from tui.widgets.question_text import verdict_mark
from tui.widgets.text_block import stacked

JUDGING = "r right · R right but unsure · w wrong · . don't know"


def prompt_words(put: ShownQuestion, confidence: Confidence, *, has_picked: bool) -> str:
    """What the candidate can press for a question that has no response yet."""
    if put.is_typed:
        return "enter gives it · end with ? unsure, ?? a guess · empty: don't know"
    last = put.seating.letters[-1:]
    if not last:
        return f"With the book open: {JUDGING}"
    span, capitals = f"a–{last}", f"A–{last.upper()}"
    if not put.is_graded:
        return f"No key known. {JUDGING}" if has_picked else f"{span} choose · no key is known yet"
    if confidence is Confidence.GUESS:
        return f"A guess: {span} · , again takes that back"
    if put.takes_several:
        state = "unsure" if confidence is Confidence.UNSURE else "sure"
        return f"{span} tick · {capitals} tick, unsure · enter gives them ({state})"
    return f"{span} sure · {capitals} unsure · . don't know · , then letter: a guess"


def progress_words(index: int, score: SittingScore) -> str:
    """ "12 of 40 · 9 right of 11"."""
    so_far = f" · {score.right} right of {score.given}" if score.given else ""
    return f"{min(index + 1, score.total)} of {score.total}{so_far}"


def summary_text(score: SittingScore, moved: TierMoves, missed: int) -> Content:
    """How the sitting went."""
    if not score.given:
        return Content("There is nothing left to take in this sitting.")
    lines = [Content.styled(f"{score.given} of {score.total} taken", "bold"), Content("")]
    for verdict, count in (
        (Verdict.RIGHT, score.right), (Verdict.WRONG, score.wrong), (Verdict.BLANK, score.blank),
    ):  # fmt: skip
        share = f"{count / score.given:6.0%}"
        lines.append(Content.assemble(f"{count:5}  ", verdict_mark(verdict).pad_right(2), share))
    lines += [Content(""), Content(f"{score.unsure:5}  unsure or guessed")]
    lines += [Content(f"{moved.promoted:5}  promoted"), Content(f"{moved.settled:5}  settled")]
    if score.seconds:
        pace = score.seconds / score.given
        lines.append(Content(f"\n{_minutes(score.seconds)}, {pace:.0f} s a question"))
    again = "m takes what you missed again, " if missed else ""
    lines.append(Content(f"\n{again}enter leaves. Everything is saved."))
    return stacked(lines)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
