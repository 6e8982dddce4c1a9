"""What a table's columns hold: by headers, by content, or as the candidate says."""

import itertools
import re
from collections import Counter
from collections.abc import Sequence

from msgspec import Struct

from banks.importers.common import Finding, unused
from banks.importers.fields import meaning, meanings
from domain.questions import LETTERS

_KEY = re.compile(r"\(?[a-hA-H0-8]\)?\.?")
_WORDS = re.compile(r".*[^\W\d_]{2}.*", re.DOTALL)
_WHOLE = re.compile(r"\d{1,6}\.?")


class Columns(Struct, frozen=True, kw_only=True):
    """A guess at what the columns hold, for a preview or a mapping screen.

    `names` are the headers, or "column 1"… where there are none; `mapping` is field → position;
    `sample` the first rows under the header. `sure` False: the candidate should look. `width` is
    how many cells a row usually has (the header's, where there is one). `above`: how many rows,
    as titles, stand above the table.
    """

    names: tuple[str, ...]
    mapping: dict[str, int]
    header: bool
    sample: tuple[tuple[str, ...], ...]
    sure: bool
    width: int = 0
    above: int = 0

    def unused(self, mapping: dict[str, int]) -> list[Finding]:
        """What to tell of the named columns that a mapping leaves out."""
        left = [name for at, name in enumerate(self.names) if at not in mapping.values()]
        return unused("columns", [name for name in left if not name.startswith("column ")])


def guess(rows: Sequence[Sequence[str]]) -> Columns:
    """What the columns of a table hold, from its first rows (a few dozen are enough)."""
    rows = [row for row in rows if any(cell.strip() for cell in row)]
    if not rows:
        return Columns(names=(), mapping={}, header=False, sample=(), sure=False)
    first = [cell.strip() for cell in rows[0]]
    first += [""] * (_usual_width(rows) - len(first))
    mapping = meanings(first)
    if is_header(first, mapping):
        return _columns(rows, mapping, True, is_enough(mapping))
    mapping = by_content(rows)
    if mapping:
        named = len(rows) > 1 and not _KEY.fullmatch(first[mapping["key"]])
        return _columns(rows, mapping, named, True)
    header = len(rows) > 1 and all(0 < len(cell) <= 40 for cell in first)
    return _columns(rows, meanings(first) if header else {}, header, False)


def is_header(first: Sequence[str], mapping: dict[str, int]) -> bool:
    """Whether a first row names columns: two known names, neither of them a mere letter."""
    named = [cell for cell in first if len(cell.strip()) > 1 and meaning(cell)]
    return len(named) >= 2 and ("stem" in mapping or "number" in mapping)


def is_enough(mapping: dict[str, int]) -> bool:
    """Whether questions can be read: a stem, or numbers (with or without a key)."""
    return "stem" in mapping or "number" in mapping


def by_content(rows: Sequence[Sequence[str]]) -> dict[str, int]:
    """The columns of a table without headers: [number,] stem, two or more options, key.

    Published keyed sets come like this. Empty when the content is not clearly so; a few ragged
    rows don't matter, they are told of one by one.
    """
    width = _usual_width(rows)
    full = [row for row in rows if len(row) == width]
    if width < 2 or len(full) * 10 < len(rows) * 6:
        return {}
    held = [[row[at].strip() for row in full] for at in range(width)]
    if not _mostly(_KEY, held[-1]):
        return {}
    numbered = _mostly(_WHOLE, held[0]) and _rising(held[0])
    if width == 2:
        return {"number": 0, "key": 1} if numbered else {}
    stem = 1 if numbered else 0
    if not _mostly(_WORDS, held[stem]):
        return {}
    options = range(stem + 1, width - 1)
    if not 2 <= len(options) <= len(LETTERS):
        return {}
    mapping = {"number": 0} if numbered else {}
    mapping |= {"stem": stem} | dict(zip(LETTERS, options, strict=False))
    return mapping | {"key": width - 1}


def _columns(
    rows: Sequence[Sequence[str]], mapping: dict[str, int], header: bool, sure: bool
) -> Columns:
    width = max(map(len, rows))
    names = [f"column {at + 1}" for at in range(width)]
    if header:
        names[: len(rows[0])] = [
            cell.strip() or name for cell, name in zip(rows[0], names, strict=False)
        ]
    return Columns(
        names=tuple(names),
        mapping=mapping,
        header=header,
        sample=tuple(tuple(row) for row in rows[header : header + 5]),
        sure=sure,
        width=len(rows[0]) if header else _usual_width(rows),
    )


def _usual_width(rows: Sequence[Sequence[str]]) -> int:
    return Counter(map(len, rows)).most_common(1)[0][0]


def _mostly(pattern: re.Pattern[str], cells: Sequence[str]) -> bool:
    fitting = sum(1 for cell in cells if pattern.fullmatch(cell))
    return fitting * 10 >= len(cells) * 9


def _rising(cells: Sequence[str]) -> bool:
    numbers = [int(cell.rstrip(".")) for cell in cells if _WHOLE.fullmatch(cell)]
    return all(a < b for a, b in itertools.pairwise(numbers))
