"""Small pictures in SVG: stacked bars over weeks, shares with intervals, a band over time."""

from collections.abc import Sequence
from html import escape

WIDTH = 640
TITLE = 40
"""Letters of a title beside a chart."""
SHADES = ("s0", "s1", "s2", "s3", "s4")
"""Classes of the page's style sheet, from untried to hardest."""


def stacked(labels: Sequence[str], rows: Sequence[Sequence[int]], names: Sequence[str]) -> str:
    """A bar a row, stacked from `names`; each part tells its number when pointed at."""
    height, low = 180, 24
    step = WIDTH / max(1, len(rows))
    top = max((sum(row) for row in rows), default=0) or 1
    parts = []
    for place, row in enumerate(rows):
        y = float(height)
        for shade, name, count in zip(SHADES, names, row, strict=True):
            tall = count / top * height
            y -= tall
            parts.append(
                _rect(
                    place * step + 1, y, step - 2, tall, shade, f"{labels[place]}: {count} {name}"
                )
            )
    return _svg(height + low, [*parts, *_ends(labels, height + 16)])


def intervals(rows: Sequence[tuple[str, float | None, float | None, float | None]]) -> str:
    """A line a row: title, and share with its interval on a scale from 0 to 100 %."""
    line, left = 20, 250
    scale = WIDTH - left - 60
    parts = [
        f'<line class="grid" x1="{left + mark * scale}" x2="{left + mark * scale}" y1="0" '
        f'y2="{line * len(rows)}"/>'
        for mark in (0, 0.25, 0.5, 0.75, 1)
    ]
    for place, (title, rate, low, high) in enumerate(rows):
        y = place * line + 14
        parts.append(_text(0, y, title[:TITLE]))
        if rate is None or low is None or high is None:
            parts.append(_text(left, y, "not tried"))
            continue
        parts.append(
            f'<line class="range" x1="{left + low * scale:.1f}" x2="{left + high * scale:.1f}" '
            f'y1="{y - 4}" y2="{y - 4}"/>'
            f'<circle class="dot" cx="{left + rate * scale:.1f}" cy="{y - 4}" r="4"/>'
        )
        parts.append(_text(WIDTH - 48, y, f"{rate:.0%}"))
    return _svg(line * len(rows) + 6, parts)


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


def _rect(x: float, y: float, wide: float, tall: float, shade: str, words: str) -> str:
    return (
        f'<rect class="{shade}" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}">'
        f"<title>{escape(words)}</title></rect>"
    )


def _text(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _ends(labels: Sequence[str], y: float) -> list[str]:
    if not labels:
        return []
    last = f'<text x="{WIDTH}" y="{y:.1f}" text-anchor="end">{escape(labels[-1])}</text>'
    return [_text(0, y, labels[0]), last]
