"""Questions as named fields of plain text: what delimited text, spreadsheets and JSON share.

The names are those of `banks.importers.fields.FIELDS`, so that every export can come back.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from banks.exporters.located import Histories, LocatedQuestion, Marked
from banks.importers.cells import join_texts
from banks.importers.fields import FIELDS
from domain.questions import LETTERS, Form, Question
from domain.verdicts import Confidence

COLUMNS = (*(name for name in FIELDS if name != "options"), "figures", "history")
_ALWAYS = ("subject", "chapter", "number", "stem", "key")


def fields(placed: LocatedQuestion, histories: Histories) -> dict[str, str]:
    """What there is to say about a question, by field name; fields without a value are left out.

    Options are lettered by position. A history is `2027-01-04 wrong; 2027-01-11 right unsure`.
    """
    question = placed.question
    said = {
        "subject": placed.subject.title,
        "chapter": placed.chapter.title,
        "number": str(question.number),
        "kind": "" if question.form is Form.BARE else str(question.kind),
        "stem": question.stem,
        "key": join_texts(key_letters(question)),
        "tolerance": plain_number(question.tolerance) if question.tolerance else "",
        "explanation": question.explanation,
        "reference": question.reference,
        "tags": ", ".join(question.tags),
        "shuffle": "" if question.shuffle else "no",
        "figures": ", ".join(figure.file for figure in question.figures),
        "history": "; ".join(map(_mark, histories.get(question.id, ()))),
    }
    return {name: text for name, text in (said | _options(question)).items() if text}


def lettered(question: Question) -> dict[str, str]:
    """Option id → the letter of its position; the identity where the options are not given."""
    return {o.id: letter for letter, o in zip(LETTERS, question.options, strict=False)}


def key_letters(question: Question) -> list[str]:
    """The key as letters by position, or the accepted texts."""
    letters = lettered(question)
    return [letters.get(key, key) for key in question.answer_key]


def plain_number(value: float) -> str:
    """The shortest decimal that is the same number, never with an exponent."""
    return f"{Decimal(repr(value)).normalize():f}"


def table(
    questions: Sequence[LocatedQuestion], histories: Histories
) -> tuple[list[str], Iterator[list[str]]]:
    """Headers and rows; a column that would be empty all the way down is left out."""
    used = set(_ALWAYS)
    for placed in questions:
        used |= fields(placed, histories).keys()
    headers = [name for name in COLUMNS if name in used]
    rows = (
        [said.get(name, "") for name in headers]
        for said in (fields(placed, histories) for placed in questions)
    )
    return headers, rows


def _options(question: Question) -> dict[str, str]:
    letters = lettered(question)
    said = {letters[option.id]: option.text for option in question.options}
    said |= {f"note_{letters[option.id]}": option.explanation for option in question.options}
    said["fixed"] = "".join(letters[option.id] for option in question.options if option.fixed)
    credit = question.credit.items()
    said["credit"] = " ".join(f"{letters[key]}={plain_number(mark)}" for key, mark in credit)
    return said


def _mark(mark: Marked) -> str:
    doubt = "" if mark.confidence is Confidence.SURE else f" {mark.confidence}"
    return f"{mark.day.isoformat()} {mark.verdict}{doubt}"
