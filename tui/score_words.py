"""What is said of the score and of guessing: what a figure rests on, and what is missing yet."""

from collections.abc import Iterator

from banks.views.evidence import CalibrationView, are_enough
from banks.views.papers import FEWEST_MARKED, PaperReport
from banks.views.score import ScoreRange, ScoreView
from domain.text import counted
from tui.dates import long_day


def range_words(score_range: ScoreRange) -> str:
    """ "268–306", with minus signs."""
    return bounds_words(score_range.low, score_range.high)


def bounds_words(low: float, high: float) -> str:
    """The same from its two ends."""
    return f"{low:.0f}–{high:.0f}".replace("-", "−")


def score_sentences(score: ScoreView) -> Iterator[str]:
    """The exam's score from outside papers first, then that on questions from the bank."""
    yield outside_words(score)
    yield bank_words(score)
    if words := target_words(score):
        yield words
    if score.untried >= 0.005:
        yield f"{score.untried:.0%} of the paper was never tried and rests on assumptions."


def outside_words(score: ScoreView) -> str:
    """What papers sat elsewhere tell; without one, that nothing can be told."""
    if score.outside is None:
        return (
            "The exam asks other questions too: record an outside paper to see a score for it. "
            "Not enough yet: 1 outside paper."
        )
    papers = counted(score.outside_papers, "outside paper")
    basis = "if the plan is kept" if score.keep is not None else "if you stop now"
    return (
        f"The exam {basis}, from {papers}: {range_words(score.outside)} of {score.best:.0f} "
        "(90 % range, with the papers' own spread)."
    )


def target_words(score: ScoreView) -> str:
    """Where the candidate's target lies beside the score told first; "" without one."""
    leading = score.outside or score.keep or score.stop
    if score.target is None:
        return ""
    if score.target > leading.high:
        place = "above"
    elif score.target < leading.low:
        place = "below"
    else:
        place = "within"
    return f"Your target, {score.target}, lies {place} the range of {range_words(leading)}."


def bank_words(score: ScoreView) -> str:
    """On the bank's own questions: a score once it is anchored, else a wide range and why."""
    if not score.is_anchored:
        return (
            f"On questions from your bank: {range_words(score.stop)} of {score.best:.0f} (90 % "
            f"range) if you stop now. {missing_words(score)}"
        )
    stop = f"if you stop now, {score.stop.score:.0f} ({range_words(score.stop)})"
    keep = ""
    if score.keep is not None:
        keep = f"; if the plan is kept, {score.keep.score:.0f} ({range_words(score.keep)})"
    papers = counted(score.papers, "recent sample paper", "recent sample papers or rehearsals")
    words = f"On questions from your bank: {stop}{keep} of {score.best:.0f}. Anchored on {papers}."
    return words.replace("-", "−")


def missing_words(score: ScoreView) -> str:
    """Why there is no single score yet."""
    needed = score.papers_needed - score.papers
    if needed <= 0:
        return ""
    words = f"Not enough yet for a single score: {counted(needed, 'more sample paper')}"
    if score.next_paper:
        words += f"; the next is planned for {long_day(score.next_paper)}"
    if short := score.papers_too_short:
        taken = counted(short, "paper with fewer", "papers with fewer")
        do = "does" if short == 1 else "do"
        words += f". {taken} than {FEWEST_MARKED} questions marked {do} not count"
    return words + "."


def too_short_words(report: PaperReport) -> str:
    """Why a paper tells nothing of the score; "" where it does, or is practice."""
    if not report.is_too_short:
        return ""
    return (
        f"This paper does not count towards the predicted score: {report.marked} of "
        f"{counted(len(report.questions), 'question')} marked, {FEWEST_MARKED} are needed."
    )


def predicted_reason(score: ScoreView) -> str:
    """Why `predicted` is null; "" where it is not."""
    return "" if score.predicted is not None else missing_words(score)


def guessing_words(break_even: float, random: float) -> str:
    """The rule for the exam in one line, from the chance at which answering begins to pay and
    that of a random pick.
    """
    if break_even <= 0:
        return "Answer every one: a wrong response costs no more than a blank one."
    line = f"break-even {break_even:.0%}, a random pick has {random:.0%}"
    if random > break_even + 1e-9:
        return f"Answer every one: {line}."
    if random > break_even - 1e-9:
        return f"Answer wherever you can strike out an option: {line}."
    return f"Leave it blank unless at most {int(1 / break_even)} options are left: {line}."


def own_record_words(calibration: CalibrationView) -> str:
    """How often unsure responses were right, in papers and in drills; "" before there are enough
    with a confidence.
    """
    records = []
    for source, levels in (("papers", calibration.papers), ("drills", calibration.drills)):
        unsure = levels["unsure"]
        if are_enough(levels) and unsure.rate is not None:
            records.append(f"in {source} {unsure.right:,} of {unsure.of:,} ({unsure.rate:.0%})")
    return f"Your own record: unsure, you were right {' and '.join(records)}." if records else ""
