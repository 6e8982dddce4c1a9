"""Weights in any unit, made comparable over banks."""

import pytest
from msgspec.structs import replace

from domain.marking.schemes import exam_weights
from tests.builders import bank, bares


def weighed(**weights):
    """A bank with subjects of 10, 20, … questions and these weights."""
    shape = {name: {"One": bares(10 * place)} for place, name in enumerate(weights, 1)}
    made = bank("Book", shape)
    return made.with_subjects(
        replace(subject, weight=weights[subject.title]) for subject in made.subjects
    )


def test_without_weights_a_subject_weighs_its_questions():
    assert list(exam_weights(weighed(a=None, b=None)).values()) == [10, 20]


@pytest.mark.parametrize("unit", [1, 5, 0.01])
def test_the_unit_of_the_weights_does_not_matter(unit):
    weights = exam_weights(weighed(a=3 * unit, b=1 * unit))

    assert list(weights.values()) == pytest.approx([22.5, 7.5])


def test_a_subject_without_a_weight_weighs_like_the_others_question_by_question():
    # 4 per cent for 10 questions and 8 for 20: 0.4 a question, so 12 for 30.
    weights = exam_weights(weighed(a=4, b=8, c=None))

    assert list(weights.values()) == pytest.approx([10, 20, 30])


def test_a_subject_of_no_weight_counts_nothing_and_no_weight_at_all_nothing_either():
    assert list(exam_weights(weighed(a=0, b=2)).values()) == [0, 30]
    assert list(exam_weights(weighed(a=0, b=0)).values()) == [0, 0]
