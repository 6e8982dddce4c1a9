"""The key of each row, read the way that fits the whole file: letters, numbers or option texts."""

import re
from collections.abc import Sequence

from banks.importers.cells import split_texts
from banks.importers.common import Draft, DraftOption, Finding
from domain.grading import number
from domain.questions import LETTERS, Kind, normal_text

_LETTERS = re.compile(r"[a-h](?:(?:\s*[,;/&+|]\s*|\s+and\s+|\s+)[a-h])*|[a-h]{2,8}")
_NUMBERS = re.compile(r"\d(?:\s*[,;/&+|]\s*\d)*")
_LABEL = re.compile(r"(?:option|choice|answer|ans)\s*[:.]?\s*(?=\W?[a-h1-8]\W?$)", re.IGNORECASE)
_TRUE_FALSE = ("true", "false")
_SHARED: dict[tuple[int | str, ...], tuple[int | str, ...]] = {}
"""Each of the few keys made of letters or positions once, however many questions have it."""
_TRUTH = {"t": 0, "true": 0, "yes": 0, "f": 1, "false": 1, "no": 1}


def fit_keys(
    drafts: Sequence[Draft],
    raws: Sequence[str],
    kinds: dict[int, Kind],
    base: int | None,
) -> tuple[list[Draft], list[Finding], list[Finding]]:
    """Give each draft the key that its raw text stands for.

    `raws` runs beside `drafts`; `kinds` holds the kinds that the file states, by position.
    `base` 0 or 1 says how numbers count; None: what fits the whole file. Returns the good
    drafts, those skipped, and warnings.
    """
    warnings: list[Finding] = []
    if base is None:
        base, warning = numeric_base(drafts, raws)
        warnings += [warning] if warning else []
    good: list[Draft] = []
    skipped: list[Finding] = []
    for at, (draft, raw) in enumerate(zip(drafts, raws, strict=True)):
        problem = _fit(draft, raw, kinds.get(at), base)
        if problem:
            skipped.append(Finding(draft.line, problem))
        else:
            good.append(draft)
    return good, skipped, warnings


def numeric_base(drafts: Sequence[Draft], raws: Sequence[str]) -> tuple[int, Finding | None]:
    """Whether numeric keys count from 0 or from 1, decided over all rows, and what was unclear."""
    zeros = tops = numbers = texts = 0
    first = 0
    for draft, raw in zip(drafts, raws, strict=True):
        if len(raw) > 1 or not raw.isdecimal() or not draft.options:
            continue
        first = first or draft.line
        numbers += 1
        zeros += raw == "0"
        tops += int(raw) == len(draft.options)
        texts += any(option.text == raw for option in draft.options)
    if zeros and not tops:
        return 0, None
    if not numbers or (tops and not zeros) or texts == numbers:
        return 1, None
    if zeros and tops:
        base, seen = int(tops >= zeros), "both 0 and the number of the last option occur"
    else:
        base, seen = 1, "neither 0 nor the number of the last option occurs"
    told = f"the keys are numbers and {seen}: read as counted from {base}; check a few"
    return base, Finding(first, told)


def _fit(draft: Draft, raw: str, kind: Kind | None, base: int) -> str:
    """Set the draft's kind and key. Returns what is wrong, "" if nothing is."""
    options = draft.options
    if kind in (Kind.TEXT, Kind.NUMERIC) or (draft.stem and not options):
        return _fit_open(draft, raw, kind)
    if not raw:
        draft.kind = kind or draft.kind
        return ""
    key = _positions(raw, options, base) if options else _bare_letters(raw)
    if key is None:
        return f"the key '{_short(raw)}' is neither an option's letter or number nor its text"
    if options and any(at >= len(options) or not options[at].text for at in key):
        return f"the key '{_short(raw)}' names an option that isn't there ({len(options)} given)"
    made: tuple[int | str, ...] = tuple(key) if options else tuple(LETTERS[at] for at in key)
    draft.key = _SHARED.setdefault(made, made)
    draft.kind = kind or (Kind.MULTIPLE if len(key) > 1 else _choice_kind(options))
    return ""


def _fit_open(draft: Draft, raw: str, kind: Kind | None) -> str:
    """A question without options: true or false, a number, a short text, or a printed option."""
    folded = raw.casefold()
    if kind is None and folded in _TRUE_FALSE:
        kind, draft.options = Kind.TRUE_FALSE, (DraftOption("True"), DraftOption("False"))
    if kind is Kind.TRUE_FALSE:
        draft.kind, draft.key = kind, (_TRUTH[folded],) if folded in _TRUTH else ()
        return "" if draft.key or not raw else f"the key '{_short(raw)}' is not true or false"
    if kind is Kind.TEXT:
        draft.kind, draft.key = kind, split_texts(raw)
        return ""
    letters = _bare_letters(raw) if kind is not Kind.NUMERIC else None
    if letters is not None:
        draft.key = tuple(LETTERS[at] for at in letters)
        draft.kind = kind or (Kind.MULTIPLE if len(letters) > 1 else Kind.BEST)
    elif not raw or number(raw) is not None:
        draft.kind = Kind.NUMERIC if raw else kind or Kind.BEST
        draft.key = (raw,) if raw else ()
    elif kind is not None:
        return f"the key '{_short(raw)}' does not fit a question of the kind '{kind}'"
    else:
        draft.kind, draft.key = Kind.TEXT, (raw,)
    return ""


def _choice_kind(options: tuple[DraftOption, ...]) -> Kind:
    if len(options) == 2 and tuple(option.text.casefold() for option in options) == _TRUE_FALSE:
        return Kind.TRUE_FALSE
    return Kind.BEST


def _positions(raw: str, options: tuple[DraftOption, ...], base: int) -> list[int] | None:
    """Positions of the options that the raw key names; a letter before a number before a text."""
    if len(options) == 2 and (truth := _truth(raw, options)) is not None:
        return [truth]
    if len(raw) == 1:
        at = LETTERS.find(raw.lower())
        if at >= 0:
            return [at]
    folded = _LABEL.sub("", raw).strip(" ().[]").lower()
    if _LETTERS.fullmatch(folded) and (found := _bare_letters(folded)) is not None:
        exact = _by_text(raw, options)
        return found if exact is None else exact
    if _NUMBERS.fullmatch(folded):
        numbers = [int(digit) - base for digit in re.findall(r"\d", folded)]
        if all(0 <= at < len(options) for at in numbers):
            return sorted(set(numbers))
    if (exact := _by_text(raw, options)) is not None:
        return exact
    labelled = re.match(r"\(?([a-h])\)?\s*[.):\-]\s*\S", folded)
    return [LETTERS.index(labelled.group(1))] if labelled else _several_texts(raw, options)


def _truth(raw: str, options: tuple[DraftOption, ...]) -> int | None:
    words = [option.text.casefold() for option in options]
    if sorted(words) != ["false", "true"] or raw.casefold() not in _TRUTH:
        return None
    return words.index(_TRUE_FALSE[_TRUTH[raw.casefold()]])


def _bare_letters(raw: str) -> list[int] | None:
    folded = raw.strip(" ().[]").lower()
    if not _LETTERS.fullmatch(folded):
        return None
    letters = re.findall(r"[a-h]", re.sub(r"\band\b", " ", folded))
    # "bad" is a word, "abd" a key: letters run upwards in a key without separators.
    if len(folded) == len(letters) > 1 and letters != sorted(set(letters)):
        return None
    return sorted({LETTERS.index(letter) for letter in letters})


def _by_text(raw: str, options: tuple[DraftOption, ...]) -> list[int] | None:
    wanted = normal_text(raw)
    for fold in (str, str.casefold):
        for at, option in enumerate(options):
            if fold(normal_text(option.text)) == fold(wanted):
                return [at]
    return None


def _several_texts(raw: str, options: tuple[DraftOption, ...]) -> list[int] | None:
    parts = [part for part in re.split(r"\s*[|;]\s*|\n", raw) if part]
    found = [_by_text(part, options) for part in parts]
    if len(parts) < 2 or any(at is None for at in found):
        return None
    return sorted({at for each in found if each for at in each})


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"
