"""How the list of the tiers is set: a line a question, the counts, the filter in words."""

from collections.abc import Sequence
from math import ceil

from textual.content import Content

from banks.library import Library
from banks.views.drill import QuestionContext, ShownQuestion, key_words
from banks.views.headings import all_banks_count
from banks.views.listing import Match
from banks.views.triage import Explanation, Filter, Row
from domain.questions import Form, Question
from domain.text import counted
from domain.tiers import HARD_TIERS, TIER_BY_WORD, Counts, SubjectCounts, Tier
from tui.tier_reasons import why_words
from tui.widgets.question_text import (
    context_text,
    options_text,
    place_text,
    question_text,
    trail_lines,
)
from tui.widgets.text_block import hanging, stacked
from tui.widgets.tiers import STYLES, WIDTH, standing_mark, tier_mark

_PLACE, _PLACE_IN_PRINT = 26, 36
_LOOKED_AT = 200
_BESIDES = WIDTH + 9 + 7 + 11
"""Cells that a line needs beside the place: tier, signs, number, "in the book"."""


def are_printed(rows: Sequence[Row]) -> bool:
    """Whether there is no stem to show, so that where a question stands may take more room."""
    return not any(row.question.form is Form.FULL for row in rows[:_LOOKED_AT])


def _place_cells(width: int, *, in_print: bool) -> int:
    return max(_PLACE, min(_PLACE_IN_PRINT, width - _BESIDES)) if in_print else _PLACE


def _place_words(subject: str, chapter: str, cells: int) -> Content:
    """ "Clouds · 1 Genera": cut, the subject first, so that the chapter's number stays in sight."""
    place = Content(f"{subject} · {chapter}")
    if place.cell_length <= cells:
        return place
    kept = max(cells - Content(chapter).cell_length - 3, cells // 3)
    short = Content(subject).truncate(kept, ellipsis=True)
    return Content.assemble(short, " · ", chapter).truncate(cells, ellipsis=True)


def columns(width: int, *, in_print: bool) -> Content:
    """The names of the columns."""
    place = _place_cells(width, in_print=in_print)
    return Content(f"{'tier':<{WIDTH}}  signs  {'where':<{place}}  no.  question")


def row_line(
    row: Row,
    width: int,
    *,
    with_subject: bool,
    in_print: bool = False,
    match: Match | None = None,
) -> Content:
    """Tier, signs, where it stands (with more room where all are `in_print`), its number, how it
    begins or where what was looked for occurs in it.
    """
    chapter, cells = row.location.chapter.title, _place_cells(width, in_print=in_print)
    where = Content(chapter).truncate(cells, ellipsis=True)
    if with_subject:
        where = _place_words(row.location.subject.title, chapter, cells)
    signs = f"{row.standing.signs}" if row.standing.signs else ""
    head = Content.assemble(
        standing_mark(row.standing, pad=True),
        f" {signs:>6}  ",
        where.pad_right(cells - where.cell_length),
        f" {row.number:>4}  ",
    )
    return head + question_words(row.question, match, width - head.cell_length)


def question_words(question: Question, match: Match | None, width: int) -> Content:
    """How a question begins, or so much of it that the words looked for are in sight, marked."""
    if match is None or not match.spans:
        return beginning(question)
    label = Content.styled(f"{match.part}: ", "$foreground 65%") if match.part else Content("")
    text = Content(match.text)
    for start, end in match.spans:
        text = text.stylize("bold underline $accent", start, end)
    first, behind = match.spans[0]
    if label.cell_length + text[:behind].cell_length > width:
        start = match.text.find(" ", max(0, first - _BEFORE_MATCH)) + 1
        text = Content("… ") + text[min(start, first) :]
    return label + text


_BEFORE_MATCH = 10
"""Characters left before what was looked for, where the beginning has no room."""


def beginning(question: Question) -> Content:
    """How a question begins, on one line; what there is of it where it has no text."""
    if question.form is Form.FULL:
        return Content(" ".join(question.stem.split()))
    words = "in the book, keyed" if question.form is Form.KEYED else "in the book"
    return Content.styled(words, "$foreground 65%")


def counts_text(counts: Counts, chosen: Filter, width: int) -> Content:
    """Every tier with its count; those that are listed stand in brackets."""
    parts = []
    for tier in (Tier.HARDEST, Tier.HARDER, Tier.HARD, Tier.CLEAR, Tier.UNTRIED):
        mark = Content.assemble(tier_mark(tier), f" {getattr(counts, tier.word):,}")
        parts.append(_bracketed(mark, is_listed=tier in chosen.tiers))
    whole = Content(" ").join(parts)
    if whole.cell_length <= width:
        return whole
    return stacked([Content(" ").join(parts[:3]), Content(" ").join(parts[3:])])


def _bracketed(words: Content, *, is_listed: bool) -> Content:
    ends = "[]" if is_listed else "  "
    return Content.assemble(ends[0], words, ends[1])


def filter_words(library: Library, chosen: Filter) -> str:
    """What is listed, in words."""
    parts = [_heading_words(library, chosen)]
    if chosen.missed:
        parts.append(f"missed on {chosen.missed} days or more")
    if chosen.reason:
        parts.append(f"{chosen.reason}")
    if chosen.sure_wrong:
        parts.append("sure and wrong")
    if chosen.text.strip():
        parts.append(f"with “{chosen.text.strip()}”")
    return ", ".join(parts)


def _heading_words(library: Library, chosen: Filter) -> str:
    if not chosen.bank:
        return "all subjects" if all_banks_count(library) else "all subjects of all banks"
    bank = library.bank(chosen.bank)
    title = next(subject.title for subject in bank.subjects if subject.id == chosen.subject)
    return f"{title} · {bank.chapter(chosen.chapter).title}" if chosen.chapter else title


def listed_words(chosen: Filter) -> str:
    """The tiers listed, and whether only what waits, in words."""
    if chosen.waiting:
        return "waiting" + (f" in {tier_words(chosen.tiers)}" if chosen.tiers else "")
    return tier_words(chosen.tiers)


def tier_words(tiers: frozenset[Tier]) -> str:
    """The tiers, in words."""
    if not tiers or len(tiers) == len(Tier):
        return "all tiers"
    if tiers == frozenset(HARD_TIERS):
        return "the hard-tiers"
    return ", ".join(tier.word for tier in sorted(tiers, reverse=True))


_LEAST_TITLE = 22
_FIGURES = {"hardest": 8, "harder": 7, "hard": 6, "clear": 7, "waiting": 8, "settled": 8}
"""The columns of a subject's counts, and the cells of each."""


def _title_cells(width: int) -> int:
    return max(_LEAST_TITLE, width - sum(_FIGURES.values()))


def subject_head(width: int) -> Content:
    """The columns' names of the subjects' counts."""
    words = "".join(f"{word:>{cells}}" for word, cells in _FIGURES.items())
    return Content(" " * _title_cells(width) + words)


def subject_line(subject: SubjectCounts, width: int) -> Content:
    """A subject, how many of its questions stand in each tier, and how many wait, are settled."""
    title = Content(subject.title).truncate(_title_cells(width), ellipsis=True, pad=True)
    figures = [
        Content.styled(f"{getattr(subject.counts, word):>{cells},}", _style(word))
        for word, cells in _FIGURES.items()
    ]
    return Content.assemble(title, *figures)


_BOARD_TIERS = (Tier.HARDEST, Tier.HARDER, Tier.HARD)
_COUNT, _BAR, _WAITING = 6, 6, 9
"""Cells on the board: of a count, of the bar beside it, of what is waiting."""
_CELL = _COUNT + 1 + _BAR + 1


def board_text(
    subjects: Sequence[SubjectCounts],
    selected: tuple[str, str],
    heading: str,
    width: int,
    height: int,
) -> Content:
    """Subjects down, hard-tiers across, all bars on one scale; as many lines as there is room for.

    Most in the highest tier first. `selected` (ids of bank and subject) stands in bold, and as the
    last line where it would not be in sight. `heading` names what they are the subjects of.
    """
    ranked = sorted(subjects, key=_hard_counts, reverse=True)
    lines = ranked[: height - 1]
    own = [each for each in ranked if (each.bank_id, each.subject_id) == selected]
    if own and own[0] not in lines:
        lines[-1:] = own
    most = max((_in_tier(each, tier) for each in ranked for tier in _BOARD_TIERS), default=0)
    title = width - len(_BOARD_TIERS) * _CELL - _WAITING
    head = [tier_mark(tier).pad_right(_CELL - len(tier_mark(tier))) for tier in _BOARD_TIERS]
    return stacked(
        [
            Content.assemble(
                Content.styled(heading, "$muted").truncate(title, ellipsis=True, pad=True),
                "  ",
                *head,
                ("waiting".rjust(_WAITING - 2), "$muted"),
            ),
            *(_board_line(each, title, most, is_selected=each in own) for each in lines),
        ]
    )


def _board_line(subject: SubjectCounts, title: int, most: int, *, is_selected: bool) -> Content:
    name = Content(subject.title).truncate(title, ellipsis=True, pad=True)
    cells = []
    for tier in _BOARD_TIERS:
        count = _in_tier(subject, tier)
        bar = "━" * ceil(_BAR * count / most) if most else ""
        cells.append((f"{count:>{_COUNT},} {bar:<{_BAR}} ", STYLES[tier] if count else "$muted"))
    waiting = f"{subject.counts.waiting:>{_WAITING},}"
    return Content.assemble(name.stylize("bold" if is_selected else ""), *cells, waiting)


def _in_tier(subject: SubjectCounts, tier: Tier) -> int:
    count: int = getattr(subject.counts, tier.word)
    return count


def _hard_counts(subject: SubjectCounts) -> list[int]:
    return [_in_tier(subject, tier) for tier in _BOARD_TIERS]


def _style(word: str) -> str:
    tier = TIER_BY_WORD.get(word)
    return "" if tier is None else STYLES[tier]


def trail_text(explanation: Explanation, limit: int, width: int) -> Content:
    """Why a question stands where it does, and the newest steps of its trail, dated."""
    lines = [hanging(Content(""), Content(why_words(explanation)), width)]
    lines += trail_lines(explanation, limit, width)
    more = len(explanation.steps) - limit
    return stacked([*lines, Content(f"and {counted(more, 'day')} before") if more > 0 else None])


def details_text(shown: ShownQuestion, context: QuestionContext, width: int) -> Content:
    """Everything about one question: text, key, explanation, and how it came to stand there."""
    question = shown.question
    key = (
        Content(f"Answer key: {key_words(shown)}")
        if shown.answer_key
        else Content("No answer key.")
    )
    options = options_text(shown, None, frozenset(), width) if question.options else None
    blank = Content("")
    parts = [place_text(shown, width), blank, question_text(shown, width), blank]
    parts += [options, blank, key] if options else [key]
    parts += [
        hanging(blank, Content(text), width)
        for text in (question.explanation, question.reference)
        if text
    ]
    return stacked([*parts, blank, context_text(context, True, width)])
