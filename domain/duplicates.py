"""Retired duplicates: their history, read as that of the question that stays.

The two may list the same options in another order or under other letters, so what was chosen is
told by the options' texts.
"""

from collections.abc import Callable, Iterable, Mapping

from msgspec.structs import replace

from domain.questions import Kind, Question, normal_text
from domain.responses import Response

_TYPED = (Kind.TEXT, Kind.NUMERIC)


class Duplicates:
    """Which questions are one. `question` looks one up; `of` gives the ids retired into one."""

    def __init__(
        self, question: Callable[[str], Question | None], of: Callable[[str], Iterable[str]]
    ) -> None:
        self._question = question
        self.of = of

    def stays(self, question_id: str) -> str:
        """The question that a retired duplicate turned out to be; any other id itself."""
        question = self._question(question_id)
        return question.same_as if question and question.same_as else question_id

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
        return tuple(texts.get(one, one) for one in response.chosen)

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
    found = [here.get(texts.get(one, "")) for one in chosen]
    return None if None in found else tuple(one for one in found if one is not None)


def _ids(question: Question) -> Mapping[str, str]:
    """Text → option id; of options with the same text the first."""
    return {normal_text(option.text).casefold(): option.id for option in reversed(question.options)}
