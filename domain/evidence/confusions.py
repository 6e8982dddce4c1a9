"""What the candidate mixes up: an option taken for the key, and questions taken for each other."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from msgspec import Struct

from domain.questions import Question, normal_text

OFTEN = 2
"""How often a distractor must have been chosen to be called a confusion."""


class OptionPair(Struct, frozen=True):
    """In one question `chosen` (option id) was taken for `key` so many times."""

    question: str
    chosen: str
    key: str
    times: int


class QuestionPair(Struct, frozen=True):
    """The key of one question was chosen in the other, so many times in all."""

    first: str
    second: str
    times: int


def option_pairs(
    misses: Iterable[tuple[Question, str]], keys: Mapping[str, str] = {}
) -> list[OptionPair]:
    """Distractors chosen at least `OFTEN` times, the most frequent first.

    `misses` are (question, option id chosen); `keys` overrides a question's key by its id.
    """
    misses = list(misses)
    counts = Counter((question.id, chosen) for question, chosen in misses)
    known = {question.id: question for question, _ in misses}
    return [
        OptionPair(question, chosen, keys.get(question) or known[question].answer_key[0], times)
        for (question, chosen), times in counts.most_common()
        if times >= OFTEN and (known[question].answer_key or question in keys)
    ]


def question_pairs(
    misses: Iterable[tuple[Question, str]], questions: Iterable[Question]
) -> list[QuestionPair]:
    """Pairs of questions in which the one's key was chosen in the other, most frequent first.

    Only words that are the key of a single question say anything: "true" or "5 m" does not.
    """
    owner = _owners(questions)
    counts: Counter[tuple[str, str]] = Counter()
    for question, chosen in misses:
        other = owner.get(_text(question, chosen))
        if other is not None and other != question.id:
            counts[min(question.id, other), max(question.id, other)] += 1
    return [QuestionPair(*pair, times) for pair, times in counts.most_common()]


def _owners(questions: Iterable[Question]) -> dict[str, str]:
    owners: dict[str, set[str]] = defaultdict(set)
    for question in questions:
        for option in question.answer_key[:1]:
            text = _text(question, option)
            if text and not _is_number(text):
                owners[text].add(question.id)
    return {text: ids.pop() for text, ids in owners.items() if len(ids) == 1}


def _is_number(text: str) -> bool:
    """No letters, or a number with at most three letters of a unit."""
    letters = sum(map(str.isalpha, text))
    return not letters or (letters <= 3 and any(map(str.isdecimal, text)))


def _text(question: Question, option_id: str) -> str:
    texts = (option.text for option in question.options if option.id == option_id)
    return normal_text(next(texts, "")).casefold()
