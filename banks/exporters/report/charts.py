"""Small pictures in SVG: a band over time."""

from collections.abc import Sequence
from html import escape

WIDTH = 640


def band(labels: Sequence[str], rows: Sequence[tuple[float, float, float]], best: float) -> str:
    """A line with its range (middle, low, high) over time, on a scale up to `best`, which is
    told with the scale's middle and foot.
    """
    if not rows:
        return ""
    height, step = 160, WIDTH / max(1, len(rows) - 1)
    bottom = min(0.0, min(low for _, low, _ in rows))
    span = (best - bottom) or 1

    def y(value: float) -> float:
        return height - (value - bottom) / span * height

    upper = [f"{place * step:.1f},{y(high):.1f}" for place, (_, _, high) in enumerate(rows)]
    lower = [f"{place * step:.1f},{y(low):.1f}" for place, (_, low, _) in enumerate(rows)]
    middle = [f"{place * step:.1f},{y(mark):.1f}" for place, (mark, _, _) in enumerate(rows)]
    scale = [
        f'<line class="grid" x1="0" x2="{WIDTH}" y1="{y(mark):.1f}" y2="{y(mark):.1f}"/>'
        + _text(0, y(mark) + (12 if mark == best else -4), f"{mark:.0f}")
        for mark in (best, (best + bottom) / 2, bottom)
    ]
    return _svg(height + 24, [
        *scale,
        f'<polygon class="band" points="{" ".join(upper + lower[::-1])}"/>',
        f'<polyline class="mark" points="{" ".join(middle)}"/>',
        *_ends(labels, height + 16),
    ])  # fmt: skip


def _svg(height: float, parts: Sequence[str]) -> str:
    return f'<svg viewBox="0 0 {WIDTH} {height:.0f}" role="img">{"".join(parts)}</svg>'


def _text(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _ends(labels: Sequence[str], y: float) -> list[str]:
    if not labels:
        return []
    last = f'<text x="{WIDTH}" y="{y:.1f}" text-anchor="end">{escape(labels[-1])}</text>'
    return [_text(0, y, labels[0]), last]
