"""The report's page, made of the evidence, with a picture in SVG. Every text is escaped."""

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

from banks.exporters.question_rows import encoded, write_file
from banks.views.confusions import Confusion
from banks.views.evidence import Evidence, Rate, Readiness, SubjectEvidence
from domain.evidence.calibration import BRIER_WORDS, WHAT_COUNTS
from domain.text import counted

STYLE = """
:root { color-scheme: light dark; --ink: #1f1f1f; --paper: #fbf9f3; --soft: #767062;
  --line: #1f5f8b; }
@media (prefers-color-scheme: dark) { :root { --ink: #dcd7ba; --paper: #16161d; --soft: #8a8778;
  --line: #7fb4ca; } }
body { font: 16px/1.5 system-ui, sans-serif; color: var(--ink); background: var(--paper);
  max-width: 44rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.4rem; } h2 { font-size: 1.1rem; margin-top: 2rem; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: right; padding: .15rem .4rem; border-bottom: 1px solid #8883; }
th:first-child, td:first-child { text-align: left; }
svg { width: 100%; height: auto; } svg text { font-size: 12px; fill: var(--ink); }
.grid { stroke: #8884; } .band { fill: var(--line); opacity: .25; }
.mark { fill: none; stroke: var(--line); stroke-width: 2; }
h3 { font-size: 1rem; }
.soft { color: var(--soft); }
"""


def save(evidence: Evidence, mixed_up: Sequence[Confusion], path: Path) -> None:
    """Write the page to a file. Raises InputError or StoreError."""
    write_file(path, encoded(page(evidence, mixed_up)))


def page(evidence: Evidence, mixed_up: Sequence[Confusion]) -> str:
    """The whole page."""
    parts = [
        f"<h1>Where you stand on {evidence.today}</h1>",
        _line(
            f"{evidence.tried} of {evidence.questions} questions tried,"
            f" {evidence.responses} responses."
        ),
        *(
            [_line(f"Not counted: {evidence.elsewhere} questions outside the plan.")]
            if evidence.elsewhere
            else []
        ),
        *_forecast(evidence),
        *_coverage(evidence),
        *_subjects(evidence),
        *_calibration(evidence),
        *_trust(evidence),
        *_papers(evidence),
        *_mixed_up(mixed_up),
    ]
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f"<title>Where you stand, {evidence.today}</title><style>{STYLE}</style></head><body>"
        + "\n".join(parts)
        + "</body></html>\n"
    )


def percent(rate: Rate) -> str:
    """A share and its interval in words."""
    if rate.rate is None:
        return "not tried"
    return f"{rate.rate:.0%} ({rate.low:.0%}–{rate.high:.0%}), {rate.of} responses"


def _forecast(evidence: Evidence) -> Iterable[str]:
    yield "<h2>Predicted score</h2>"
    for name, prediction in (
        ("questions from your bank, if you stop now", evidence.score.stop),
        ("questions from your bank, if the plan is kept", evidence.score.keep),
        ("the exam, from outside papers", evidence.score.outside),
    ):
        if prediction is not None:
            low, high = prediction.low, prediction.high
            yield _line(f"On {name}: {low:.0f} to {high:.0f} of {evidence.score.best:.0f}.")
    yield _line(
        f"90 % ranges; anchored on {counted(evidence.score.papers, 'recent paper')} of your bank"
        f" and {counted(evidence.score.outside_papers, 'outside paper')}."
    )
    if evidence.score.is_anchored:
        rows = [(week.mark, week.low, week.high) for week in evidence.weeks]
        yield band([str(week.day) for week in evidence.weeks], rows, evidence.forecast.best)
        words = "The line is the score had the exam been that week, by today's model; the band its"
        yield _line(f"{words} 90 % range.", "soft")


def _trust(evidence: Evidence) -> Iterable[str]:
    yield "<h2>Are the predictions reliable?</h2>"
    yield _line(evidence.memory.sentence)
    if evidence.memory.calibration:
        yield _table(
            ("predicted", "actual"),
            [(f"{group.stated:.0%}", percent(group.came)) for group in evidence.memory.calibration],
        )


def _coverage(evidence: Evidence) -> Iterable[str]:
    yield "<h2>Covered so far</h2>"
    if evidence.weeks:
        now = evidence.weeks[-1]
        yield _line(f"{now.revised} questions revised, {now.swept} swept.")
    yield _line(f"First study: {evidence.first_study.studied} of {evidence.first_study.questions}.")
    for covered in evidence.rounds:
        counts = f"{covered.done} of {covered.planned}, {covered.due} due by today"
        yield _line(f"Round {covered.round}: {counts}.")
    if sweeps := evidence.sweeps:
        yield _line(f"Sweeps: {sweeps.done} of {sweeps.planned}, {sweeps.due} due by today.")


def _subjects(evidence: Evidence) -> Iterable[str]:
    yield "<h2>Subjects and chapters</h2>"
    yield _line(
        f"Waiting (tried, not settled, and not tried for long): {evidence.waiting.waiting:,}. "
        f"Settled: {evidence.waiting.settled:,}."
    )
    banks = list(dict.fromkeys(subject.bank for subject in evidence.subjects))
    for bank in banks:
        if len(banks) > 1:
            yield f"<h3>{escape(bank)}</h3>"
        own = [subject for subject in evidence.subjects if subject.bank == bank]
        yield _subjects_of(own)
        yield from _chapters_of(own, evidence)


def _subjects_of(subjects: Sequence[SubjectEvidence]) -> str:
    return _table(
        ("subject", *_READY, "s per question", "one more hour"),
        [
            (
                subject.title,
                *_ready(subject.ready),
                f"{subject.pace.median:.0f}" if subject.pace else "–",
                _hour(subject.hour),
            )
            for subject in subjects
        ],
    )


def _hour(gain: float | None) -> str:
    return "–" if gain is None else f"+{gain:.1f}"


def _chapters_of(subjects: Sequence[SubjectEvidence], evidence: Evidence) -> Iterable[str]:
    for subject in subjects:
        chapters = [chapter for chapter in evidence.chapters if chapter.subject == subject.subject]
        rows = [(chapter.title, *_ready(chapter.ready)) for chapter in chapters]
        yield f"<details><summary>{escape(subject.title)}</summary>"
        yield _table(("chapter", *_READY), rows) + "</details>"


_READY = ("expected marks", "of", "waiting", "settled", "hard-tiers", "untried", "questions")


def _ready(ready: Readiness) -> tuple[object, ...]:
    return (
        f"{ready.expected:.1f}" if ready.expected is not None else "–",
        f"{ready.best:.1f}",
        ready.waiting,
        ready.settled,
        ready.hard,
        ready.untried,
        ready.questions,
    )


def _calibration(evidence: Evidence) -> Iterable[str]:
    yield "<h2>Confidence</h2>"
    calibration = evidence.calibration
    yield _table(
        ("you said", "right in papers", "right in drills"),
        [
            (word, percent(in_papers), percent(calibration.drills[word]))
            for word, in_papers in calibration.papers.items()
        ],
    )
    if evidence.calibration.brier is not None:
        yield _line(WHAT_COUNTS, "soft")
        yield _line(f"Brier score {evidence.calibration.brier:.3f}: {BRIER_WORDS}.", "soft")


def _papers(evidence: Evidence) -> Iterable[str]:
    if evidence.papers:
        yield "<h2>Papers</h2>"
        yield _table(
            ("day", "paper", "questions", "right", "wrong", "blank", "marks", "of", "predicted"),
            [
                (
                    str(paper.day),
                    paper.kind,
                    paper.questions,
                    paper.right,
                    paper.wrong,
                    paper.blank,
                    f"{paper.marks:g}",
                    f"{paper.best:g}",
                    "–".join(f"{value:.0f}" for value in paper.predicted or ()),
                )
                for paper in evidence.papers
            ],
        )


def _mixed_up(mixed_up: Sequence[Confusion]) -> Iterable[str]:
    if mixed_up:
        yield "<h2>Mixed up</h2>"
        yield _table(
            ("how", "question", "taken", "key", "times"),
            [
                (
                    confusion.kind if place == 0 else "",
                    question.stem or question.where,
                    question.chosen_text,
                    question.key_text,
                    confusion.times if place == 0 else "",
                )
                for confusion in mixed_up
                for place, question in enumerate(confusion.questions)
            ],
        )


def _line(words: str, shade: str = "") -> str:
    return f'<p class="{shade}">{escape(words)}</p>' if shade else f"<p>{escape(words)}</p>"


def _table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    head = "".join(f"<th>{escape(heading)}</th>" for heading in heads)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


_CHART_WIDTH = 640


def band(labels: Sequence[str], rows: Sequence[tuple[float, float, float]], best: float) -> str:
    """A line with its range (middle, low, high) over time, on a scale up to `best`, which is
    told with the scale's middle and foot.
    """
    if not rows:
        return ""
    height, step = 160, _CHART_WIDTH / max(1, len(rows) - 1)
    bottom = min(0.0, min(low for _, low, _ in rows))
    span = (best - bottom) or 1

    def y(value: float) -> float:
        return height - (value - bottom) / span * height

    upper = [f"{index * step:.1f},{y(high):.1f}" for index, (_, _, high) in enumerate(rows)]
    lower = [f"{index * step:.1f},{y(low):.1f}" for index, (_, low, _) in enumerate(rows)]
    middle = [f"{index * step:.1f},{y(mark):.1f}" for index, (mark, _, _) in enumerate(rows)]
    scale = [
        f'<line class="grid" x1="0" x2="{_CHART_WIDTH}" y1="{y(mark):.1f}" y2="{y(mark):.1f}"/>'
        + _svg_text(0, y(mark) + (12 if mark == best else -4), f"{mark:.0f}")
        for mark in (best, (best + bottom) / 2, bottom)
    ]
    drawn = [
        *scale,
        f'<polygon class="band" points="{" ".join(upper + lower[::-1])}"/>',
        f'<polyline class="mark" points="{" ".join(middle)}"/>',
        *_ends(labels, height + 16),
    ]
    size = f"0 0 {_CHART_WIDTH} {height + 24:.0f}"
    return f'<svg viewBox="{size}" role="img">{"".join(drawn)}</svg>'


def _svg_text(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _ends(labels: Sequence[str], y: float) -> list[str]:
    if not labels:
        return []
    last = f'<text x="{_CHART_WIDTH}" y="{y:.1f}" text-anchor="end">{escape(labels[-1])}</text>'
    return [_svg_text(0, y, labels[0]), last]
