"""What single cells hold: lists of options, tags, kinds, credits, and traces of spreadsheets."""

import ast
import json
import re
from collections.abc import Iterable, Sequence

from domain.questions import LETTERS, Kind

_DATE_OR_TIME = re.compile(
    r"\d{1,2}[-/](?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*(?:[-/]\d{2,4})?"
    r"|(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[-/]\d{2}"
    r"|\d{1,3}:[0-5]\d(?::[0-5]\d)?"
    r"|(?:19|20)\d\d-\d\d-\d\d(?:[ T]\d\d:\d\d(?::\d\d)?)?",
)
_SHORTENED = re.compile(r"-?\d(?:[.,]\d+)?E[+-]?\d{2,3}", re.IGNORECASE)
_MOST_LISTED = 20_000
_CREDIT = re.compile(r"([a-h])\s*[=:]\s*(-?\d{1,9}(?:\.\d+)?)")
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_SIGNED = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_LABEL = r"[(\[]?{}[)\].:]\s*"


def converted(text: str) -> str:
    """What a spreadsheet may have made a cell's text from; "" where nothing suggests it.

    The traces are those seen in published sets: 1/2 → 2-Jan, 30:2 → 30:02:00, 17 digits → 1E+17.
    """
    if (":" in text or "-" in text or "/" in text) and _DATE_OR_TIME.fullmatch(text):
        return "may be a fraction or ratio that a spreadsheet made a date or time of"
    if text[:1] in "-0123456789" and _SHORTENED.fullmatch(text):
        return "may be a long number that a spreadsheet shortened"
    return ""


def split_options(cell: str) -> list[str]:
    """Options held in one cell: a list, labelled `A) … B) …`, one a line, between `|` or `;`."""
    listed = _listed(cell)
    if listed:
        return unlabelled(listed)
    labelled = split_labelled(cell)
    if labelled:
        return labelled
    for separator in ("\n", "|", ";"):
        parts = [part.strip() for part in cell.split(separator)]
        if len(parts) > 1:
            return unlabelled([part for part in parts if part])
    return [cell] if cell else []


def _listed(cell: str) -> list[str]:
    """The texts of a list as JSON or Python writes it; empty for any other cell."""
    text = cell.strip()
    if not (text.startswith("[") and text.endswith("]")) or len(text) > _MOST_LISTED:
        return []
    try:
        held = ast.literal_eval(text)
    except (ValueError, SyntaxError, MemoryError, RecursionError):
        try:
            held = json.loads(text)
        except (ValueError, RecursionError):
            return []
    if not isinstance(held, list) or len(held) < 2:
        return []
    return [str(part).strip() for part in held if isinstance(part, str | int | float)]


def split_labelled(cell: str) -> list[str]:
    """The options in `A) … B) … C) …`; empty unless at least A and B follow one another."""
    labels: list[tuple[int, int]] = []
    at = 0
    for letter in LETTERS:
        label = re.compile(r"(?:^|(?<=[\s|;,]))" + _LABEL.format(letter), re.IGNORECASE)
        match = label.search(cell, at)
        if not match:
            break
        labels.append(match.span())
        at = match.end()
    if len(labels) < 2 or labels[0][0] != 0:
        return []
    ends = [start for start, _ in labels[1:]] + [len(cell)]
    return [cell[start:end].strip(" \n\t|;,") for (_, start), end in zip(labels, ends, strict=True)]


_FIRST_LABEL = re.compile(r"(?:^|(?<=\s))[(\[]?a[)\].:]\s*", re.IGNORECASE)
_MOSTLY = 0.6


def split_stem(cell: str) -> tuple[str, list[str]]:
    """The stem and the options of a cell that holds both: `Which? (a) … (b) …`; else no options."""
    match = _FIRST_LABEL.search(cell)
    options = split_labelled(cell[match.start() :]) if match and match.start() else []
    return (cell[: match.start()].strip(), options) if match and options else (cell, [])


def hold_options(cells: Sequence[str]) -> bool:
    """Whether most of these cells hold a stem with its options."""
    held = [cell for cell in cells if cell.strip()]
    return bool(held) and sum(bool(split_stem(cell)[1]) for cell in held) >= _MOSTLY * len(held)


def unlabelled(texts: list[str]) -> list[str]:
    """The texts without their own labels, where all of them carry one in order (`A)21`)."""
    stripped: list[str] = []
    for letter, text in zip(LETTERS, texts, strict=False):
        label = re.match(_LABEL.format(letter), text, re.IGNORECASE)
        if not label:
            return texts
        stripped.append(text[label.end() :].strip())
    return stripped if len(stripped) == len(texts) else texts


def split_tags(cell: str) -> tuple[str, ...]:
    """Tags between commas or semicolons."""
    return tuple(tag.strip() for tag in re.split(r"[,;]", cell) if tag.strip()) if cell else ()


_OTHER_KINDS = {
    "single-best-answer": Kind.BEST,
    "multiple-response": Kind.MULTIPLE,
    "short-text": Kind.TEXT,
    "short-answer": Kind.TEXT,
    "free-text": Kind.TEXT,
    "number": Kind.NUMERIC,
}
"""What the kinds are called beside our own words."""


def stated_kind(cell: str) -> Kind | None:
    """The kind of question where the file says it in a word of the trade, else None."""
    word = "-".join(cell.casefold().replace("/", " ").replace("-", " ").split())
    if word in _OTHER_KINDS:
        return _OTHER_KINDS[word]
    try:
        return Kind(word)
    except ValueError:
        return None


def credit(cell: str) -> tuple[tuple[int, float], ...]:
    """Marks per option from `a=1 c=0.5`: positions and marks."""
    return tuple(
        (LETTERS.index(letter), float(mark)) for letter, mark in _CREDIT.findall(cell.lower())
    )


def join_texts(texts: Iterable[str]) -> str:
    r"""Accepted texts in one cell, between bars; inside a text a bar is `\|`, a backslash `\\`."""
    return "|".join(re.sub(r"([\\|])", r"\\\1", text) for text in texts)


def split_texts(cell: str) -> tuple[str, ...]:
    """The texts that `join_texts` joined."""
    pieces = re.findall(r"(?:\\[\\|]|[^|])+", cell)
    parts = (re.sub(r"\\([\\|])", r"\1", piece).strip() for piece in pieces)
    return tuple(part for part in parts if part)


def guarded(text: str) -> str:
    """The text as a cell that no spreadsheet takes for a formula: an apostrophe before it.

    Signed numbers stay as they are. Source: OWASP, "CSV Injection".
    """
    harmless = not _FORMULA.match(text) or _SIGNED.fullmatch(text)
    return text if harmless else f"'{text}"


def unguarded(text: str) -> str:
    """The text that `guarded` made safe."""
    return text[1:] if text.startswith("'") and _GUARDED.match(text) else text
