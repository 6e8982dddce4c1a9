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
from tui.sweep_words import hour_figure, hour_words
from tui.tier_reasons import elsewhere_words, waiting_words
from tui.widgets.text_block import beside, stacked


class PageLayout(NamedTuple):
    """What a page is set to: cells and lines in sight."""

    width: int
    height: int

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
WeakLine = str | SubjectEvidence | Confusion
"""A line of what is weak: a heading, a subject, or what is mixed up."""
NOTHING_YET = "Nothing recorded yet: mark or drill a chapter first."
WIDE, GAP = 106, 4
PICTURES = 0.55
"""How much of the width the pictures have beside the diary."""
NAME, NAME_AT_MOST = 24, 48
"""Cells of a title: at 80 columns beside most figures, and however wide the terminal."""
BAR, LEAST_BAR = 10, 4
"""Cells of the bar beside a title where there is no more room."""
_DIARY = 50
"""Cells of a day's line in the diary."""
_ONE_LINE = 66
"""Cells from which on a chapter's title and its figures share a line."""
_PAPERS = 6
"""Papers listed, the newest."""
_GAPS = 6
"""Subjects listed, those with the widest gap."""


def standing_page(evidence: Evidence, layout: PageLayout) -> Content:
    """What is settled and what waits, what is covered, and what each study day brought."""
    lead = stacked(_wrapped(_standing_words(evidence), layout.width, "bold"))
    if elsewhere := elsewhere_words(evidence.elsewhere):
        lead = stacked([lead, *_wrapped(elsewhere, layout.width, "$muted")])
    if not evidence.weeks:
        return stacked([lead, Content(""), _muted(NOTHING_YET)])
    left = layout
    if layout.is_wide:
        left = layout._replace(
            width=min(layout.column(PICTURES).width, layout.width - GAP - _DIARY)
        )
    pictures = [*_standing_over_time(evidence, left), Content(""), *_coverage(evidence, left)]
    diary = stacked(_diary(evidence))
    if layout.is_wide:
        return stacked([lead, Content(""), beside(stacked(pictures), diary, left.width, GAP)])
    return stacked([lead, *pictures, Content(""), diary])


def weak_page(evidence: Evidence, layout: PageLayout) -> Content:
    """Where an hour adds most; the list of subjects and of what is mixed up stands below."""
    if not evidence.weeks:
        return _muted(NOTHING_YET)
    return stacked(_wrapped(hour_words(evidence.subjects), layout.width, "bold"))


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
    came = [*_papers(evidence, side.width), *_gaps(evidence, side.width), Content("")]
    came += _confidence(evidence, side.width)
    grounds = [*_predictions(evidence, side.width), Content(""), *_rests_on(evidence, side.width)]
    if layout.is_wide:
        left = stacked([*came, *picture])
        return stacked([lead, Content(""), beside(left, stacked(grounds), side.width, GAP)])
    return stacked([lead, Content(""), *came, *picture, Content(""), *grounds])


PAGES: Mapping[str, Page] = {
    "Where I stand": standing_page,
    "What is weak": weak_page,
    "How sure it is": score_page,
}
"""The pages by name, in order."""
WEAK = 1
"""The place of the page with a list, the selected line told about beside it."""


# where I stand


def _standing_words(evidence: Evidence) -> str:
    waiting = waiting_words(evidence.waiting)
    tried = f"{evidence.tried:,} of {evidence.questions:,} tried"
    return f"{waiting[:1].upper()}{waiting[1:]} · {tried}"


def _standing_over_time(evidence: Evidence, layout: PageLayout) -> list[Content]:
    weeks = evidence.weeks
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


def _diary(evidence: Evidence) -> list[Content]:
    """What each study day brought, the newest first."""
    total = sum(day.questions for day in evidence.diary)
    days = counted(len(evidence.diary), "study day")
    lines = [_head(f"{days}, {total / len(evidence.diary):,.0f} questions per day")]
    lines.append(_muted(f"{'':15}{'q':>5}{'right':>7}{'missed':>8}{'settled':>9}{'min':>6}"))
    for day in evidence.diary:
        minutes = f"{day.minutes:,.0f}" if day.minutes else "–"
        when = f"{day.day:%a} {day_near(day.day, evidence.today)}"
        share = f"{day.right_first / day.questions:.0%}"
        figures = f"{day.questions:>5,}{share:>7}{day.missed:>8,}{day.settled:>9,}{minutes:>6}"
        lines.append(Content(f"{when:<15}{figures}"))
    return [*lines, _muted("right: at the day's first try")]


# what is weak


def weak_lines(evidence: Evidence, mixed_up: Sequence[Confusion] | None) -> list[WeakLine]:
    """Each bank's subjects, the one that gains most from an hour first; then what is mixed up.

    None: that was not read yet.
    """
    subjects = sorted(evidence.subjects, key=lambda subject: (-(subject.hour or 0), subject.title))
    lines: list[WeakLine] = []
    for bank in dict.fromkeys(subject.bank for subject in subjects):
        lines += [bank, *(subject for subject in subjects if subject.bank == bank)]
    if mixed_up is None:
        return lines
    return [*lines, _mixed_up_words(mixed_up), *mixed_up]


def _mixed_up_words(mixed_up: Sequence[Confusion]) -> str:
    kinds = Counter(confusion.kind for confusion in mixed_up)
    options, pairs = kinds[ConfusionKind.OPTION], kinds[ConfusionKind.QUESTIONS]
    counts = [
        counted(options, "wrong option") if options else "",
        counted(pairs, "pair") if pairs else "",
        f"{kinds[ConfusionKind.SAID]:,} you said" if kinds[ConfusionKind.SAID] else "",
    ]
    return (
        f"Mixed up: {', '.join(filter(None, counts))}" if kinds else "Nothing mixed up twice so far"
    )


def weak_line(line: WeakLine, width: int) -> Content:
    """A heading, a subject with its figures, or what was mixed up."""
    if isinstance(line, str):
        return _head(line)
    if isinstance(line, SubjectEvidence):
        return _ready_line(line.title, line.ready, width, f"{hour_figure(line.hour):>9}")
    return _confusion_line(line)


def _confusion_line(confusion: Confusion) -> Content:
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


def weak_head(width: int) -> Content:
    """What the figures of `weak_line` are, over them."""
    return _ready_head(width, f"{'+1 hour':>9}")


def subject_text(evidence: Evidence, subject: SubjectEvidence, width: int) -> Content:
    """A subject's chapters, and what the figures are."""
    chapters = [chapter for chapter in evidence.chapters if chapter.subject == subject.subject]
    parts = [_cut(subject.title, width).stylize("bold"), _ready_head(width, "")]
    for chapter in chapters:
        if width >= _ONE_LINE:
            parts.append(_ready_line(chapter.title, chapter.ready, width, ""))
        else:
            parts += [_cut(chapter.title, width), _ready_line("", chapter.ready, width, "", 0)]
    return stacked([*parts, Content(""), figures_text(width)])


def figures_text(width: int) -> Content:
    """What the figures of subjects and chapters are."""
    words = (
        "marks: predicted for the exam day, of those possible; – where too little was tried. "
        "+1 hour: marks that one more hour on its best questions adds."
    )
    return stacked(_wrapped(words, width, "$muted"))


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


def _ready_line(
    title: str, ready: Readiness, width: int, more: str, name: int | None = None
) -> Content:
    """A title, the expected share as a bar, the figures under their heads."""
    numbers = f"{_marks(ready):>12}{ready.waiting:>9,}{ready.settled:>9,}{more}"
    space = width - len(numbers) - 1
    if name is None:
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
        "The score on your bank's questions comes from a memory model that allows for guesses. "
        f"Your log chose its own questions, so all of it counts as at most {LOG_WORTH:,} "
        "responses; those in sample papers and rehearsals count in full.",
        "What models learn, they learn from the days before today, so that they stay the same all "
        "day; today's responses count at once as practice, and in papers.",
        "The score for the exam is the same, corrected by how far outside papers differed from it.",
    ]
    if score.keep is None and evidence.exam and not score.has_model:
        words.append(
            "There is no score for keeping the plan yet: it takes a memory model that predicts "
            "better than plain rates."
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


def _confidence(evidence: Evidence, width: int) -> list[Content]:
    """The rule for guessing and the own record beside it; papers and drills apart."""
    guessing, calibration = evidence.guessing, evidence.calibration
    words = guessing_words(guessing.break_even, guessing.random)
    lines = [_head("Guessing"), *_wrapped(words, width)]
    if record := own_record_words(calibration):
        lines += _wrapped(record, width)
    tables = 0
    for source, levels in (("a paper", calibration.papers), ("a drill", calibration.drills)):
        if are_enough(levels):
            tables += 1
            lines += [Content(""), _head(f"How often you were right when you said in {source} …")]
            scale = max(20, width - 22)
            lines += [_rate_line(f"{word:8}", level, scale) for word, level in levels.items()]
    if tables:
        return [*lines, *_wrapped(WHAT_COUNTS, width, "$muted")]
    stated = sum(level.of for level in calibration.levels.values())
    words = (
        f"How often you are right when sure, unsure or guessing is shown from {STATED_ENOUGH} "
        f"responses with a confidence; so far {stated}."
    )
    return [*lines, *_wrapped(words, width, "$muted")]


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
