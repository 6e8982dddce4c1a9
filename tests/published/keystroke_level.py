"""What a mark costs, predicted by the Keystroke-Level Model.

S. K. Card, T. P. Moran and A. Newell, "The keystroke-level model for user performance time with
interactive systems", CACM 23 (1980), 396-410. Operator times in seconds, as in its table of
operators: K, a key (0.28 average non-secretary typist, 0.50 typing random letters); P, pointing
at a target; H, homing a hand on a device; M, preparing mentally. A shift is a key of its own.
"""

from dataclasses import dataclass

K_TYPIST, K_LETTERS, P, H, M = 0.28, 0.50, 1.10, 0.40, 1.35
QUESTIONS, MISSES, DOUBTS = 105, 30, 10
LETTERS_AT_ONCE = 5
"""Letters are read off the paper in the groups in which they are printed."""


@dataclass(frozen=True)
class Way:
    """How often each operator occurs in marking one chapter, answering it left aside."""

    name: str
    keys: int
    mental: int
    pointing: int = 0
    homing: int = 1

    def seconds(self, key: float) -> float:
        """The predicted time, with so many seconds a key."""
        return key * self.keys + M * self.mental + P * self.pointing + H * self.homing


def pencil() -> Way:
    """Marks made with a pencil, and nothing else: no figures ever come of them.

    While checking, a mental step for each question; for each mark, pointing and one stroke
    (counted as a key, which is kind to the pencil).
    """
    marks = MISSES + DOUBTS
    return Way("pencil alone", marks, QUESTIONS, pointing=marks)


def spreadsheet(digits: int) -> Way:
    """The pencil, and later a row for each mark: found, its number, a tab, the verdict, Enter.

    `digits` are those of all the numbers. Subject, chapter and date are taken to fill themselves
    in, and what was right is not kept at all.
    """
    marks = MISSES + DOUBTS
    alone = pencil()
    return Way("pencil, later a spreadsheet row", alone.keys + digits + 3 * marks,
               alone.mental + marks, pointing=alone.pointing, homing=3)  # fmt: skip


def one_by_one(keys: int) -> Way:
    """Each question is checked, which tells the key."""
    return Way("one by one", keys, QUESTIONS)


def exceptions(keys: int) -> Way:
    """Each question is checked; only what was not right is typed."""
    return Way("exceptions", keys, QUESTIONS)


def responses(keys: int) -> Way:
    """The letters are copied; nothing is checked by the candidate."""
    return Way("responses", keys, -(-QUESTIONS // LETTERS_AT_ONCE))


def table(counted: dict[str, int], shifts: dict[str, int], digits: int) -> str:
    """The table as DEVELOPERS.md prints it; `counted` are the keys that the app took."""
    made = {"one by one": one_by_one, "exceptions": exceptions, "responses": responses}
    ways = [made[name](counted[name] + shifts[name]) for name in made]
    lines = [
        "| way | keys a question | K with shifts | M | P | H | at K 0.28 s | at K 0.50 s |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for way in (*ways, pencil(), spreadsheet(digits)):
        taken = f"{counted[way.name] / QUESTIONS:.2f}" if way.name in counted else "–"
        lines.append(
            f"| {way.name} | {taken} | {way.keys} | {way.mental} | {way.pointing} | {way.homing} "
            f"| {way.seconds(K_TYPIST):.0f} s | {way.seconds(K_LETTERS):.0f} s |"
        )
    return "\n".join(lines)
