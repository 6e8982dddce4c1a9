"""Sure, unsure, guess against what came out."""

from collections.abc import Iterable

from msgspec import Struct

from domain.evidence.intervals import Share
from domain.evidence.scoring import Parts, Stated, brier, murphy
from domain.marking.guessing import break_even
from domain.marking.schemes import Scheme
from domain.verdicts import Confidence, Verdict

STATED = {Confidence.SURE: 0.95, Confidence.UNSURE: 0.6, Confidence.GUESS: 0.25}
"""The chance each word is taken to state (common practice, no source)."""

ENOUGH = 20
"""Responses of a kind below which no advice is given (common practice, no source)."""


class Calibration(Struct, frozen=True):
    """How often each degree of confidence was right; blanks don't count.

    `brier` scores the words as the chances in `STATED`, 0 is perfect; `parts` splits it.
    Both are None without responses.
    """

    levels: dict[Confidence, Share]
    brier: float | None
    parts: Parts | None


BRIER_WORDS = "0 is perfect, .25 a coin's toss; " + ", ".join(
    f"{word} taken as {chance:.0%}" for word, chance in STATED.items()
)
"""What the Brier score means, in words."""


WHAT_COUNTS = (
    "What counts: choices made before the key was seen, once a question and day. Marks given with "
    "the book open say nothing of how sure you were."
)


def calibration(responses: Iterable[tuple[Confidence, Verdict]]) -> Calibration:
    """The calibration of these responses."""
    counts = {confidence: [0, 0] for confidence in Confidence}
    for confidence, verdict in responses:
        if verdict is not Verdict.BLANK:
            counts[confidence][0] += verdict is Verdict.RIGHT
            counts[confidence][1] += 1
    levels = {confidence: Share(*count) for confidence, count in counts.items()}
    said = [Stated(STATED[word], one.hits, one.of) for word, one in levels.items() if one.of]
    if not said:
        return Calibration(levels, None, None)
    return Calibration(levels, brier(said), murphy(said))


def advice(found: Calibration, scheme: Scheme) -> list[str]:
    """A plain sentence for each degree of confidence that says something under the scheme."""
    threshold = float(break_even(scheme))
    return [
        _sentence(confidence, share, scheme.text, threshold)
        for confidence, share in found.levels.items()
        if share.of >= ENOUGH
    ]


def _sentence(confidence: Confidence, share: Share, scheme: str, threshold: float) -> str:
    interval = share.interval
    assert interval is not None  # enough responses: see `advice`
    low, high = interval
    when = {Confidence.SURE: "sure", Confidence.UNSURE: "unsure", Confidence.GUESS: "guessing"}[
        confidence
    ]
    rate = f"When {when} you are right {share.rate:.0%} of the time"
    at = f"break-even is {threshold:.0%}"
    if low >= threshold:
        what = "answer" if confidence is Confidence.SURE else "answer anyway"
        return f"{rate}; under {scheme} {what}: {at}."
    if high < threshold:
        return f"{rate}; under {scheme} leave it blank: {at}."
    return f"{rate} ({low:.0%} to {high:.0%}); under {scheme} it can go either way: {at}."
