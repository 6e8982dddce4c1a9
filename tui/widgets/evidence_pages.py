"""The pages of the Progress screen: one sentence each, a picture, its figures at one edge."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from textual.content import Content

from banks.views.confusions import Confusion, ConfusionKind
from banks.views.evidence import Evidence, Rate, Readiness, SubjectEvidence, are_enough
from domain.evidence.calibration import STATED_ENOUGH, WHAT_COUNTS
from domain.evidence.forecast import LOG_WORTH
from domain.questions import normal_text
from domain.text import counted
from tui.dates import day_near
from tui.plots import Curve, Layer, bar, curves, interval_bar, stacked_areas
from tui.score_words import bounds_words, guessing_words, own_record_words, score_sentences
from tui.tier_reasons import waiting_words
from tui.widgets.text_block import beside, stacked


class PageLayout(NamedTuple):
    """What a page is set to: cells and lines in sight, and whether subjects show chapters."""

    width: int
    height: int
    by_chapter: bool = False

    @property
    def is_wide(self) -> bool:
        """Whether a picture has room beside the figures."""
        return self.width >= WIDE

    def column(self, share: float) -> "PageLayout":
        """One of two columns, so much of the width."""
        return self._replace(width=int((self.width - GAP) * share))

    @property
    def picture_rows(self) -> int:
        """Rows of a picture: half the page, within reason."""
        return max(7, min(18, self.height // 2 - 4))


Page = Callable[[Evidence, PageLayout], Content]
WIDE, GAP = 106, 4
TABLE = 0.58
"""How much of the width the table of subjects has beside the pictures."""
NAME, NAME_AT_MOST = 19, 48
"""Cells of a title: at 80 columns beside most figures, and however wide the terminal."""
BAR, LEAST_BAR = 10, 4
"""Cells of the bar beside a title where there is no more room."""
_PAPERS = 6
"""Papers listed, the newest."""
_GAPS = 6
"""Subjects listed, those with the widest gap."""


def standing_page(evidence: Evidence, layout: PageLayout) -> Content:
    """What is settled, what waits, and how ready each subject is."""
    lead = stacked(_wrapped(_standing_words(evidence), layout.width, "bold"))
    if layout.is_wide:
        left, right = layout.column(TABLE), layout.column(1 - TABLE)
        pictures = [*_standing_over_time(evidence, right), Content(""), *_coverage(evidence, right)]
        table = stacked(_ready_table(evidence, left))
        return stacked([lead, Content(""), beside(table, stacked(pictures), left.width, GAP)])
    return stacked(
        [
            lead,
            *_standing_over_time(evidence, layout),
            Content(""),
            *_ready_table(evidence, layout),
            Content(""),
            *_coverage(evidence, layout),
        ]
    )


def score_page(evidence: Evidence, layout: PageLayout) -> Content:
    """The score from outside papers and on the bank's questions, and what both rest on."""
    forecast, weeks, score = evidence.forecast, evidence.weeks, evidence.score
    first, *others = score_sentences(score)
    if score.outside is None:
        others.insert(0, first)
        first = others.pop(1)
    lead = stacked(
        [
            *_wrapped(first, layout.width, "bold"),
            *(line for words in others for line in _wrapped(words, layout.width)),
        ]
    )
    side = layout.column(0.5) if layout.is_wide else layout
    picture = []
    # A single score, even of the past, is told only where papers anchor it.
    if weeks and score.is_anchored:
        marks = [week.mark for week in weeks]
        ranges = [(week.low, week.high) for week in weeks]
        lowest = min(*marks, *(low for low, _ in ranges))
        name = f"{marks[-1]:.0f} of {forecast.best:.0f}"
        drawn = curves(
            [Curve(name, marks, "$accent", band=ranges)],
            [week.day for week in weeks],
            (lowest, forecast.best),
            side.width,
            layout.picture_rows + 3,
        )
        words = "Had the exam been that week, by today's model; dotted: 90 % range"
        picture = [Content(""), drawn, *_wrapped(words, side.width, "$muted")]
    papers = [*_papers(evidence, side.width), *_gaps(evidence, side.width)]
    grounds = _rests_on(evidence, side.width)
    if layout.is_wide and not picture:
        both = beside(stacked(papers), stacked(grounds), side.width, GAP)
        return stacked([lead, Content(""), both])
    if layout.is_wide:
        results = stacked([*papers, Content(""), *grounds])
        return stacked([lead, Content(""), beside(stacked(picture), results, side.width, GAP)])
    return stacked([lead, Content(""), *papers, *picture, Content(""), *grounds])


def reliability_page(evidence: Evidence, layout: PageLayout) -> Content:
    """Confidence against outcome, and the predictions against what came."""
    side = layout.column(0.5) if layout.is_wide else layout
    own, predicted = _confidence(evidence, side.width), _predictions(evidence, side.width)
    if layout.is_wide:
        return beside(stacked(own), stacked(predicted), side.width, GAP)
    return stacked([*own, Content(""), *predicted])


def mixed_page(evidence: Evidence, layout: PageLayout) -> Content:
    """How much is mixed up; the list of it stands below."""
    kinds = Counter(confusion.kind for confusion in evidence.mixed_up)
    words = [
        phrase
        for kind, phrase in (
            (ConfusionKind.OPTION, "wrong options you keep choosing"),
            (ConfusionKind.QUESTIONS, "pairs of questions you confuse"),
            (ConfusionKind.SAID, "questions you said you mixed up"),
        )
        if kinds[kind]
        for phrase in [f"{kinds[kind]:,} {phrase}"]
    ]
    if not words:
        return _muted("Nothing confused twice so far.")
    return stacked(_wrapped(" · ".join(words), layout.width, "bold"))


def confusion_line(confusion: Confusion, _: int) -> Content:
    """How often, what was taken for what, where: "3×  “gale” for “storm” · Wind · Force · 8"."""
    question = confusion.questions[0]
    where = " / ".join(question.where for question in confusion.questions)
    match confusion.kind:
        case ConfusionKind.OPTION:
            what = f"“{question.chosen_text}” for “{question.key_text}”"
        case ConfusionKind.QUESTIONS:
            what = " and ".join(f"“{question.key_text}”" for question in confusion.questions)
        case ConfusionKind.SAID:
            what = "you said so"
    times = f"{confusion.times:>3}×  "
    return Content.assemble(times, normal_text(what), (f" · {where}", "$muted"))


def diary_page(evidence: Evidence, layout: PageLayout) -> Content:
    """What each study day brought, the newest first."""
    if not evidence.diary:
        return _muted("Nothing recorded yet: mark or drill a chapter first.")
    total = sum(day.questions for day in evidence.diary)
    words = (
        f"{counted(len(evidence.diary), 'study day')}, {total / len(evidence.diary):,.0f} questions"
    )
    lines = [Content.styled(f"{words} per day", "bold"), Content("")]
    heads = ("questions", "right at first", "missed", "settled", "minutes")
    lines.append(_muted(f"{'':20}" + "".join(f"{head:>{len(head) + 2}}" for head in heads)))
    for day in evidence.diary:
        minutes = f"{day.minutes:,.0f}" if day.minutes else "–"
        when = f"{day.day:%a} {day_near(day.day, evidence.today)}"
        share = f"{day.right_first / day.questions:.0%}"
        figures = f"{day.questions:>11,}{share:>16}{day.missed:>8,}{day.settled:>9,}{minutes:>9}"
        lines.append(Content(f"{when:<20}{figures}").truncate(layout.width, ellipsis=True))
    return stacked(lines)


MIXED_UP = "Mixed up"
"""The page whose list stands below it."""
PAGES: Mapping[str, Page] = {
    "Where I stand": standing_page,
    "Score": score_page,
    "Reliability": reliability_page,
    MIXED_UP: mixed_page,
    "Diary": diary_page,
}
"""The pages by name, in order."""


# where I stand


def _standing_words(evidence: Evidence) -> str:
    waiting = waiting_words(evidence.waiting)
    tried = f"{evidence.tried:,} of {evidence.questions:,} tried"
    return f"{waiting[:1].upper()}{waiting[1:]} · {tried}"


def _standing_over_time(evidence: Evidence, layout: PageLayout) -> list[Content]:
    weeks = evidence.weeks
    if not weeks:
        return [_muted("Nothing recorded yet: mark or drill a chapter first.")]
    under_way = [evidence.questions - week.settled - week.waiting - week.untried for week in weeks]
    layers = [
        Layer("settled", [week.settled for week in weeks], "█", "$success"),
        Layer("under way", under_way, "▒", "$mark"),
        Layer("waiting", [week.waiting for week in weeks], "░", "$warning"),
        Layer("untried", [week.untried for week in weeks], " ", "$muted"),
    ]
    days = [week.day for week in weeks]
    return [stacked_areas(layers, days, layout.width, layout.picture_rows)]


def _coverage(evidence: Evidence, layout: PageLayout) -> list[Content]:
    """Questions revised and swept by week, and what the first plan had due by then."""
    weeks = evidence.weeks
    if not weeks:
        return []
    due = [None if week.due is None else float(week.due) for week in weeks]
    revised, swept = [week.revised for week in weeks], [week.swept for week in weeks]
    drawn = [
        Curve(f"swept {swept[-1]:,}", swept, "$mark"),
        Curve(f"revised {revised[-1]:,}", revised, "$accent"),
    ]
    if due[-1] is not None:
        drawn.append(Curve(f"due {due[-1]:,.0f}", due, "$foreground", dashed=True))
    top = max(1.0, *revised, *swept, *(value for value in due if value is not None))
    days = [week.day for week in weeks]
    words = "Revised and swept" + (", against the first plan" if evidence.rounds else "")
    return [
        _head(words),
        curves(drawn, days, (0.0, top), layout.width, layout.picture_rows),
        *(_wrapped(line, layout.width, "$muted")[0] for line in _coverage_words(evidence)),
    ]


def _coverage_words(evidence: Evidence) -> Iterator[str]:
    """First study, each round and the sweeps apart."""
    study = evidence.first_study
    yield f"First study: {study.studied:,} of {study.questions:,} questions"
    for covered in evidence.rounds:
        counts = f"{covered.done:,} of {covered.planned:,} done, {covered.due:,} due"
        yield f"Round {covered.round}: {counts}"
    if sweeps := evidence.sweeps:
        yield f"Sweeps: {sweeps.done} of {sweeps.planned} done, {sweeps.due} due"


def _ready_table(evidence: Evidence, layout: PageLayout) -> list[Content]:
    """By subject, the one that gains most from an hour first; with chapters where asked for."""
    width = layout.width
    lines = [_ready_head(width, f"{'+1 hour':>9}")]
    banks = list(dict.fromkeys(subject.bank for subject in evidence.subjects))
    for bank in banks:
        if len(banks) > 1:
            lines.append(_cut(bank, width).stylize("bold"))
        own = [subject for subject in evidence.subjects if subject.bank == bank]
        own.sort(key=lambda subject: (-(subject.hour or 0), subject.title))
        for subject in own:
            lines += _ready_subject(evidence, subject, layout)
    words = (
        "marks: predicted for the exam day, of those possible; – where too little was tried. "
        "+1 hour: marks that one more hour on its best questions adds."
    )
    return [*lines, *_wrapped(words, width, "$muted")]


def _ready_subject(
    evidence: Evidence, subject: SubjectEvidence, layout: PageLayout
) -> Sequence[Content]:
    hour = "–" if subject.hour is None else f"{subject.hour:.1f}"
    line = _ready_line(subject.title, subject.ready, layout.width, f"{hour:>9}")
    if not layout.by_chapter:
        return [line]
    chapters = [
        _ready_line(f"  {chapter.title}", chapter.ready, layout.width, " " * 9)
        for chapter in evidence.chapters
        if chapter.subject == subject.subject
    ]
    return [line.stylize("bold"), *chapters]


def _ready_head(width: int, more: str) -> Content:
    numbers = f"{'marks':>12}{'waiting':>9}{'settled':>9}{more}"
    return _muted(f"{'':{max(0, width - len(numbers))}}{numbers}")


def _marks(ready: Readiness) -> str:
    """ "21 of 28", "0.4 of 0.5", "– of 28"; "–" of what the exam doesn't ask."""
    if not ready.best:
        return "–"
    places = 0 if ready.best >= 10 else 1
    expected = f"{ready.expected:.{places}f}" if ready.expected is not None else "–"
    return f"{expected} of {ready.best:.{places}f}"


def _ready_line(title: str, ready: Readiness, width: int, more: str) -> Content:
    """A title, the expected share as a bar, the figures under their heads."""
    numbers = f"{_marks(ready):>12}{ready.waiting:>9,}{ready.settled:>9,}{more}"
    space = width - len(numbers) - 1
    name = max(8, min(NAME_AT_MOST, max(NAME, space - BAR), space - LEAST_BAR))
    share = (ready.expected or 0.0) / (ready.best or 1)
    return Content.assemble(
        Content(title).truncate(name, ellipsis=True, pad=True),
        " ",
        bar(share, max(LEAST_BAR, space - name)),
        numbers,
    )


# the score


def _rests_on(evidence: Evidence, width: int) -> list[Content]:
    score = evidence.score
    exam = (
        f"the exam on {day_near(evidence.exam, evidence.today)}"
        if evidence.exam
        else "an exam today"
    )
    words = [
        f"For {exam}: {counted(score.questions, 'question')}, {score.scheme}.",
        "On your bank's questions: a memory model that allows for guesses. Your log chose its own "
        f"questions, so all of it counts as at most {LOG_WORTH:,} responses; those in sample "
        "papers and rehearsals count in full. The exam's: how far papers sat elsewhere lay off "
        "that.",
    ]
    if score.keep is None and evidence.exam and not score.has_model:
        words.append(
            "No score for a plan that is kept yet: it takes a memory model that is trusted (see "
            "Reliability)."
        )
    lines = [_head("What it rests on")]
    for sentence in words:
        lines += _wrapped(sentence, width)
    return lines


def _papers(evidence: Evidence, width: int) -> list[Content]:
    """The newest papers, each with what was predicted before it."""
    before = "predicted before"
    lines = [_head("Papers") + _muted(f"{before:>{max(0, width - 6)}}")]
    if not evidence.papers:
        return [*lines, _muted("None yet.")]
    for paper in evidence.papers[: -_PAPERS - 1 : -1]:
        predicted = bounds_words(*paper.predicted) if paper.predicted else "–"
        numbers = f"{paper.marks:>7.4g} of {paper.best:<5g}{predicted:>10}"
        day = f"{day_near(paper.day, evidence.today):<12}"
        name = max(8, width - len(day) - len(numbers))
        kind = Content(paper.kind.capitalize()).truncate(name, ellipsis=True, pad=True)
        lines.append(Content.assemble(day, kind, numbers))
    return lines


def _gaps(evidence: Evidence, width: int) -> list[Content]:
    """By subject, how far the outside papers lay off the bank's questions."""
    if not evidence.score.gaps:
        return []
    lines = [Content(""), _head("Outside papers and your bank, by subject")]
    for gap in evidence.score.gaps[:_GAPS]:
        numbers = f"{gap.outside:>5.0%} of {gap.questions:<4} bank {gap.bank:>4.0%}"
        name = max(8, width - len(numbers))
        title = Content(gap.subject).truncate(name, ellipsis=True, pad=True)
        lines.append(Content.assemble(title, numbers))
    return lines


# is it reliable


def _confidence(evidence: Evidence, width: int) -> list[Content]:
    """The rule for guessing and the own record beside it; papers and drills apart."""
    guessing, calibration = evidence.guessing, evidence.calibration
    lines = _wrapped(guessing_words(guessing.break_even, guessing.random), width, "bold")
    if record := own_record_words(calibration):
        lines += _wrapped(record, width)
    for source, levels in (("a paper", calibration.papers), ("a drill", calibration.drills)):
        lines += [Content(""), _head(f"How often you were right when you said in {source} …")]
        if are_enough(levels):
            scale = max(20, width - 22)
            lines += [_rate_line(f"{word:8}", level, scale) for word, level in levels.items()]
        else:
            stated = sum(level.of for level in levels.values())
            words = f"Shown from {STATED_ENOUGH} responses with a confidence; so far {stated}."
            lines += _wrapped(words, width, "$muted")
    return [*lines, Content(""), *_wrapped(WHAT_COUNTS, width, "$muted")]


def _predictions(evidence: Evidence, width: int) -> list[Content]:
    """The chances said of days kept apart, each against how often it came right."""
    lines = [_head("Are the predictions reliable?"), *_wrapped(evidence.memory.sentence, width)]
    if not evidence.memory.calibration:
        return lines
    scale = max(20, width - 22)
    lines += [Content(""), _muted(f"{'predicted':10}{'actual, with 95 % range':>{scale}}   tries")]
    lines += [
        _rate_line(f"{group.stated:>5.0%}   ", group.came, scale, group.stated)
        for group in evidence.memory.calibration
    ]
    return [*lines, *_wrapped("│ predicted   ● actual", width, "$muted")]


def _rate_line(label: str, rate: Rate, scale: int, expected: float | None = None) -> Content:
    if rate.rate is None or rate.low is None or rate.high is None:
        return Content.assemble(label, (f"{'not tried':<{scale + 5}}", "$muted"))
    drawn = interval_bar(rate.rate, rate.low, rate.high, scale, expected)
    return Content.assemble(label, drawn, f"{rate.rate:>5.0%}", (f"{rate.of:>8,}", "$muted"))


def _head(words: str) -> Content:
    return Content.styled(words, "bold")


def _muted(words: str) -> Content:
    return Content.styled(words, "$muted")


def _wrapped(words: str, width: int, style: str = "") -> list[Content]:
    return [line.stylize(style) if style else line for line in Content(words).wrap(max(width, 1))]


def _cut(words: str, width: int, indent: int = 0) -> Content:
    return Content(" " * indent + normal_text(words)).truncate(width, ellipsis=True)
