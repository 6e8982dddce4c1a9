"""Pages of text as they were laid out → running lines: no furniture, columns one after another.

A page is a list of lines in which spaces stand where the page is empty, as on a typewriter.
"""

import re
from collections import Counter
from collections.abc import Sequence

from banks.importers.typeset import KEY, QUESTION, first_label

Lines = list[str]

_EDGE = 2
"""How many lines at the top and at the bottom of a page may be furniture."""

_SHARE = 0.4
"""On how many of the pages a line must stand to be furniture; odd and even pages may differ."""

_CROSSING = 0.08
"""The share of lines that may run across the gutter of a page in two columns, as titles do."""

_OPTION = re.compile(r"\W{0,2}[A-Ha-h1-8]\s?[).\]:]")
_LIGATURES = str.maketrans({
    "ﬀ": "ff", "ﬁ": "fi", "ﬂ": "fl", "ﬃ": "ffi", "ﬄ": "ffl", "ﬅ": "st", "ﬆ": "st",
    "\u00ad": "-",
})  # fmt: skip


def without_furniture(pages: Sequence[Lines]) -> tuple[list[Lines], list[int]]:
    """The pages without headers, footers and page numbers; and the number of each page.

    That is the number printed on it where most pages bear one that counts up, else its place.
    """
    masks = Counter(mask for page in pages for mask in {_mask(page[at]) for at in _edges(page)})
    needed = max(2, _SHARE * len(pages))
    usual = {mask for mask, count in masks.items() if mask and count >= needed}
    bare, furniture = [], []
    for page in pages:
        out = {at for at in _edges(page) if _mask(page[at]) in usual}
        furniture.append(" ".join(page[at] for at in sorted(out)))
        bare.append([line for at, line in enumerate(page) if at not in out])
    return bare, _numbers(furniture)


def _edges(page: Lines) -> list[int]:
    """The places of the lines at the top and bottom that hold anything."""
    held = [at for at, line in enumerate(page) if line.strip()]
    return sorted({*held[:_EDGE], *held[-_EDGE:]}) if len(held) > 2 * _EDGE else held[:1]


def _mask(line: str) -> str:
    """The line with its numbers blotted out; "" for what can't be furniture."""
    text = " ".join(line.split())
    if _OPTION.match(text) or KEY.fullmatch(text):
        return ""
    return re.sub(r"\d+", "#", text)


def _numbers(furniture: Sequence[str]) -> list[int]:
    printed = [
        {int(number) - at for number in re.findall(r"\d{1,5}", text)}
        for at, text in enumerate(furniture)
    ]
    shifts = Counter(shift for each in printed for shift in each)
    shift, count = shifts.most_common(1)[0] if shifts else (1, 0)
    first = shift if count * 2 > len(furniture) and shift > 0 else 1
    return [first + at for at in range(len(furniture))]


def in_reading_order(pages: Sequence[Lines]) -> list[Lines]:
    """The pages' lines, those in two columns with the left column before the right one."""
    gutters = [_gutter(page) for page in pages]
    sure = [
        gutter
        for page, gutter in zip(pages, gutters, strict=True)
        if gutter and _has_questions_right(page, gutter)
    ]
    usual = Counter(sure).most_common(1)[0][0] if len(sure) * 2 > len(pages) else 0
    return [
        _columns(page, gutter) if gutter and (gutter in sure or usual) else list(page)
        for page, gutter in zip(pages, gutters, strict=True)
    ]


def _gutter(page: Lines) -> int:
    """Where a right column begins, 0 when the page has no gutter down its middle."""
    lines = [line for line in page if line.strip()]
    width = max((len(line.rstrip()) for line in lines), default=0)
    if len(lines) < 4 or width < 30:
        return 0
    allowed = max(1, int(_CROSSING * len(lines)))
    best, run = (0, 0), 0
    for at in range(width * 3 // 10, width * 7 // 10 + 1):
        crossing = sum(1 for line in lines if line[at : at + 1].strip())
        run = run + 1 if crossing <= allowed else 0
        best = max(best, (run, at + 1))
    run, end = best
    right = sum(1 for line in lines if line[end:].strip())
    return end if run >= 2 and right * 3 >= len(lines) else 0


def _has_questions_right(page: Lines, gutter: int) -> bool:
    """Whether questions begin on the right, rather than second options of those on the left."""
    right = [line[gutter:].strip() for line in page]
    return any(QUESTION.fullmatch(line) and not first_label(line, digits=True) for line in right)


def _columns(page: Lines, gutter: int) -> Lines:
    ordered: Lines = []
    left: Lines = []
    right: Lines = []
    for line in page:
        if line[gutter - 2 : gutter].strip():
            ordered += [*left, *right, line]
            left, right = [], []
        else:
            left.append(line[:gutter])
            right.append(line[gutter:])
    return [*ordered, *left, *right]


def plain(line: str) -> str:
    """The line with single spaces, and ligatures as the letters they stand for."""
    return " ".join(line.translate(_LIGATURES).split())
