"""A draft → a question of a bank, new or in the place of what was known of it before."""

import hashlib
from collections import defaultdict, deque

from msgspec.structs import replace

from banks.importers.common import Draft
from domain.questions import LETTERS, Figure, Kind, Option, Question, fingerprint, normal_text

CHOICES = (Kind.BEST, Kind.MULTIPLE, Kind.TRUE_FALSE)
"""The kinds whose key holds options."""


def new_question(draft: Draft, question_id: str, chapter: str, number: int) -> Question:
    """The question as the draft has it; options are named a, b, c… in the printed order."""
    letters = draft.options
    return Question(
        id=question_id,
        chapter=chapter,
        number=number,
        kind=draft.kind,
        stem=draft.stem,
        options=tuple(
            [
                Option(letter, option.text, option.fixed, option.explanation)
                for letter, option in zip(LETTERS, letters, strict=False)
            ]
        ),
        answer_key=tuple([LETTERS[at] if isinstance(at, int) else at for at in draft.key]),
        tolerance=draft.tolerance,
        explanation=draft.explanation,
        reference=draft.reference,
        tags=tuple(draft.tags),
        figures=tuple(Figure(figure_name(name, held), alt) for name, alt, held in draft.figures),
        credit={LETTERS[at]: mark for at, mark in draft.credit},
        shuffle=draft.shuffle,
        code=draft.code,
        to_check=draft.to_check,
    )


def figure_name(name: str, content: bytes) -> str:
    """The name of a figure beside its bank: told apart by content, so none overwrites another."""
    mark = f"{hashlib.sha256(content).hexdigest()[:8]}-"
    return mark + name.rpartition("/")[2].removeprefix(mark)


def text_mark(question: Question) -> str:
    """The question's fingerprint with all choice kinds alike, "" for one without a text.

    A corrected key may turn a single best answer into a multiple response; it stays the same
    question.
    """
    if not question.stem:
        return ""
    if question.kind in (Kind.MULTIPLE, Kind.TRUE_FALSE):
        question = replace(question, kind=Kind.BEST)
    return fingerprint(question)


def gains_text(old: Question, new: Question) -> bool:
    """Whether a question known by number only (or by stem only) gets its text or options."""
    if not old.stem:
        return True
    is_printed_choice = not old.options and old.kind in CHOICES and bool(new.options)
    return is_printed_choice and normal_text(old.stem) == normal_text(new.stem)


def refreshed(old: Question, new: Question) -> Question:
    """What is known of a question after it was met again: identity and history stay with it.

    `new` has the same text, or brings the text, or is no more than a number or a key. What it
    does not say is kept. Options keep their ids by text, so that old responses still point to
    what was chosen, in whatever order the options are printed now. White space alone changes
    nothing.
    """
    place = {"id": old.id, "chapter": new.chapter, "number": new.number, "retired": False}
    if not new.stem:
        key = new.answer_key or old.answer_key
        kind = old.kind if old.stem or not new.answer_key else new.kind
        return replace(old, **place, answer_key=key, kind=kind)
    names = _names(old, new)
    known = {option.id: option.text for option in old.options}
    options = tuple(
        replace(option, id=names[option.id], text=known.get(names[option.id], option.text))
        for option in new.options
    )
    is_same_stem = normal_text(old.stem) == normal_text(new.stem)
    is_same_text = text_mark(old) == text_mark(new)
    key = tuple(names.get(part, part) for part in new.answer_key)
    if new.kind in CHOICES:
        key = tuple(sorted(key))
    return replace(
        new,
        **place,
        stem=old.stem if is_same_stem else new.stem,
        options=options,
        kind=new.kind if key else old.kind,
        answer_key=key or old.answer_key,
        tolerance=new.tolerance or old.tolerance,
        explanation=new.explanation or old.explanation,
        reference=new.reference or old.reference,
        tags=tuple(dict.fromkeys(old.tags + new.tags)),
        figures=new.figures or old.figures,
        credit={names[name]: mark for name, mark in new.credit.items()} or old.credit,
        shuffle=new.shuffle and old.shuffle,
        code=new.code or old.code,
        to_check=old.to_check if is_same_text and key == old.answer_key else new.to_check,
    )


def _names(old: Question, new: Question) -> dict[str, str]:
    """The new question's option ids → the old ids of the options with the same texts.

    Twins take the old ids in order. Where the old question had no options, the ids stand.
    """
    if not old.options:
        return {option.id: option.id for option in new.options}
    waiting: dict[str, deque[str]] = defaultdict(deque)
    for option in old.options:
        waiting[normal_text(option.text)].append(option.id)
    return {option.id: waiting[normal_text(option.text)].popleft() for option in new.options}
