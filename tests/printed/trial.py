"""One generated page, read and scored."""

import random
from dataclasses import replace
from pathlib import Path

from banks.importers import detect, pdf, printed
from banks.importers.common import Hints, misread
from tests.printed.generator import (
    Truth,
    is_latin,
    noised,
    page,
    random_layout,
    side_by_side,
    to_pdf,
    typeset,
)
from tests.printed.scoring import Score, score

KINDS = ("text", "noise", "side by side", "pdf", "pdf in two columns")
_STRIDE = 1_000_003


def trial(
    kind: str, seed: int, fixed: dict[str, str] | None = None
) -> tuple[dict[str, str], Score]:
    """The choices of a page's layout, and how well it was read."""
    layout = random_layout(seed, fixed)
    while kind.startswith("pdf") and not is_latin(layout):
        seed += _STRIDE
        layout = random_layout(seed, fixed)
    made = page(layout)
    if kind.startswith("pdf"):
        parsed = pdf.parse(to_pdf(made.text, 2 if "two" in kind else 1), Hints())
        return layout.choices, score(made, parsed, misread=bool(misread(parsed)))
    if kind == "noise":
        changed, noise = noised(made, seed)
        parsed = printed.parse(changed.text.encode(), Hints())
        is_held = bool(misread(parsed))
        return layout.choices, score(made, parsed, only_keys=True, misread=is_held, noise=noise)
    text = side_by_side(made.text) if kind == "side by side" else made.text
    parsed = printed.parse(text.encode(), Hints())
    return layout.choices, score(made, parsed, misread=bool(misread(parsed)))


def set_trial(path: Path, seed: int, most: int = 30) -> tuple[dict[str, str], Score]:
    """Questions of a published set, printed in a layout of their own and read back."""
    layout = random_layout(seed, {"stems": "plain", "headings": "none", "numbers": "1."})
    truths = _truths(path)
    random.Random(seed).shuffle(truths)
    numbered = [replace(truth, number=at) for at, truth in enumerate(truths[:most], 1)]
    made = typeset(layout, numbered)
    parsed = printed.parse(made.text.encode(), Hints())
    return layout.choices, score(made, parsed, misread=bool(misread(parsed)))


def _truths(path: Path) -> list[Truth]:
    """The questions that a printer could set: with two to five options that differ, and one key."""
    drafts = detect.parse(path.read_bytes(), Hints(name=path.name)).drafts
    truths = []
    for draft in drafts:
        options = [" ".join(option.text.split()) for option in draft.options]
        key = [place for place in draft.key if isinstance(place, int)]
        if 2 <= len(options) <= 5 and len(set(options)) == len(options) and len(key) == 1:
            stem = " ".join(draft.stem.split()).lstrip(". ")
            truths.append(Truth("", None, "", stem, options, key))
    return truths
