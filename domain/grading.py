"""Grading: (question, response) → verdict. Derived every time, so a corrected key regrades.

Total: whatever text, number or key a record or a bank holds, there is a verdict and no error, and
it takes time linear in the texts.
"""

import unicodedata
from collections.abc import Callable, Iterable, Mapping
from decimal import MAX_EMAX, MIN_EMIN, Context, Decimal
from functools import lru_cache
from math import isfinite

from msgspec.structs import replace

from domain.questions import Kind, Question, normal_text
from domain.responses import Response
from domain.verdicts import Verdict

_MOST_DIGITS = 400
"""Digits before and after the point up to which distances between numbers are taken: more than
any float has. Beyond that only the very same number is right."""

_EXACT = Context(prec=3 * _MOST_DIGITS, Emax=MAX_EMAX, Emin=MIN_EMIN, traps=[])


def grade(question: Question, response: Response, key: tuple[str, ...] | None = None) -> Verdict:
    """The verdict on a response, under the question's key or, if given, a disputed `key`.

    Without a key, or where the candidate judged it themselves, their own verdict stands; a
    choice on a question without any key counts as blank until there is one.
    """
    if response.chosen is None:
        return response.verdict or Verdict.BLANK
    if not "".join(response.chosen).strip():
        return Verdict.BLANK
    key = question.answer_key if key is None else key
    if not key:
        return response.verdict or Verdict.BLANK
    return Verdict.RIGHT if _matches(question, response.chosen, key) else Verdict.WRONG


def _matches(question: Question, chosen: tuple[str, ...], key: tuple[str, ...]) -> bool:
    if question.kind is Kind.TEXT:
        return _folded(chosen[0]) in {_folded(accepted) for accepted in key}
    if question.kind is Kind.NUMERIC:
        return _close(chosen[0], key, question.tolerance)
    if question.kind is Kind.MULTIPLE:
        first = _first_of_same_text(question)
        return {first.get(c, c) for c in chosen} == {first.get(k, k) for k in key}
    # Several ids in the key of a single-best question: the bank accepts any of them.
    return chosen[0] in key or any(_say_the_same(question, chosen[0], right) for right in key)


def _first_of_same_text(question: Question) -> dict[str, str]:
    """Options with the same text are the same choice: each id mapped to its first namesake."""
    first: dict[str, str] = {}
    return {
        option.id: first.setdefault(normal_text(option.text), option.id)
        for option in question.options
    }


def _say_the_same(question: Question, option_id: str, other: str) -> bool:
    texts = [option.text for option in question.options if option.id in (option_id, other)]
    return len(texts) == 2 and (texts[0] == texts[1] or _same(*texts))


@lru_cache(maxsize=1 << 14)
def _same(text: str, other: str) -> bool:
    """Whether two options say the same. A history asks it again and again of the same two."""
    return normal_text(text) == normal_text(other)


def _folded(text: str) -> str:
    """The text as it counts: case and a full stop at either end don't, unless all is signs."""
    plain = normal_text(unicodedata.normalize("NFKC", text)).casefold()
    return plain.strip(" .") if any(map(str.isalnum, plain)) else plain


def number(text: str) -> Decimal | None:
    """The decimal number in the text, with a comma or point as its decimal mark, else None."""
    plain = unicodedata.normalize("NFKC", text).strip().replace("−", "-").replace(" ", "")
    try:
        value = Decimal(plain.replace(",", "."))
    except (ArithmeticError, ValueError):
        return None
    return value if value.is_finite() else None


def _close(typed: str, key: tuple[str, ...], tolerance: float) -> bool:
    value = number(typed)
    if value is None:
        return False
    targets = [target for target in map(number, key) if target is not None]
    margin = Decimal(str(tolerance)) if isfinite(tolerance) else Decimal(0)
    return any(
        value == target
        or (
            _is_ordinary(value)
            and _is_ordinary(target)
            and _EXACT.subtract(value, target).copy_abs() <= margin
        )
        for target in targets
    )


def _is_ordinary(value: Decimal) -> bool:
    exponent = value.as_tuple().exponent
    return value.adjusted() < _MOST_DIGITS and int(exponent) >= -_MOST_DIGITS


_TYPED = (Kind.TEXT, Kind.NUMERIC)


class Duplicates:
    """Retired duplicates: their history, read as that of the question that stays.

    `question` looks one up by its id; `of` gives the ids retired into one, `stays` the id of the
    question that one of them turned out to be, and any other id itself. The two may list the same
    options in another order or under other letters, so what was chosen is told by the options'
    texts.
    """

    def __init__(
        self,
        question: Callable[[str], Question | None],
        of: Callable[[str], Iterable[str]] = lambda _: (),
        stays: Callable[[str], str] = lambda question_id: question_id,
    ) -> None:
        self._question = question
        self.of = of
        self.stays = stays

    def read(self, response: Response, question: Question) -> tuple[Question, Response]:
        """What to judge a response by: the question that stays, or where that has no such option
        the `question` that it was given to.
        """
        stays = self._question(question.same_as) if question.same_as else None
        chosen = carried(response.chosen or (), question, stays) if stays else None
        if stays is None or chosen is None:
            return question, response
        return stays, replace(response, chosen=chosen)

    def chosen(self, response: Response) -> tuple[str, ...]:
        """What was chosen, in the option ids of the question that stays; () for a verdict.

        Where that has no such option it is the option's text.
        """
        given_to = self._question(response.question)
        if given_to is None or not response.chosen:
            return response.chosen or ()
        judged_by, read = self.read(response, given_to)
        if judged_by is not given_to or not given_to.same_as:
            return read.chosen or ()
        texts = {option.id: option.text for option in given_to.options}
        return tuple(texts.get(option_id, option_id) for option_id in response.chosen)

    def key_here(
        self, key: tuple[str, ...], duplicate_id: str, question_id: str
    ) -> tuple[str, ...]:
        """A duplicate's key in the option ids of the question that stays; () if it has no such."""
        duplicate, stays = self._question(duplicate_id), self._question(question_id)
        return carried(key, duplicate, stays) or () if duplicate and stays else ()


def carried(chosen: tuple[str, ...], given_to: Question, stays: Question) -> tuple[str, ...] | None:
    """What was chosen in `given_to`, in the option ids of `stays`; None where it has no such.

    Typed texts and numbers, and letters of options that are only in the printed bank, stand.
    """
    if (given_to.kind in _TYPED) != (stays.kind in _TYPED):
        return None
    if given_to.kind in _TYPED or not given_to.options or not stays.options:
        return chosen
    here = _ids(stays)
    texts = {option.id: normal_text(option.text).casefold() for option in given_to.options}
    ids = [here.get(texts.get(option_id, "")) for option_id in chosen]
    return None if None in ids else tuple(option_id for option_id in ids if option_id is not None)


def _ids(question: Question) -> Mapping[str, str]:
    """Text → option id; of options with the same text the first."""
    return {normal_text(option.text).casefold(): option.id for option in reversed(question.options)}
