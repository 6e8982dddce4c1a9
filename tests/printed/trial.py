"""One generated page, read and scored."""

from banks.importers import pdf, printed
from banks.importers.common import Hints, misread
from tests.printed.generator import (
    is_latin,
    noised,
    page,
    random_layout,
    side_by_side,
    to_pdf,
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
