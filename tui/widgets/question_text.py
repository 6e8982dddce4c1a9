"""How a question, and what came of it, is set on the screen. Values in, `Content` out."""

from collections.abc import Iterable, Sequence
from datetime import date

from rich.cells import cell_len
from textual.content import Content
from textual.style import Style

from banks.views.drill import (
    EarlierResponse,
    QuestionContext,
    Remarks,
    ResponseFeedback,
    ShownQuestion,
    book_line,
    given_words,
    key_words,
    where,
)
from banks.views.triage import Explanation
from domain.questions import LETTERS
from domain.responses import Reason
from domain.text import counted
from domain.tiers import Step, TierRules
from domain.verdicts import Confidence, Verdict
from tui.dates import column_days, day_near
from tui.tier_reasons import step_words, trail_words, why_words
from tui.widgets.text_block import hanging, stacked
from tui.widgets.tiers import standing_mark

VERDICT_MARKS = {Verdict.RIGHT: "✓", Verdict.WRONG: "✗", Verdict.BLANK: "–"}
VERDICT_STYLES = {
    Verdict.RIGHT: "bold $success",
    Verdict.WRONG: "bold $error",
    Verdict.BLANK: "bold $warning",
}
REASON_KEYS = "imrs"
"""The shortcut of each `Reason`, as in the grid."""
LABEL = 8
"""Cells of the labels at the left of the feedback."""
_DAYS = 16
"""Days of a history that are shown, the newest."""
_GIVEN = 8
"""Cells of a day's responses, where they need no more."""


def verdict_mark(verdict: Verdict, word: str = "") -> Content:
    """Mark and word: "✗ wrong"."""
    text = f"{VERDICT_MARKS[verdict]} {word or verdict}"
    return Content.styled(text, VERDICT_STYLES[verdict])


def question_text(shown: ShownQuestion, width: int) -> Content:
    """The stem, or where it is to be read; what is to be compared with the print."""
    stem = shown.question.stem or book_line(shown)
    parts = [hanging(Content(""), Content(stem), width)]
    parts += [
        hanging(
            Content("  "), Content.styled(f"[figure: {figure.alt or figure.file}]", "italic"), width
        )
        for figure in shown.question.figures
    ]
    if shown.question.to_check:
        check = Content.styled(f"To check in the book: {shown.question.to_check}", "$warning")
        parts.append(hanging(Content.styled("! ", "bold $warning"), check, width))
    return stacked(parts)


def options_text(
    shown: ShownQuestion, feedback: ResponseFeedback | None, picked: frozenset[str], width: int
) -> Content:
    """The options under their letters; after the response with the key and the choice marked.

    Where no text is known they stand on one line. `picked` are option ids chosen so far.
    """
    options = shown.seating.options
    if any(option.text for option in options):
        lines = [
            _clickable(
                _option(shown, feedback, picked, option.id, option.text, letter, width), letter
            )
            for option, letter in zip(options, LETTERS, strict=False)
        ]
        return stacked(lines)
    marks = [
        _clickable(_option_mark(shown, feedback, picked, option.id, letter), letter)
        for option, letter in zip(options, LETTERS, strict=False)
    ]
    return Content("   ").join(marks)


def compared_options_text(shown: ShownQuestion, chosen: str, width: int) -> Content:
    """The options as printed, with the answer key and a wrong choice (option id) marked."""
    lines = [
        hanging(
            _judged_mark(shown, chosen, option.id, letter) + Content("  "),
            Content.styled(option.text, "bold" if option.id in shown.answer_key else ""),
            width,
        )
        for option, letter in zip(shown.seating.options, LETTERS, strict=False)
    ]
    return stacked(lines)


def _clickable(option: Content, letter: str) -> Content:
    """A click on an option is its letter; screens without `action_take` let it pass."""
    click = f"screen.take({LETTERS.index(letter)})"
    return option.stylize(Style.from_meta({"@click": click}))


def _option(
    shown: ShownQuestion,
    feedback: ResponseFeedback | None,
    picked: frozenset[str],
    name: str,
    text: str,
    letter: str,
    width: int,
) -> Content:
    mark = _option_mark(shown, feedback, picked, name, letter) + Content("  ")
    is_key = feedback is not None and name in shown.answer_key
    return hanging(mark, Content.styled(text, "bold" if is_key else ""), width)


def _option_mark(
    shown: ShownQuestion,
    feedback: ResponseFeedback | None,
    picked: frozenset[str],
    name: str,
    letter: str,
) -> Content:
    if feedback is None:
        sign, style = ("*", "bold $accent") if name in picked else (" ", "")
        return Content.assemble((f"{sign} ", style), (letter, "bold $accent"))
    given = feedback.response.chosen or ()
    if shown.is_graded or name not in given:
        return _judged_mark(shown, name if name in given else "", name, letter)
    return Content(f"* {letter}")


def _judged_mark(shown: ShownQuestion, chosen: str, name: str, letter: str) -> Content:
    """A letter with ✓ where it is the answer key, ✗ where it was chosen instead."""
    verdict = None
    if name in shown.answer_key:
        verdict = Verdict.RIGHT
    elif name == chosen:
        verdict = Verdict.WRONG
    style = VERDICT_STYLES[verdict] if verdict else ""
    return Content.styled(f"{VERDICT_MARKS[verdict] if verdict else ' '} {letter}", style)


def feedback_text(
    shown: ShownQuestion,
    feedback: ResponseFeedback,
    remarks: Remarks,
    width: int,
    *,
    asks_why: bool = True,
    has_history: bool = False,
) -> Content:
    """The verdict, the key, what the tier did, what was given before, the note; then why.

    A long explanation stands last, so that it hides none of the rest. `asks_why`: the keys of
    the reasons are told. `has_history`: the days before stand beside it already.
    """
    before = _before(feedback.earlier, feedback.response.at.date())
    return stacked(
        [
            _verdict_line(shown, feedback, width),
            _labelled("Tier", _step_words(feedback, remarks.reason), width),
            None if has_history else _labelled("Before", before, width),
            _labelled("Note", remarks.note, width),
            _labelled("Dispute", remarks.dispute, width),
            _reasons(feedback, remarks.reason, width) if asks_why or remarks.reason else None,
            *_explained(shown, width),
        ]
    )


def key_text(shown: ShownQuestion, width: int) -> Content:
    """The answer key and why, where there is no response."""
    key = f"The key is {key_words(shown)}." if shown.answer_key else "No answer key."
    return stacked([Content(key), *_explained(shown, width)])


def _explained(shown: ShownQuestion, width: int) -> list[Content | None]:
    explanation = [_plain(shown.question.explanation, width), _option_notes(shown, width)]
    blank = Content("") if any(explanation) else None
    return [_labelled("Source", shown.question.reference, width), blank, *explanation]


def place_text(shown: ShownQuestion, width: int) -> Content:
    """Where the question stands: in the bank on the left, its tier on the right."""
    tier = standing_mark(shown.standing)
    if shown.is_flagged:
        tier = Content.assemble(("flagged", "bold $accent"), "  ", tier)
    space = width - tier.cell_length - 2
    heading = f"{shown.location.subject.title} · {shown.location.chapter.title}"
    number = where(shown).removeprefix(heading)
    cut = Content(heading).truncate(max(1, space - cell_len(number)), ellipsis=True)
    place = (cut + Content(number)).stylize("$foreground 65%")
    return Content.assemble(place.pad_right(space - place.cell_length + 2), tier)


def context_text(context: QuestionContext, is_told: bool, width: int) -> Content:
    """The question's history. What was given before stays hidden until there is a response."""
    standing = context.explanation.standing
    trail = trail_words(context.explanation)
    if not context.earlier and not trail:
        return Content("Not taken yet.")
    counts = f"{counted(standing.missed_days, 'day')} missed, {standing.clean_days} clean"
    parts = [standing_mark(standing), Content(counts)]
    if is_told:
        parts.append(hanging(Content(""), Content(why_words(context.explanation)), width))
        parts.append(Content.styled("\nDay by day", "$foreground 65%"))
        parts += _days_text(context.earlier, trail, width)
    return stacked(parts)


def _days_text(
    responses: Iterable[EarlierResponse], trail: Sequence[tuple[date, str]], width: int
) -> list[Content]:
    """A line per day, the newest first: what was given, and what that did to the tier."""
    marks: dict[date, list[Content]] = {day: [] for day, _ in trail}
    for response in responses:
        marks.setdefault(response.day, []).insert(0, _short_response(response))
    days = sorted(marks, reverse=True)[:_DAYS]
    given = {day: Content(" ").join(marks[day]) for day in days}
    cells = min(_GIVEN, max(given[day].cell_length for day in days))
    words = dict(trail)
    return [
        hanging(
            Content.assemble(
                (label, "$foreground 65%"),
                " ",
                given[day].pad_right(max(0, cells - given[day].cell_length)),
                "  " if cells else "",
            ),
            Content(words.get(day, "")),
            width,
        )
        for day, label in zip(days, column_days(days), strict=True)
    ]


def trail_lines(explanation: Explanation, limit: int, width: int) -> list[Content]:
    """What the newest days did, each dated, the newest first."""
    steps = trail_words(explanation)[-limit:][::-1]
    labels = column_days([day for day, _ in steps])
    return [
        hanging(Content.styled(f"{label}  ", "$foreground 65%"), Content(words), width)
        for label, (_, words) in zip(labels, steps, strict=True)
    ]


def _verdict_line(shown: ShownQuestion, feedback: ResponseFeedback, width: int) -> Content:
    mark = verdict_mark(feedback.verdict, feedback.verdict.capitalize())
    if feedback.response.confidence is not Confidence.SURE:
        mark = mark + Content(f", {feedback.response.confidence}")
    given = given_words(shown, feedback.response)
    words = []
    if given and (shown.is_typed or not shown.is_graded or feedback.verdict is Verdict.WRONG):
        words.append(f"You gave {given}.")
    if shown.answer_key:
        words.append(f"The key is {key_words(shown)}.")
    if feedback.response.seconds >= 1:
        words.append(f"{feedback.response.seconds:.0f} s")
    return hanging(mark + Content("  "), Content(" ".join(words)), width)


def _step_words(feedback: ResponseFeedback, reason: Reason | None) -> Content:
    if feedback.step is None:
        return Content("no change")
    change = step_text(feedback.step, feedback.rules, reason)
    return change + Content(" (a day counts once)") if feedback.is_repeat else change


def step_text(step: Step, rules: TierRules, reason: Reason | None = None) -> Content:
    """What a day did: "o clear → ! hard · missed: sign 1, now hard"."""
    before, after = standing_mark(step.before), standing_mark(step.after)
    words = step_words(step, rules, reason)
    if before == after:
        return Content.assemble(after, " · ", words)
    return Content.assemble(before, " → ", after, " · ", words)


def _short_response(response: EarlierResponse) -> Content:
    """The verdict's mark and what was given, with a question mark where unsure: "✗ c?"."""
    doubt = "" if response.confidence is Confidence.SURE else "?"
    given = f" {response.given}" if response.given else ""
    mark = VERDICT_MARKS[response.verdict], VERDICT_STYLES[response.verdict]
    return Content.assemble(mark, f"{given}{doubt}")


def _earlier_text(earlier: EarlierResponse, day: date) -> Content:
    """An earlier response, seen from another day: "2 Oct ✗ wrong (c), unsure"."""
    confidence = "" if earlier.confidence is Confidence.SURE else f", {earlier.confidence}"
    given = f" ({earlier.given})" if earlier.given else ""
    return Content.assemble(
        f"{day_near(earlier.day, day)} ",
        verdict_mark(earlier.verdict),
        Content(f"{given}{confidence}"),
    )


def _before(earlier: list[EarlierResponse], day: date) -> Content:
    shown = [_earlier_text(response, day) for response in earlier[:3]]
    more = [Content(f"and {len(earlier) - 3} more")] if len(earlier) > 3 else []
    return Content(" · ").join(shown + more) if shown else Content("the first time")


def _reasons(feedback: ResponseFeedback, reason: Reason | None, width: int) -> Content | None:
    is_right = feedback.verdict is Verdict.RIGHT
    if is_right and feedback.response.confidence is Confidence.SURE:
        return None
    if reason is not None:
        return _labelled("Unsure" if is_right else "Missed", f"{reason}", width)
    keys = [
        Content.assemble((key, "bold $accent"), f" {reason}")
        for key, reason in zip(REASON_KEYS, Reason, strict=True)
    ]
    return _labelled("Why?", Content("  ").join(keys), width)


def _option_notes(shown: ShownQuestion, width: int) -> Content | None:
    notes = [
        hanging(Content(f"{letter}  "), Content(option.explanation), width)
        for option, letter in zip(shown.seating.options, LETTERS, strict=False)
        if option.explanation
    ]
    return stacked(notes) if notes else None


def _plain(text: str, width: int) -> Content | None:
    return hanging(Content(""), Content(text), width) if text else None


def _labelled(label: str, body: str | Content, width: int) -> Content | None:
    if not body:
        return None
    content = Content(body) if isinstance(body, str) else body
    return hanging(Content.styled(label.ljust(LABEL), "$foreground 65%"), content, width)
