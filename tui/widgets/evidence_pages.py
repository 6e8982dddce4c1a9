"""The pages of the Progress screen: each a picture with its numbers, set to a width."""

from collections.abc import Callable, Mapping

from textual.content import Content

from banks.views.evidence import Evidence, Rate, Readiness
from banks.views.weeks import Week
from domain.evidence.calibration import BRIER_WORDS, WHAT_COUNTS
from domain.questions import normal_text
from tui.plots import (
    bar,
    interval_bar,
    over_time,
    time_axis,
)
from tui.tier_reasons import waiting_words
from tui.widgets.text_block import stacked

Page = Callable[[Evidence, int, int], Content]
"""Sets a page from the evidence; the picture gets so many lines, the page so many cells."""
NAME, NAME_AT_MOST = 19, 48
"""Cells of a title: at 80 columns beside most figures, and however wide the terminal."""
BAR = 10
"""Cells of the bar beside a title where there is no more room."""


def mark_page(found: Evidence, tall: int, width: int) -> Content:
    """The mark to expect, today and on the exam day, and how it has moved."""
    forecast, weeks = found.forecast, found.weeks
    when = f"on the exam day, {found.exam:%d %b %Y}" if found.exam else "if the exam were today"
    lines = [_head(f"Predicted score {when}")]
    lines += _wrapped(forecast.sentence, width)
    if weeks:
        columns = [[(week.mark, "●", "bold $primary")] for week in weeks]
        bands = [(week.low, week.high) for week in weeks]
        floor = min(0.0, *(week.low for week in weeks))
        lines.append(over_time(columns, bands, (floor, forecast.best), width, tall))
        lines.append(_dates(weeks, width))
    lines.append(_muted("● predicted score at the time   │ 90 % range"))
    return stacked([*lines, *_wrapped(found.memory.sentence, width, "dim")])


def coverage_page(found: Evidence, tall: int, width: int) -> Content:
    """Both rounds against the plan: what was due, what was revised and swept."""
    if not found.weeks:
        return _nothing()
    columns = [
        [
            *([(float(week.due), "-", "dim")] if week.due is not None else []),
            (float(week.swept), "○", "bold $accent"),
            (float(week.revised), "●", "bold $primary"),
        ]
        for week in found.weeks
    ]
    top = max(found.questions, *(point[0] for column in columns for point in column))
    return stacked([
        _head("Questions revised and swept, against the plan"),
        over_time(columns, [None] * len(columns), (0, top), width, tall),
        _dates(found.weeks, width),
        _muted("● revised in blocks   ○ taken in sweeps   - due by the first plan"),
        Content(""),
        _covered("tried", found.tried, found.questions, "", width),
        *(
            _covered(f"round {one.round}", one.done, one.planned, f", {one.due:,} due", width)
            for one in found.rounds
        ),
    ])  # fmt: skip


def _covered(name: str, count: int, whole: int, more: str, width: int) -> Content:
    share = count / (whole or 1)
    numbers = f" {share:5.0%}  {count:,} of {whole:,}{more}"
    return Content(f"{name:9}").append(bar(share, max(10, width - 44))).append(numbers)


def ready_page(found: Evidence, tall: int, width: int) -> Content:
    """Expected of possible score by subject, what waits, and what one more hour is worth."""
    lines = [*_wrapped(_sentence(found), width), Content("")]
    lines.append(_ready_head(width, f"{'s each':>7}{'+1 hour':>8}"))
    banks = list(dict.fromkeys(one.bank for one in found.subjects))
    for bank in banks:
        if len(banks) > 1:
            lines.append(_cut(bank, width).stylize("bold"))
        own = [one for one in found.subjects if one.bank == bank]
        own.sort(key=lambda one: (-(one.hour or 0), one.title))
        for one in own:
            pace = f"{one.pace.median:.0f}" if one.pace else "–"
            hour = "–" if one.hour is None else f"{one.hour:.1f}"
            more = f"{pace:>7}{hour:>8}"
            lines.append(_ready_line(one.title, one.ready, width, more))
    words = (
        "marks: predicted for the exam day if you stop revising now, of those possible; – where "
        "too little was tried. +1 hour: what one more hour on its best questions adds."
    )
    return stacked([*lines, Content(""), *_wrapped(words, width, "dim")])


def chapter_page(found: Evidence, tall: int, width: int) -> Content:
    """The same by chapter, in the banks' order."""
    lines = [_ready_head(width)]
    for subject in found.subjects:
        lines.append(_ready_line(subject.title, subject.ready, width).stylize("bold"))
        lines += [
            _ready_line(f"  {one.title}", one.ready, width)
            for one in found.chapters
            if one.subject == subject.subject
        ]
    return stacked(lines)


def _sentence(found: Evidence) -> str:
    waiting = waiting_words(found.waiting)
    tried = f"{found.tried:,} of {found.questions:,} tried"
    return f"{waiting[:1].upper()}{waiting[1:]} · {tried}"


def _ready_head(width: int, more: str = "") -> Content:
    numbers = f"{'marks':>12}{'waiting':>9}{'settled':>9}{more}"
    return _muted(f"{'':{max(0, width - len(numbers))}}{numbers}")


def _marks(ready: Readiness) -> str:
    """ "21 of 28", "0.4 of 0.5", "– of 28"; "–" of what the exam doesn't ask."""
    if not ready.best:
        return "–"
    places = 0 if ready.best >= 10 else 1
    expected = f"{ready.expected:.{places}f}" if ready.expected is not None else "–"
    return f"{expected} of {ready.best:.{places}f}"


def _ready_line(title: str, ready: Readiness, width: int, more: str = "") -> Content:
    """A title, the expected share as a bar, the figures under their heads."""
    numbers = f"{_marks(ready):>12}{ready.waiting:>9,}{ready.settled:>9,}{more}"
    room = width - len(numbers) - 1
    name = min(NAME_AT_MOST, max(NAME, room - BAR))
    scale = max(4, room - name)
    share = (ready.expected or 0.0) / (ready.best or 1)
    return Content.assemble(
        Content(title).truncate(name, ellipsis=True, pad=True), " ", bar(share, scale), numbers
    )


def confidence_page(found: Evidence, tall: int, width: int) -> Content:
    """Confidence against outcome, and what to do about it."""
    scale = max(20, width - 30)
    lines = [_head("How often you were right when you said …")]
    for word, rate in found.calibration.levels.items():
        count = f"{rate.of:>8,}"
        lines.append(Content.assemble(f"{word:8}", _interval(rate, scale), count))
    lines.append(Content(""))
    for sentence in found.calibration.sentences:
        lines += _wrapped(sentence, width)
    if found.calibration.brier is not None:
        words = f"Brier score {found.calibration.brier:.3f}: {BRIER_WORDS}."
        lines += _wrapped(words, width, "dim")
    return stacked([*lines, *_wrapped(WHAT_COUNTS, width, "dim")])


def trust_page(found: Evidence, tall: int, width: int) -> Content:
    """What the memory model said of days kept apart, what came, and how often a look mends."""
    scale = max(20, width - 34)
    lines = [_head("Are the predictions reliable?"), *_wrapped(found.memory.sentence, width)]
    if found.memory.calibration:
        lines += [Content(""), _muted("predicted actual, with 95 % range")]
    for one in found.memory.calibration:
        bar_ = _interval(one.came, scale)
        lines.append(Content.assemble(f"{one.stated:>4.0%}      ", bar_, f"{one.came.of:>8,}"))
    lines += [Content(""), _muted("How often one review fixes a miss, by tier:")]
    for tier, mends in found.memory.mends.items():
        bar_ = interval_bar(mends.mean, mends.low, mends.high, scale)
        lines.append(Content.assemble(f"{tier:10}", bar_, f"{mends.mean:>5.0%}"))
    return stacked(lines)


def mixed_page(found: Evidence, tall: int, width: int) -> Content:
    """Options and questions that are mixed up."""
    mixed, lines = found.mixed_up, [_head("Wrong options you keep choosing")]
    if not mixed.options and not mixed.questions:
        return stacked([*lines, _muted("Nothing confused twice so far.")])
    for pair in mixed.options[:8]:
        lines.append(_cut(f"{pair.times}×  {pair.stem or pair.question}", width))
        lines.append(_cut(f"took “{pair.chosen}” for “{pair.key}”", width, indent=4))
    if mixed.questions:
        lines += [Content(""), _head("Questions you confuse")]
    for both in mixed.questions[:4]:
        lines.append(_cut(f"{both.times}×  {both.first_stem}", width))
        lines.append(_cut(f"and {both.second_stem}", width, indent=4))
    return stacked(lines)


PAGES: Mapping[str, Page] = {
    "Mark": mark_page,
    "Ready": ready_page,
    "Chapters": chapter_page,
    "Coverage": coverage_page,
    "Confidence": confidence_page,
    "Trust": trust_page,
    "Mixed up": mixed_page,
}
"""The pages by name, in order."""


def _interval(rate: Rate, scale: int) -> Content:
    if rate.rate is None or rate.low is None or rate.high is None:
        return Content.styled(f"{'not tried':<{scale + 5}}", "dim")
    return interval_bar(rate.rate, rate.low, rate.high, scale).append(f"{rate.rate:>5.0%}")


def _dates(weeks: list[Week], width: int) -> Content:
    return time_axis([f"{week.day:%d %b}" for week in weeks], width)


def _head(words: str) -> Content:
    return Content.styled(words, "bold")


def _muted(words: str) -> Content:
    return Content.styled(words, "dim")


def _wrapped(words: str, width: int, style: str = "") -> list[Content]:
    return [line.stylize(style) if style else line for line in Content(words).wrap(max(width, 1))]


def _cut(words: str, width: int, indent: int = 0) -> Content:
    return Content(" " * indent + normal_text(words)).truncate(width, ellipsis=True)


def _nothing() -> Content:
    return _muted("Nothing recorded yet: mark or drill a chapter first.")
