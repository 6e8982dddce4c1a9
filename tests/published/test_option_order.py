"""Options of published questions: printed order where the text speaks of a letter, else shuffled.

`python -m tests.published.test_option_order` lists every question that keeps its order, and why.
"""

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random

import pytest

from banks.importers import detect
from banks.importers.common import Hints
from banks.intake.reconcile import reconcile
from domain.presentation import keeps_order
from domain.questions import Bank, Question
from tests.published.open_sets import each

SETS = (
    "aqua_test.json", "medmcqa_validation.jsonl", "mmlu_clinical_knowledge_test.csv",
    "mmlu_college_chemistry_test.csv", "mmlu_sociology_test.csv", "openbookqa_test.pasted.txt",
)  # fmt: skip
NAMED = re.compile(
    r"(?i:\b(?:ans|answer|option|choice)s?\b)(?:\s+is)?[\s.:'\"(-]+[a-dA-D]['\")]?(?:[.,:;]|\s+i\.e|$)",
    re.MULTILINE,
)
"""A plain net, not the one under test: "Ans. B i.e.", "Answer: c.", "option 'd',"."""
ANY_LETTER = re.compile(
    r"(?<![\w])(?:[b-hB-H]|A(?!\s+[a-z]))(?![\w])|[a-hA-H][).]|\banswer|\boption", re.IGNORECASE
)
OF_OTHERS = re.compile(
    r"\d|\b(?:all|none|both|any|some|neither|either|above|these|only|[ivx]+)\b", re.IGNORECASE
)
"""Whatever could speak of an option, or stand in order: far more than does."""


@cache
def questions_of(path: Path) -> list[Question]:
    parsed = detect.parse(path.read_bytes(), Hints(name=path.name))
    changes = reconcile(Bank(id="book", title="Book"), parsed, subject="S", chapter="C")
    return [question for question in changes.bank.questions.values() if question.options]


def texts_of(question: Question) -> Iterator[str]:
    yield from (question.stem, question.explanation)
    yield from (option.text for option in question.options)


@pytest.mark.parametrize("path", each(*SETS))
def test_no_question_is_shuffled_whose_text_names_an_option_by_letter(path):
    shuffled = [question for question in questions_of(path) if not keeps_order(question)]

    assert [each.stem for each in shuffled if any(map(NAMED.search, texts_of(each)))] == []


def test_no_question_that_names_no_letter_keeps_its_order():
    plain = [
        question
        for parameter in each(*SETS)
        for question in questions_of(parameter.values[0])
        if not any(map(ANY_LETTER.search, (question.stem, question.explanation)))
        and not any(OF_OTHERS.search(option.text) for option in question.options)
    ]
    sample = Random(1).sample(plain, min(len(plain), 200))

    assert sample
    assert [question.stem for question in sample if keeps_order(question)] == []


if __name__ == "__main__":
    for parameter in each(*SETS):
        path = parameter.values[0]
        for question in questions_of(path):
            if keeps_order(question):
                options = " | ".join(option.text for option in question.options)
                print(f"{path.name} {question.number}: {options} :: {question.explanation[:80]!r}")
