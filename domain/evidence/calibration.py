"""Sure, unsure, guess against what came out."""

from collections.abc import Iterable, Sequence
from math import log

from msgspec import Struct

from domain.evidence.intervals import Share
from domain.verdicts import Confidence, Verdict


class Stated(Struct, frozen=True, gc=False):
    """A chance that was stated `of` times and came true `right` times."""

    chance: float
    right: int
    of: int


class Parts(Struct, frozen=True):
    """Murphy's parts: Brier score = reliability − resolution + uncertainty."""

    reliability: float
    resolution: float
    uncertainty: float


class Bin(Struct, frozen=True):
    """Forecasts of about the same chance: the mean chance stated, and what came true."""

    stated: float
    came: Share


def brier(forecasts: Iterable[Stated]) -> float:
    """The mean squared distance between chance and outcome: 0 is perfect."""
    lost = count = 0.0
    for one in forecasts:
        lost += one.right * (1 - one.chance) ** 2 + (one.of - one.right) * one.chance**2
        count += one.of
    return lost / count


def log_loss(forecasts: Iterable[Stated]) -> float:
    """The mean of −ln(chance given to what happened): smaller is better."""
    lost = count = 0.0
    for one in forecasts:
        chance = min(max(one.chance, 1e-9), 1 - 1e-9)
        lost -= one.right * log(chance) + (one.of - one.right) * log(1 - chance)
        count += one.of
    return lost / count


def murphy(forecasts: Sequence[Stated]) -> Parts:
    """The three parts of the Brier score; each distinct chance must come in one group."""
    count = sum(one.of for one in forecasts)
    base = sum(one.right for one in forecasts) / count
    reliability = sum(one.of * (one.chance - one.right / one.of) ** 2 for one in forecasts)
    resolution = sum(one.of * (one.right / one.of - base) ** 2 for one in forecasts)
    return Parts(reliability / count, resolution / count, base * (1 - base))


def bins(forecasts: Iterable[Stated], count: int = 10) -> list[Bin]:
    """The forecasts in `count` equally wide bins of chance; empty bins are left out."""
    sums: dict[int, tuple[float, Share]] = {}
    for one in forecasts:
        place = min(int(one.chance * count), count - 1)
        stated, came = sums.get(place, (0.0, Share()))
        sums[place] = (stated + one.chance * one.of, came + Share(one.right, one.of))
    return [Bin(stated / came.of, came) for _, (stated, came) in sorted(sums.items())]


STATED = {Confidence.SURE: 0.95, Confidence.UNSURE: 0.6, Confidence.GUESS: 0.25}
"""The chance each word is taken to state (common practice, no source)."""


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
    "Counted: choices made before the answer key was seen, once per question and day. Marks given "
    "with the book open do not show how sure you were."
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
