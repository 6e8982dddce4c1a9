"""The card for the exam's morning: how the exam is made, when to be where in it, what to take."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from html import escape
from pathlib import Path

from msgspec import Struct

from banks.exporters.question_rows import encoded, escaped
from banks.exporters.sheets.sheet_writers import ENDINGS
from domain.errors import UsageError
from domain.marking.blueprint import ExamBlueprint
from domain.text import counted, safe_text

_FONT = Path(__file__).with_name("sheets") / "fonts" / "DejaVuSansCondensed.ttf"
_A5 = (148, 210)
"""Millimetres."""
_QUARTERS = 4


class CardPart(Struct, frozen=True):
    """Lines under a heading; `boxes` are there to be ticked."""

    heading: str
    lines: tuple[str, ...]
    boxes: bool = False


class ExamCard(Struct, frozen=True):
    """The card: its title and its parts."""

    title: str
    parts: tuple[CardPart, ...]


def exam_card(
    exam: ExamBlueprint, day: date | None, checklist: Sequence[str], guessing: str
) -> ExamCard:
    """The card of an exam; `guessing` is the rule in words.

    Checkpoints leave no reserve: they are the exam's own pace.
    """
    hour = f", {exam.hour:%H:%M}" if exam.hour else ""
    title = f"Exam, {day:%A} {day.day} {day:%B %Y}{hour}" if day else f"Exam{hour}"
    parts = [
        CardPart(
            "The exam",
            (
                f"{counted(exam.questions, 'question')}, {counted(exam.minutes, 'minute')}, "
                f"{exam.scheme}",
                f"{exam.minutes * 60 / exam.questions:.0f} seconds per question",
            ),
        ),
        CardPart("Be there by then", tuple(checkpoints(exam))),
        CardPart("When to guess", (guessing,)),
    ]
    if checklist:
        parts.append(CardPart("To take along", tuple(checklist), boxes=True))
    return ExamCard(title, tuple(parts))


def checkpoints(exam: ExamBlueprint) -> Iterator[str]:
    """Where to be after each quarter of the questions: "50 by 0:45"."""
    numbers = {exam.questions * quarter // _QUARTERS for quarter in range(1, _QUARTERS + 1)}
    for number in sorted(numbers - {0}):
        hours, minutes = divmod(exam.minutes * number // exam.questions, 60)
        yield f"{number} by {hours}:{minutes:02}"


def to_bytes(card: ExamCard, ending: str) -> bytes:
    """The card as a file with this ending. Raises UsageError for one that is not in ENDINGS."""
    if ending == ".pdf":
        return _pdf(card)
    writers: dict[str, Callable[[ExamCard], str]] = {
        ".txt": _text,
        ".md": _markdown,
        ".html": _html,
    }
    if ending not in writers:
        raise UsageError(f"A card ends in {', '.join(ENDINGS)}, not in {ending or 'nothing'}.")
    return encoded(writers[ending](card))


def _text(card: ExamCard) -> str:
    lines = [card.title, "=" * len(card.title), ""]
    for part in card.parts:
        lines += [part.heading, *(f"  {_box(part)}{line}" for line in part.lines), ""]
    return "\n".join(lines)


def _markdown(card: ExamCard) -> str:
    lines = [f"# {escaped(card.title)}", ""]
    for part in card.parts:
        lines += [f"## {escaped(part.heading)}", ""]
        lines += [f"- {_box(part)}{escaped(line)}" for line in part.lines] + [""]
    return "\n".join(lines)


def _html(card: ExamCard) -> str:
    parts = "".join(
        f"<h2>{escape(part.heading)}</h2><ul>"
        + "".join(f"<li>{_box(part)}{escape(line)}</li>" for line in part.lines)
        + "</ul>"
        for part in card.parts
    )
    title = escape(card.title)
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{title}</title>'
        "<style>body{font:16pt sans-serif;margin:2cm}h2{font-size:14pt}li{margin:.3em 0}</style>"
        f"<h1>{title}</h1>{parts}</html>\n"
    )


def _box(part: CardPart) -> str:
    return "[ ] " if part.boxes else ""


def _pdf(card: ExamCard) -> bytes:
    from fpdf import FPDF
    from fpdf.enums import XPos, YPos

    pdf = FPDF(format=_A5)
    pdf.add_font("card", "", _FONT)
    pdf.add_page()

    def line(text: str, size: float) -> None:
        pdf.set_font("card", "", size)
        pdf.multi_cell(0, size * 0.55, safe_text(text), new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    line(card.title, 16)
    for part in card.parts:
        pdf.ln(4)
        line(part.heading, 12)
        for text in part.lines:
            line(f"  {_box(part)}{text}", 11)
    return bytes(pdf.output())
