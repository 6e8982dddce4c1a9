"""What the candidate mixes up: an option taken for the key, and questions taken for each other."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from msgspec import Struct

from domain.questions import Question, normal_text, speaks_of_others

OFTEN = 2
"""How often a distractor must have been chosen to be called a confusion."""


class Miss(NamedTuple):
    """A wrong response: the id of the option chosen, or what was typed."""

    question: Question
    chosen: str


class OptionPair(Struct, frozen=True):
    """In one question `chosen` (option id) was taken for `key` so many times."""

    question: str
    chosen: str
    key: str
    times: int


class QuestionPair(Struct, frozen=True):
    """The key of one question was chosen in the other, so many times in all; the ids of those
    options, "" where it happened in the other question alone.
    """

    first: str
    second: str
    times: int
    chosen_first: str = ""
    chosen_second: str = ""


def option_pairs(misses: Iterable[Miss], keys: Mapping[str, str] = {}) -> list[OptionPair]:
    """Distractors chosen at least `OFTEN` times, the most frequent first.

    `keys` overrides a question's key by its id. A number taken for another one is left out: it
    was reckoned or guessed, not mixed up; so is what speaks of other options ("all of these").
    """
    misses = list(misses)
    counts = Counter((miss.question.id, miss.chosen) for miss in misses)
    known = {miss.question.id: miss.question for miss in misses}
    pairs = []
    for (name, chosen), times in counts.most_common():
        if times < OFTEN:
            break
        question = known[name]
        key = keys.get(name) or next(iter(question.answer_key), "")
        texts = (_text(question, chosen) or chosen, _text(question, key) or key)
        says_nothing = all(map(_is_number, texts)) or any(map(speaks_of_others, texts))
        if key and not says_nothing:
            pairs.append(OptionPair(name, chosen, key, times))
    return pairs


def question_pairs(misses: Iterable[Miss], questions: Iterable[Question]) -> list[QuestionPair]:
    """Pairs of questions in which the one's key was chosen in the other, most frequent first.

    Only words that are the key of a single question say anything: "true", "5 m" or "all of the
    above" does not.
    """
    owner = _owners(questions)
    counts: Counter[tuple[str, str]] = Counter()
    chosen: dict[tuple[str, str], str] = {}
    others: dict[tuple[str, str], str | None] = {}
    for miss in misses:
        name, taken = miss.question.id, (miss.question.id, miss.chosen)
        if taken not in others:
            others[taken] = owner.get(_text(miss.question, miss.chosen))
        other = others[taken]
        if other is not None and other != name:
            counts[min(name, other), max(name, other)] += 1
            chosen[name, other] = miss.chosen
    return [
        QuestionPair(
            first, second, times, chosen.get((first, second), ""), chosen.get((second, first), "")
        )
        for (first, second), times in counts.most_common()
    ]


def _owners(questions: Iterable[Question]) -> dict[str, str]:
    owners: dict[str, set[str]] = defaultdict(set)
    for question in questions:
        for option in question.answer_key[:1]:
            text = _text(question, option)
            if text and not _is_number(text) and not speaks_of_others(text):
                owners[text].add(question.id)
    return {text: ids.pop() for text, ids in owners.items() if len(ids) == 1}


_NUMBER_AND_UNIT = re.compile(r"\W*\d[\d\W]*[^\W\d]*\W*")


def _is_number(text: str) -> bool:
    """A number, alone or with its unit ("40 feet"), or digits with at most three letters."""
    letters = sum(map(str.isalpha, text))
    is_digits = any(map(str.isdecimal, text)) and letters <= 3
    return is_digits or _NUMBER_AND_UNIT.fullmatch(text) is not None


def _text(question: Question, option_id: str) -> str:
    texts = (option.text for option in question.options if option.id == option_id)
    return normal_text(next(texts, "")).casefold()
