"""What a mark costs, predicted by the Keystroke-Level Model.

S. K. Card, T. P. Moran and A. Newell, "The keystroke-level model for user performance time with
interactive systems", CACM 23 (1980), 396-410. Operator times in seconds, as in its table of
operators: K, a key (0.28 average non-secretary typist, 0.50 typing random letters); H, homing a
hand on a device; M, preparing mentally. A shift is a key of its own.
"""

from collections.abc import Iterable
from dataclasses import dataclass

K_TYPIST, K_LETTERS, H, M = 0.28, 0.50, 0.40, 1.35
QUESTIONS, MISSES, DOUBTS = 105, 30, 10
LETTERS_AT_ONCE = 5
"""Letters are read off the paper in the groups in which they are printed."""


@dataclass(frozen=True)
class Way:
    """How often each operator occurs in marking one chapter, answering it left aside."""

    name: str
    keys: int
    shifts: int
    mental: int

    @property
    def strokes(self) -> int:
        """Keys and shifts: a shift is a key of its own in the model."""
        return self.keys + self.shifts

    def seconds(self, key: float) -> float:
        """The predicted time, with so many seconds per key; the hand goes to the keys once."""
        return key * self.strokes + M * self.mental + H


def table(ways: Iterable[Way]) -> str:
    """The table as DEVELOPERS.md prints it."""
    lines = [
        "| way | keys per question | K with shifts | M | at K 0.28 s | at K 0.50 s |",
        "|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {way.name} | {way.keys / QUESTIONS:.2f} | {way.strokes} | {way.mental} "
        f"| {way.seconds(K_TYPIST):.0f} s | {way.seconds(K_LETTERS):.0f} s |"
        for way in ways
    ]
    return "\n".join(lines)
