"""Marks against published tables, worked examples and 729 real candidates."""

import csv
from collections import Counter
from fractions import Fraction

import pytest

from domain.marking.results import Answered, result
from domain.marking.schemes import (
    Marking,
    Scheme,
    blind_guess,
    corrected_for_guessing,
    expected_marks,
    parse_scheme,
)
from domain.verdicts import Verdict
from tests.published.open_sets import WHOLE as DATA


def test_correction_for_guessing_gives_a_published_raw_score():
    # College Board subject-test scoring sheet: 80 right, 46 wrong, five options.
    assert corrected_for_guessing(80, 46, 5) == Fraction("68.5")


def test_a_blind_guesser_gets_nothing_in_the_textbook_exercise():
    # Peck, Olsen and Devore, Introduction to Statistics and Data Analysis: 50 questions of five
    # options, all guessed: 10 right and 40 wrong on average, y = x1 − x2/4.
    assert corrected_for_guessing(10, 40, 5) == 0


def _percent(knowledge: int, omitted: float, wrong: str, blank: str) -> float:
    """The J Dent Educ table's set-up: k = 4, what is not known is guessed or left blank."""
    scheme = Scheme(Fraction(1), Fraction(wrong), Fraction(blank))
    unknown = 100 - knowledge
    guessed = float(blind_guess(scheme, 4))
    return knowledge + unknown * ((1 - omitted) * guessed + omitted * float(scheme.blank))


@pytest.mark.parametrize(
    ("omitted", "wrong", "blank", "expected"),
    # McMahan et al., J Dent Educ 78 (2014), Table 3 (two misprints of a stored copy corrected:
    # 66.25 and 84.375).
    [
        (0.0, "0", "0", [70, 77.5, 85, 92.5]),
        (0.0, "-1/4", "3/8", [62.5, 71.875, 81.25, 90.625]),
        (0.0, "-1/3", "1/3", [60, 70, 80, 90]),
        (0.0, "-1/2", "1/4", [55, 66.25, 77.5, 88.75]),
        (0.0, "-1", "0", [40, 55, 70, 85]),
        (0.25, "-1/3", "1/3", [63.333, 72.5, 81.667, 90.833]),
        (0.5, "-1/4", "3/8", [68.75, 76.563, 84.375, 92.188]),
        (0.5, "-1/2", "1/4", [62.5, 71.875, 81.25, 90.625]),
        (1.0, "-1", "0", [60, 70, 80, 90]),
    ],
)
def test_expected_marks_reproduce_a_published_table(omitted, wrong, blank, expected):
    percents = [_percent(knowledge, omitted, wrong, blank) for knowledge in (60, 70, 80, 90)]

    assert percents == pytest.approx(expected, abs=0.0006)


def test_certainty_based_marks_change_their_best_choice_at_two_thirds_and_four_fifths():
    # Gardner-Medwin (1995-2006): certainty low, middle, high: right 1/2/3, wrong 0/−2/−6.
    low, middle, high = (
        Scheme(Fraction(right), Fraction(wrong)) for right, wrong in ((1, 0), (2, -2), (3, -6))
    )

    def best(chance: Fraction) -> float:
        return max((low, middle, high), key=lambda scheme: expected_marks(scheme, chance)).right

    assert expected_marks(low, Fraction(2, 3)) == expected_marks(middle, Fraction(2, 3))
    assert expected_marks(middle, Fraction(4, 5)) == expected_marks(high, Fraction(4, 5))
    assert [best(Fraction(p)) for p in ("0.66", "0.67", "0.79", "0.81")] == [1, 2, 2, 3]


def read_where_it_lies(name: str) -> pytest.MarkDecorator:
    """For a set under the GPL: no part of it is in the tree, it is read only where it lies."""
    return pytest.mark.skipif(
        not (DATA / name).exists(),
        reason=f"{name} is under the GPL: no excerpt is kept, put it into shared/data beside this",
    )


def _candidate(credits: list[str]) -> list[Answered]:
    words = {"2": Verdict.RIGHT, "1": Verdict.WRONG, "0": Verdict.BLANK}
    return [
        Answered(question=str(number), subject="mathematics", verdict=words[credit])
        for number, credit in enumerate(credits)
    ]


@read_where_it_lies("MathExam14W.csv")
def test_729_real_candidates_get_their_marks():
    # Zeileis et al., R package psychotools, MathExam14W: right 2, wrong −0.5, blank 0.
    marking = Marking(parse_scheme("+2/−0.5"))
    with (DATA / "MathExam14W.csv").open() as file:
        rows = list(csv.reader(file))[1:]
    results = [result(_candidate(row[1:14]), marking) for row in rows]
    marks = sorted(float(marked.marks) for marked in results)
    part = [marked.parts[0] for marked in results]

    assert len(marks) == 729
    assert sum(marked.right for marked in part) == 5339
    assert sum(marked.wrong for marked in part) == 1667
    assert sum(marked.blank for marked in part) == 2471
    assert (marks[0], marks[-1], marks[364]) == (-6.5, 26, 14)
    assert sum(marks) / 729 == pytest.approx(13.504, abs=0.0005)
    assert sum(mark >= 12.5 for mark in marks) == 457


@read_where_it_lies("lsat6.csv")
def test_a_thousand_candidates_of_an_admission_test_have_the_published_scores():
    # Bock and Lieberman (1970), LSAT section 6: scores 0 to 5 reached by 3, 20, 85, 237, 357, 298.
    with (DATA / "lsat6.csv").open() as file:
        rows = list(csv.DictReader(file))
    words = {"1": Verdict.RIGHT, "0": Verdict.WRONG}
    papers = [
        [Answered(question=item, subject="all", verdict=words[row[item]]) for item in row]
        for row in rows
    ]
    scores = Counter(int(result(paper, Marking(parse_scheme("+1/0"))).marks) for paper in papers)

    assert [scores[score] for score in range(6)] == [3, 20, 85, 237, 357, 298]
