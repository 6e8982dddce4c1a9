"""Sure, unsure, guess against what came out."""

from collections.abc import Iterable, Sequence
from math import log

from msgspec import Struct

from domain.evidence.intervals import Share
from domain.verdicts import Confidence


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
    for forecast in forecasts:
        lost += (
            forecast.right * (1 - forecast.chance) ** 2
            + (forecast.of - forecast.right) * forecast.chance**2
        )
        count += forecast.of
    return lost / count


def log_loss(forecasts: Iterable[Stated]) -> float:
    """The mean of −ln(chance given to what happened): smaller is better."""
    lost = count = 0.0
    for forecast in forecasts:
        chance = min(max(forecast.chance, 1e-9), 1 - 1e-9)
        lost -= forecast.right * log(chance) + (forecast.of - forecast.right) * log(1 - chance)
        count += forecast.of
    return lost / count


def murphy(forecasts: Sequence[Stated]) -> Parts:
    """The three parts of the Brier score; each distinct chance must come in one group."""
    count = sum(forecast.of for forecast in forecasts)
    base = sum(forecast.right for forecast in forecasts) / count
    reliability = sum(
        forecast.of * (forecast.chance - forecast.right / forecast.of) ** 2
        for forecast in forecasts
    )
    resolution = sum(
        forecast.of * (forecast.right / forecast.of - base) ** 2 for forecast in forecasts
    )
    return Parts(reliability / count, resolution / count, base * (1 - base))


def bins(forecasts: Iterable[Stated], count: int = 10) -> list[Bin]:
    """The forecasts in `count` equally wide bins of chance; empty bins are left out."""
    sums: dict[int, tuple[float, Share]] = {}
    for forecast in forecasts:
        place = min(int(forecast.chance * count), count - 1)
        stated, came = sums.get(place, (0.0, Share()))
        sums[place] = (
            stated + forecast.chance * forecast.of,
            came + Share(forecast.right, forecast.of),
        )
    return [Bin(stated / came.of, came) for _, (stated, came) in sorted(sums.items())]


STATED = {Confidence.SURE: 0.95, Confidence.UNSURE: 0.6, Confidence.GUESS: 0.25}
"""The chance each word is taken to state (common practice, no source)."""


STATED_ENOUGH = 50
"""Responses with a confidence said beforehand, from which on they are shown (common practice, no
source)."""


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
    "with the book open do not show how sure you were. Drills repeat what was missed; papers tell "
    "more about the exam."
)


def calibration(levels: dict[Confidence, Share]) -> Calibration:
    """The calibration where so many responses of each confidence were right; blanks aside."""
    stated = [
        Stated(STATED[word], level.hits, level.of) for word, level in levels.items() if level.of
    ]
    if not stated:
        return Calibration(levels, None, None)
    return Calibration(levels, brier(stated), murphy(stated))
