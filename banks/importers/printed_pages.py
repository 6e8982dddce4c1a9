"""Pages of text as they were laid out → running lines: no furniture, columns one after another.

A page is a list of lines in which spaces stand where the page is empty, as on a typewriter.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import pairwise

from banks.importers.common import Finding
from banks.importers.printed_layout import Line, NumberLabel, number_label
from banks.importers.printed_sections import KEY_HEADING, PAIR, inline_key, is_key_data, is_pairs

Lines = list[str]

_EDGE = 2
"""How many lines at the top and at the bottom of a page may be furniture."""

_SHARE = 0.4
"""On how many of the pages a line must stand to be furniture; odd and even pages may differ."""

_WIDE_GUTTER = 30
"""From how many empty columns on one line is enough to tell a right column."""

_PARTED = 8
"""How many empty signs at least part a line of the left column from one of the right."""

_CROSSING = 0.08
"""The share of lines that may run across the gutter of a page in two columns, as titles do."""

_OPTION = re.compile(r"\W{0,2}[A-Ha-h1-8]\s?[).\]:]")
_LETTERED = re.compile(r"\W{0,3}([A-Ha-h])\s?[).\]:]")
_RUNNING = 6
"""From how many lines on a running text stands beside another one."""
_ALIGNED = 0.8
"""The share of the lines of a right column that begin where it begins."""
_LIST_STYLES = ("1.", "1)", "(1)")
"""Styles in which options and the items of a list are numbered too."""
_KEY_NAME = re.compile(
    r"\W{0,2}((?:[^\W\d_]{2,}\.?[ -]?){1,4}|[^\W\d_a-zA-Z])\s?\W?[:：】]\s*"
    r"[(\[]?([A-Ja-j1-9])[)\]]?\W*"
)
"""Words, a colon and the letter of an option: what may name a question's answer key."""
_LONGEST_NAME = 60
_SIGNED_QUESTION = re.compile(r"\s*#Q\b[.:)]?\s*")
_BARE_NUMBER = re.compile(r"\s*[-–—]?\s*\d{1,4}\s*[-–—]?\s*")
_LIGATURES = str.maketrans(
    {
        "ﬀ": "ff",
        "ﬁ": "fi",
        "ﬂ": "fl",
        "ﬃ": "ffi",
        "ﬄ": "ffl",
        "ﬅ": "st",
        "ﬆ": "st",
        "\u00ad": "-",
    }
)


def without_furniture(pages: Sequence[Lines]) -> tuple[list[Lines], list[int], list[str]]:
    """The pages without headers, footers and page numbers; the number of each; what was left out.

    A page's number is the one printed on it where most pages bear one that counts up, else its
    place. A line with a number is furniture only where the number counts the pages: questions
    that begin alike stand at the top of pages too.
    """
    stands: dict[str, list[int]] = defaultdict(list)
    inside: Counter[str] = Counter()
    for place, page in enumerate(pages):
        at_edge = set(_edges(page))
        for mask in {_mask(page[at]) for at in at_edge}:
            stands[mask].append(place)
        inside.update(_mask(line) for at, line in enumerate(page) if at not in at_edge)
    needed = max(2, _SHARE * len(pages))
    usual = {
        mask
        for mask, places in stands.items()
        if mask
        and len(places) >= max(needed, inside[mask] + 1)
        and not mask.endswith(("?", ",", ";", ":"))
        and ("#" not in mask or _counts_pages(mask, places, pages))
    }
    bare, furniture = [], []
    left_out: Counter[str] = Counter()
    for page in pages:
        edges = _edges(page)
        out = {at for at in edges if _mask(page[at]) in usual}
        left_out.update(_mask(page[at]) for at in out)
        out |= {at for at in (edges[:1] + edges[-1:]) if _BARE_NUMBER.fullmatch(page[at])}
        furniture.append(" ".join(page[at] for at in sorted(out)))
        bare.append([line for at, line in enumerate(page) if at not in out])
    findings = [
        f"left out as a running head or foot on {count} pages: {mask[:60]}"
        for mask, count in left_out.items()
    ]
    return bare, _numbers(furniture), findings


def _counts_pages(mask: str, places: Sequence[int], pages: Sequence[Lines]) -> bool:
    """Whether a number in the lines of one shape goes up with the pages, on most of them."""
    shifts: Counter[tuple[int, int]] = Counter()
    for place in places:
        page = pages[place]
        line = next(page[at] for at in _edges(page) if _mask(page[at]) == mask)
        for column, number in enumerate(re.findall(r"\d+", line)):
            shifts[column, int(number[:9]) - place] += 1
    return shifts.most_common(1)[0][1] * 2 > len(places)


def _edges(page: Lines) -> list[int]:
    """The places of the lines at the top and bottom that hold anything."""
    held = [at for at, line in enumerate(page) if line.strip()]
    return sorted({*held[:_EDGE], *held[-_EDGE:]}) if len(held) > 2 * _EDGE else held[:1]


def _mask(line: str) -> str:
    """The line with its numbers blotted out; "" for what can't be furniture."""
    text = " ".join(line.split())
    if _OPTION.match(text) or inline_key(text) is not None:
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
    gutters = [
        0 if gutter and _cuts_words(page, gutter) else gutter
        for page, gutter in zip(pages, gutters, strict=True)
    ]
    sure = [
        gutter
        for page, gutter in zip(pages, gutters, strict=True)
        if gutter and _has_questions_right(page, gutter)
    ]
    return [
        _columns(page, gutter) if gutter and (gutter in sure or sure) else list(page)
        for page, gutter in zip(pages, gutters, strict=True)
    ]


def columns_in_order(lines: list[tuple[int, str]]) -> tuple[list[tuple[int, str]], str]:
    """A text's numbered lines, and what to tell: two columns that were pasted side by side.

    They are read one after the other, page by page where form feeds part pages.
    """
    if not any("   " in text.strip() or "\t" in text for _, text in lines):
        return lines, ""
    pages: list[list[tuple[int, str]]] = [[]]
    for number, text in lines:
        if "\f" in text and pages[-1]:
            pages.append([])
        pages[-1].append((number, text.replace("\f", "").expandtabs(8)))
    gutters = []
    for page in pages:
        texts = [text for _, text in page]
        gutter = _gutter(texts)
        is_column = gutter and _is_aligned(texts, gutter) and _has_questions_right(texts, gutter)
        gutters.append(gutter if is_column else 0)
    if not any(gutters):
        return lines, ""
    ordered: list[tuple[int, str]] = []
    for page, gutter in zip(pages, gutters, strict=True):
        at = gutter or (_gutter([text for _, text in page]) if len(pages) > 1 else 0)
        if not at:
            ordered += page
            continue
        left: list[tuple[int, str]] = []
        right: list[tuple[int, str]] = []
        for number, text in page:
            if text[max(at - 2, 0) : at].strip():
                ordered += [*left, *right, (number, text)]
                left, right = [], []
            else:
                left.append((number, text[:at]))
                right.append((number, text[at:]))
        ordered += [*left, *right]
    return ordered, "two columns stand side by side: read one after the other"


def in_known_signs(lines: list[tuple[int, str]]) -> tuple[list[tuple[int, str]], list[Finding]]:
    """The numbered lines with a file's own signs written as usual ones, and what to tell of them.

    Where most questions end in the same words, a colon and a letter, those words name the answer
    key, whatever the language. Questions between `#Q` and `^` get a number, and their key comes
    after the options.
    """
    lines = _with_numbers(lines)
    places_of: dict[str, list[int]] = defaultdict(list)
    for at, (_, text) in enumerate(lines):
        word = _KEY_NAME.fullmatch(text) if len(text) <= _LONGEST_NAME else None
        if word and not inline_key(text) and not _OPTION.match(text):
            places_of[word[1].casefold().strip()].append(at)
    name, places = max(places_of.items(), key=lambda held: len(held[1]), default=("", []))
    signs = {match[2] for at in places if (match := _KEY_NAME.fullmatch(lines[at][1]))}
    if len(places) < _RUNNING // 2 or len(signs) < 2:
        return lines, []
    if sum(inline_key(text) is not None for _, text in lines) >= len(places):
        return lines, []
    reason = f"'{name}' was read as the word for an answer key"
    findings = [Finding(lines[places[0]][0], reason)]
    made = list(lines)
    for at in places:
        number, text = lines[at]
        made[at] = (number, _KEY_NAME.sub(r"Answer: \2", text))
    return made, findings


def _with_numbers(lines: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """The lines with questions that begin with `#Q` under a number, their `^` as an answer key."""
    starts = [at for at, (_, text) in enumerate(lines) if _SIGNED_QUESTION.match(text)]
    keys = sum(text.startswith("^") for _, text in lines)
    if not starts or keys < len(starts):
        return lines
    made = lines[: starts[0]]
    for count, (start, end) in enumerate(pairwise([*starts, len(lines)]), 1):
        number, first = lines[start]
        block = [(number, _SIGNED_QUESTION.sub(f"{count}. ", first)), *lines[start + 1 : end]]
        held = [(line, text) for line, text in block if not text.startswith("^")]
        while held and not held[-1][1].strip():
            held.pop()
        answers = [(line, f"Answer: {text[1:].strip()}") for line, text in block if text[:1] == "^"]
        made += [*held, *answers, (number, "")]
    return made


def without_repeated_lines(lines: list[Line]) -> tuple[list[Line], list[Finding]]:
    """The lines without running heads and page numbers that came along, and what was left out."""
    masks = [
        _mask(line.text) if len(line.text) <= 90 and not _is_code(line.text) else ""
        for line in lines
    ]
    counts = Counter(mask for mask in masks if "#" in mask)
    furniture = {
        mask
        for mask, count in counts.items()
        if count >= 2
        and not mask.endswith(("?", ",", ";", ":"))
        and not number_label(0, mask.replace("#", "1"))
        and not is_pairs(mask.replace("#", "1"))
        and not is_key_data(mask.replace("#", "1"))
        and (
            count >= 3
            or re.fullmatch(r"\W*(?:page|p\.|seite|pág\w*)?\s*#\W*(?:(?:of|/)\s*#\W*)?", mask, re.I)
        )
    }
    furniture = {mask for mask in furniture if _counts_up(mask, masks, lines)}
    bare = re.compile(r"[-–—\s]*(?:page|seite|p\.)?\s*#[-–—\s]*(?:(?:of|/)\s*#)?", re.IGNORECASE)
    furniture |= {
        mask
        for mask in counts
        if bare.fullmatch(mask)
        and not mask.strip().startswith("#")
        and re.search(r"[-–—a-z]", mask)
    }
    kept: list[Line] = []
    findings: list[Finding] = []
    for line, mask in zip(lines, masks, strict=True):
        if mask in furniture:
            findings.append(
                Finding(line.number, f"left out as a running head or foot: {line.text[:60]}")
            )
        else:
            kept.append(line)
    heads = _heads(kept, {finding.line for finding in findings})
    if heads:
        findings += [
            Finding(line.number, f"left out as a running head or foot: {line.text[:60]}")
            for line in kept
            if line.number in heads
        ]
        kept = [line for line in kept if line.number not in heads]
    return _with_gaps(lines, kept), findings


def _with_gaps(lines: list[Line], kept: list[Line]) -> list[Line]:
    """The lines that are kept; an empty line before one that is left out counts for the next."""
    if len(kept) == len(lines):
        return kept
    numbers = {line.number for line in kept}
    made: list[Line] = []
    gap = False
    for line in lines:
        gap = gap or line.after_gap
        if line.number in numbers:
            made.append(Line(line.number, line.text, gap))
            gap = False
    return made


def _is_code(text: str) -> bool:
    label = number_label(0, text)
    return label is not None and bool(label.code)


def _counts_up(mask: str, masks: list[str], lines: list[Line]) -> bool:
    """Whether the numbers in lines of one shape go up as page numbers do, some lines apart."""
    places = [at for at, each in enumerate(masks) if each == mask]
    apart = [after - before for before, after in pairwise(places)]
    if sum(apart) < 8 * len(apart):
        return False
    rows = [[int(number) for number in re.findall(r"\d{1,6}", lines[at].text)] for at in places]
    return any(
        all(1 <= after - before <= 2 for before, after in pairwise(column))
        for column in zip(*rows, strict=False)
    )


def _heads(lines: list[Line], numbers: set[int]) -> set[int]:
    """Lines without a number that stand, again and again, beside the page numbers left out."""
    beside = [line for line in lines if {line.number - 1, line.number + 1} & numbers]
    after = {line.number for line in beside if line.number - 1 in numbers and _is_title(line.text)}
    texts = Counter(line.text for line in beside)
    usual = {
        text
        for text, count in texts.items()
        if count >= 2
        and not text.endswith(("?", ",", ";", ":"))
        and len(text) <= 90
        and not number_label(0, text)
        and not _OPTION.match(text)
        and inline_key(text) is None
        and sum(1 for line in lines if line.text == text) == count
    }
    return after | {line.number for line in beside if line.text in usual}


def _is_title(text: str) -> bool:
    """Whether most words begin with a capital and nothing labels the line."""
    words = re.findall(r"[^\W\d_][\w'’]*", text)
    capitals = sum(1 for word in words if word[0].isupper())
    is_plain = not number_label(0, text) and not _OPTION.match(text) and inline_key(text) is None
    is_other = text.isupper() or re.match(r"(?:Chapter|Unit|Section|Subject)\b", text)
    return is_plain and not is_other and len(words) > 1 and capitals * 10 >= len(words) * 7


def _gutter(page: Lines) -> int:
    """Where a right column begins, 0 when the page has no gutter down its middle."""
    lines = [line for line in page if line.strip()]
    width = max((len(line.rstrip()) for line in lines), default=0)
    if len(lines) < 4 or width < 30:
        return 0
    allowed = max(1, int(_CROSSING * len(lines)))
    best, run = (0, 0), 0
    for at in range(width * 3 // 10, width * 8 // 10 + 1):
        crossing = sum(1 for line in lines if line[at : at + 1].strip())
        run = run + 1 if crossing <= allowed else 0
        best = max(best, (run, at + 1))
    run, end = best
    if run >= _WIDE_GUTTER:  # a few lines of a short right column crossed it
        end = min([end, *(_begins(line, end - run) for line in lines)])
    right = sum(1 for line in lines if line[end:].strip())
    # A second column may be one line long where nothing is as wide as the first.
    least = 1 if run >= _WIDE_GUTTER else 2
    return end if run >= 2 and right >= least else 0


def _begins(line: str, gutter: int) -> int:
    """Where the text to the right of an empty column begins; far off where there is none.

    Options that stand side by side are parted too, but not as wide.
    """
    begin = len(line) - len(line[gutter:].lstrip())
    empty = begin - len(line[:begin].rstrip())
    is_beside = begin - gutter > 1 and empty >= _PARTED and line[begin:]
    return begin if is_beside else len(line) + 1_000


def _cuts_words(page: Lines, gutter: int) -> bool:
    """Whether a gutter goes through words of the few lines that reach it: it is none."""
    right = [line for line in page if line[gutter:].strip()]
    cut = sum(1 for line in right if line[gutter - 1].strip() and line[gutter].strip())
    return cut > (1 - _ALIGNED) * len(right)


def _is_aligned(page: Lines, gutter: int) -> bool:
    """Whether the lines of a right column, as they were pasted, begin one under the other."""
    right = [line for line in page if line[gutter:].strip()]
    begin = [
        line for line in right if line[gutter] != " " and not line[gutter - 2 : gutter].strip()
    ]
    return len(begin) >= _ALIGNED * len(right)


def _has_questions_right(page: Lines, gutter: int) -> bool:
    """Whether questions begin on the right, rather than second options of those on the left."""
    right = [line[gutter:].strip() for line in page]
    left = [line[:gutter].strip() for line in page]
    numbers = [label for text in right if not is_pairs(text) and (label := number_label(0, text))]
    bare = [label for label in numbers if label.style == "1"]
    on_left = {label.style for text in left if (label := number_label(0, text))}
    beside = [
        text
        for text, other in zip(right, left, strict=True)
        if other and KEY_HEADING.fullmatch(text)
    ]
    held = [text for text in right if text]
    labelled = sum(1 for text in held if _OPTION.match(text) or number_label(0, text))
    both = sum(1 for text, other in zip(right, left, strict=True) if text and other)
    if both >= _RUNNING and labelled * 2 < len(held):
        return True  # a running text, not the second options of those on the left
    keys = [sum(inline_key(text) is not None for text in column) for column in (left, right)]
    if both > 1 and all(keys) and len(held) > 2 * keys[1]:
        return True  # keys begin lines of their own on the left, so those on the right do too
    return (
        bool(beside)
        or (_lists_options(right) and _lists_options(left))
        or _continues_key(left, right)
        or any(
            label.style in on_left
            and (label.style not in _LIST_STYLES or label.value > 4 or _goes_on(label, left))
            for label in numbers
            if label.style != "1" or len(bare) > 2
        )
    )


def _lists_options(column: Lines) -> bool:
    """Whether options a, b and c stand one under the other, not every second one."""
    letters = "".join(
        match[1].lower() if (match := _LETTERED.match(text)) else " " for text in column if text
    )
    return re.search(r"a *b *c", letters) is not None


def _continues_key(left: Lines, right: Lines) -> bool:
    """Whether an answer key at the foot of the left column goes on at the top of the right one."""
    above = PAIR.findall(next((text for text in reversed(left) if text), ""))
    first = next((text for text in right if text), "")
    below = PAIR.findall(first) if is_pairs(first) else []
    return bool(above and below) and int(above[-1][0]) + 1 == int(below[0][0])


def _goes_on(label: NumberLabel, left: Lines) -> bool:
    """Whether a number on the right is beyond the last one of its style on the left."""
    values = [
        other.value
        for text in left
        if (other := number_label(0, text)) and other.style == label.style
    ]
    return bool(values) and max(values) < label.value


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
