"""A question as it is typed into a form, and back: plain lines of text for every field.

Options stand one a line; a line that begins with two spaces goes on with the option before. The
key is letters ("b", "ac"), a number with its tolerance ("12 ± 0.5"), or texts ("Quebec | QC").
What kind of question it is follows from what was typed.
"""

import re
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from domain.editing import options_from
from domain.errors import InputError
from domain.grading import number
from domain.questions import KEYED_LETTERS, LETTERS, Kind, Option, Question

_TOLERANCE = re.compile(r"\s*(?:±|\+/?-)\s*")
_TRUE_FALSE = ("true", "false")


class TypedQuestion(Struct, frozen=True, kw_only=True):
    """The fields of the form."""

    number: str = ""
    stem: str = ""
    options: str = ""
    key: str = ""
    explanation: str = ""
    reference: str = ""
    tags: str = ""


def typed(question: Question) -> TypedQuestion:
    """The question as the form shows it."""
    return TypedQuestion(
        number=str(question.number),
        stem=question.stem,
        options="\n".join(option.text.replace("\n", "\n  ") for option in question.options),
        key=_key_text(question),
        explanation=question.explanation,
        reference=question.reference,
        tags=", ".join(question.tags),
    )


def question_from(fields: TypedQuestion, old: Question) -> Question:
    """`old` with what was typed. Raises InputError that names the field."""
    texts = _option_texts(fields.options)
    if len(texts) == 1:
        raise InputError("options: there is one only; a question has none, or two and more")
    options = options_from(texts, old.options)
    stem = fields.stem.strip()
    kind, key, tolerance = _key(fields.key, stem, options, old)
    return replace(
        old,
        number=_number(fields.number),
        stem=stem,
        options=options,
        kind=kind,
        answer_key=key,
        tolerance=tolerance,
        explanation=fields.explanation.strip(),
        reference=fields.reference.strip(),
        tags=tuple(dict.fromkeys(tag for part in fields.tags.split(",") if (tag := part.strip()))),
    )


def _number(text: str) -> int:
    if not text.strip().isdecimal():
        raise InputError(f"number: {text.strip()!r} is not a whole number")
    return int(text)


def _option_texts(text: str) -> list[str]:
    found: list[str] = []
    for line in text.split("\n"):
        if line.startswith("  ") and found and line.strip():
            found[-1] += "\n" + line.strip()
        elif line.strip():
            found.append(line.strip())
    return found


def _key_text(question: Question) -> str:
    if question.kind is Kind.NUMERIC:
        tolerance = f" ± {question.tolerance:g}" if question.tolerance else ""
        return " | ".join(question.answer_key) + tolerance
    if question.kind is Kind.TEXT:
        return " | ".join(question.answer_key)
    if not question.options:
        return "".join(question.answer_key)
    ids = [option.id for option in question.options]
    return "".join(LETTERS[ids.index(one)] for one in question.answer_key if one in ids)


def _key(
    text: str, stem: str, options: Sequence[Option], old: Question
) -> tuple[Kind, tuple[str, ...], float]:
    """Kind, key and tolerance."""
    wanted = text.strip()
    if options or not stem:
        key = _letters(wanted, options)
        return _choice_kind(key, options, old), key, 0.0
    if not wanted:
        return (old.kind if old.kind in (Kind.TEXT, Kind.NUMERIC) else Kind.TEXT), (), 0.0
    figure, *rest = _TOLERANCE.split(wanted)
    if number(figure) is not None and old.kind is not Kind.TEXT:
        return Kind.NUMERIC, (figure,), _tolerance(rest)
    return Kind.TEXT, tuple(part for one in wanted.split("|") if (part := one.strip())), 0.0


def _letters(wanted: str, options: Sequence[Option]) -> tuple[str, ...]:
    letters = list(dict.fromkeys(re.sub(r"[\s,;.()]", "", wanted.lower())))
    known = LETTERS[: len(options)] if options else KEYED_LETTERS
    for letter in letters:
        if letter not in known:
            raise InputError(f"key: {letter!r} is not one of the letters {known[0]} to {known[-1]}")
    if not options:
        return tuple(letters)
    return tuple(options[LETTERS.index(letter)].id for letter in letters)


def _choice_kind(key: tuple[str, ...], options: Sequence[Option], old: Question) -> Kind:
    """Several letters make a multiple response, unless the bank accepts any one of them."""
    if tuple(option.text.casefold() for option in options) == _TRUE_FALSE:
        return Kind.TRUE_FALSE
    if len(key) > 1:
        any_of_them = old.kind is Kind.BEST and len(old.answer_key) > 1
        return Kind.BEST if any_of_them else Kind.MULTIPLE
    return Kind.MULTIPLE if old.kind is Kind.MULTIPLE else Kind.BEST


def _tolerance(rest: Sequence[str]) -> float:
    if not rest:
        return 0.0
    found = number(rest[0])
    if found is None or found < 0:
        raise InputError(f"key: {rest[0]!r} is not a tolerance such as 0.5")
    return float(found)
