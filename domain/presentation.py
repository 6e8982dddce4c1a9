"""How a question is put to the candidate: its options under letters, and the time it takes.

The order on screen is for the eye alone: what is recorded is the option's id.
"""

import re
from collections.abc import Sequence
from random import Random

from msgspec import Struct

from domain.grading import number
from domain.questions import LETTERS, Kind, Option, Question, may_shuffle

_LETTER = r"[\"'`‘“(\[]*(?:[b-hA-H]|a(?! +[a-z]))(?!\w|['’]\w)"
_NAMES_LETTER = re.compile(
    r"(?i:\b(?:ans(?:wer)?s?|keys?|options?|choices?|statements?|distractors?))"
    rf"[\s.:=–—-]*(?i:(?:is|are)\b[\s:]*)?{_LETTER}"
    r"|\b[A-H] (?:is|are) (?:the )?(?:correct|incorrect|right|wrong|true|false|best|answer)\b"
    r"|(?i:\bans(?:wer)?s?)[\s.:=–—-]+[A-H]{1,4}\s*,\s*[A-H]\b"
    r"|(?<![\w'’])[a-h](?:,\s?[a-h])+\s+(?:are|is|ruled|can)\b"
    r"|(?:^|[.!?:=]\s*)\(?[A-H]\)?\s*\Z"
    r"|(?:^|\s)\([a-hA-H]\)|^[a-hA-H][).:]\s",
    re.MULTILINE,
)
_STEM_NAMES_LETTER = re.compile(
    rf"\b(?:[Oo]ptions?|[Cc]hoices?)\s+{_LETTER}|(?<!\w)[aA][).]\s*\w[^\n]*?[bB][).]\s*\w"
)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)*")
_BEGINS_WITH_NUMBER = re.compile(r"[^\w#]*#")


class Seating(Struct, frozen=True):
    """The options in the order shown; the first sits at letter a. Texts are empty where the
    text is only in the printed bank.
    """

    options: tuple[Option, ...]

    @property
    def letters(self) -> str:
        """The letters in use, as "abcd"."""
        return LETTERS[: len(self.options)]

    def option_at(self, position: int) -> str | None:
        """The id of the option at a position (0: letter a), or None if there is none."""
        return self.options[position].id if 0 <= position < len(self.options) else None

    def letter(self, option_id: str) -> str:
        """The letter that an option sits at; its id where it is not among the options."""
        ids = [option.id for option in self.options]
        return LETTERS[ids.index(option_id)] if option_id in ids else option_id


def seat(question: Question, option_count: int, rng: Random | None) -> Seating:
    """Seat the options: by `rng` where the question allows it, else as printed (also for None).

    A question that is keyed only gets `option_count` letters without text (true/false its two
    words); one that is answered by typing or judged by the candidate gets none.
    """
    if question.options:
        return Seating(_order(question, rng) if rng else question.options)
    if question.kind in (Kind.TEXT, Kind.NUMERIC) or not question.answer_key:
        return Seating(())
    if question.kind is Kind.TRUE_FALSE:
        return Seating(TRUE_FALSE)
    return Seating(tuple(Option(id=letter, text="") for letter in LETTERS[:option_count]))


TRUE_FALSE = (Option(id="a", text="True"), Option(id="b", text="False"))
"""The options of a true/false question whose texts are not in the bank."""


def keeps_order(question: Question) -> bool:
    """Whether the options must be shown in the printed order.

    Where an option speaks of others or begins with its own letter, where stem or explanation name
    an option by its letter, and where the options are numbers that rise or fall, another order
    misleads.
    """
    if not may_shuffle(question) or _STEM_NAMES_LETTER.search(question.stem):
        return True
    if any(
        re.match(rf"\(?{letter}\)", option.text, re.IGNORECASE)
        for option, letter in zip(question.options, LETTERS, strict=False)
    ):
        return True
    explanations = (question.explanation, *(option.explanation for option in question.options))
    if any(map(_NAMES_LETTER.search, explanations)):
        return True
    return _are_numbers_in_order([option.text for option in question.options])


def _are_numbers_in_order(texts: Sequence[str]) -> bool:
    """Three numbers and more of one unit, or ranges of them, rising or falling."""
    shapes = {_NUMBER.sub("#", text).casefold().strip() for text in texts}
    if len(texts) < 3 or len(shapes) > 1 or not _BEGINS_WITH_NUMBER.match(shapes.pop()):
        return False
    first = [_NUMBER.search(text) for text in texts]
    values = [number(match[0].replace(",", "")) for match in first if match]
    known = [value for value in values if value is not None]
    if len(known) < len(texts):
        return False
    return known in (sorted(set(known)), sorted(set(known), reverse=True))


def _order(question: Question, rng: Random) -> tuple[Option, ...]:
    """Fixed options keep their places; the others are shuffled among themselves."""
    if keeps_order(question):
        return question.options
    free = [option for option in question.options if not option.fixed]
    rng.shuffle(free)
    following = iter(free)
    return tuple(option if option.fixed else next(following) for option in question.options)
