import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.errors import InputError
from domain.marking.blueprint import (
    Blueprint,
    Draw,
    DrawableQuestion,
    Section,
    draw_paper,
    even_sections,
)
from domain.marking.results import AnswerChanges, Answered, result
from domain.marking.schemes import Marking, parse_scheme
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict

CLOUDS = [DrawableQuestion(f"c{n}", "clouds", Tier(n % 4)) for n in range(40)]
WIND = [DrawableQuestion(f"w{n}", "wind") for n in range(10)]


def _blueprint(**changes) -> Blueprint:
    given_ = {"sections": (Section("clouds", 20), Section("wind", 5)), "minutes": 30}
    return Blueprint(**(given_ | changes))


def test_a_paper_has_what_the_blueprint_asks_each_question_once():
    paper = draw_paper(_blueprint(), CLOUDS + WIND, random.Random(1))

    assert len(set(paper)) == 25
    assert [question[0] for question in paper] == ["c"] * 20 + ["w"] * 5


def test_the_same_seed_draws_the_same_paper_and_another_seed_another():
    first, again, other = (
        draw_paper(_blueprint(), CLOUDS + WIND, random.Random(seed)) for seed in (7, 7, 8)
    )

    assert first == again != other


@pytest.mark.parametrize(("share", "hard"), [(0.0, 0), (0.5, 10), (0.8, 16), (1.0, 20)])
def test_the_hard_tiers_get_their_share(share, hard):
    tiers = {cloud.question: cloud.tier for cloud in CLOUDS}
    paper = draw_paper(
        _blueprint(sections=(Section("clouds", 20),), hard_share=share),
        CLOUDS + [DrawableQuestion(f"e{n}", "clouds", Tier.CLEAR) for n in range(20)],
        random.Random(3),
    )

    assert sum(tiers.get(question, Tier.CLEAR) >= Tier.HARD for question in paper) == hard


def test_where_the_hard_tiers_have_too_few_the_others_fill_up():
    few = [
        DrawableQuestion(f"q{n}", "clouds", Tier.HARD if n < 3 else Tier.CLEAR) for n in range(20)
    ]

    paper = draw_paper(
        _blueprint(sections=(Section("clouds", 20),), hard_share=0.9), few, random.Random(3)
    )

    assert len(paper) == 20


def test_a_weighted_draw_takes_the_heavy_ones_in_proportion():
    pool = [DrawableQuestion("heavy", "s", weight=3.0), DrawableQuestion("light", "s", weight=1.0)]
    blueprint = Blueprint(sections=(Section("s", 1),), minutes=1, draw=Draw.WEIGHTED)
    rng = random.Random(5)

    heavy = sum(draw_paper(blueprint, pool, rng) == ("heavy",) for _ in range(4000))

    assert heavy / 4000 == pytest.approx(0.75, abs=0.03)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sections": (Section("wind", 11),)}, "10 questions to draw from"),
        ({"sections": ()}, "at least one question"),
        ({"minutes": 0}, "at least 1 minute"),
        ({"hard_share": 1.5}, "0 to 1"),
        ({"scheme": "much"}, "scheme"),
    ],
)
def test_an_impossible_blueprint_says_why(changes, words):
    with pytest.raises(InputError, match=words):
        draw_paper(_blueprint(**changes), CLOUDS + WIND, random.Random(1))


@given(weights=st.lists(st.floats(0.1, 50), min_size=1, max_size=21), questions=st.integers(1, 300))
def test_even_sections_add_up_and_stay_within_one_of_their_share(weights, questions):
    subjects = [(str(n), weight) for n, weight in enumerate(weights)]
    counts = {part.subject: part.questions for part in even_sections(subjects, questions)}

    assert sum(counts.values()) == questions
    for subject, weight in subjects:
        assert abs(counts.get(subject, 0) - questions * weight / sum(weights)) < 1 + 1e-6


PAPER = [
    Answered(question="1", subject="clouds", verdict=Verdict.RIGHT, seconds=30),
    Answered(
        question="2", subject="clouds", verdict=Verdict.WRONG, confidence=Confidence.GUESS,
        earlier=(Verdict.RIGHT,), seconds=90,
    ),
    Answered(
        question="3", subject="wind", verdict=Verdict.RIGHT, confidence=Confidence.GUESS,
        earlier=(Verdict.WRONG, Verdict.WRONG), seconds=50,
    ),
    Answered(question="4", subject="wind", verdict=Verdict.BLANK, seconds=10),
    Answered(
        question="5", subject="wind", verdict=Verdict.WRONG, earlier=(Verdict.WRONG,), seconds=70
    ),
    Answered(question="6", subject="wind", verdict=Verdict.WRONG, share=Fraction(3, 5)),
]  # fmt: skip


def test_a_paper_is_marked_as_by_hand():
    marked = result(PAPER, Marking(parse_scheme("+4/−1"), {"wind": parse_scheme("+2/−1")}))

    clouds, wind = marked.parts
    assert (clouds.right, clouds.wrong, clouds.blank, clouds.marks) == (1, 1, 0, 3)
    # wind: right +2, blank 0, wrong −1, three fifths of a question 6/5 − 2/5 = 4/5
    assert (wind.marks, wind.won, wind.lost) == (Fraction(9, 5), Fraction(14, 5), 1)
    assert (marked.marks, marked.best) == (Fraction(24, 5), 16)
    assert marked.won - marked.lost == marked.marks


def test_guesses_left_blank_give_the_other_total():
    marked = result(PAPER, Marking(parse_scheme("+4/−1"), {"wind": parse_scheme("+2/−1")}))

    # Without the two guesses: the wrong one's −1 is saved, the right one's +2 is gone.
    assert marked.guesses == 2
    assert marked.without_guesses == marked.marks + 1 - 2


def test_changed_answers_are_followed_from_first_to_last():
    marked = result(PAPER, Marking(parse_scheme("+4/−1")))

    assert marked.changes == AnswerChanges(to_right=1, to_wrong=1, neither=1)
    assert (marked.seconds_right, marked.seconds_wrong) == (40, 80)


def test_what_was_known_is_the_count_corrected_for_guessing():
    def some(right: int, wrong: int, options: int) -> list[Answered]:
        verdicts = [Verdict.RIGHT] * right + [Verdict.WRONG] * wrong
        return [
            Answered(question=str(n), subject="s", verdict=verdict, options=options)
            for n, verdict in enumerate(verdicts)
        ]

    # Four options: 45 − 15/3 = 40; two options: 6 − 4 = 2; typed answers can't be hit: 5.
    paper = some(45, 15, 4) + some(6, 4, 2) + some(5, 5, 0)

    assert result(paper, Marking(parse_scheme("+1/0"))).known == 47


def test_an_empty_paper_is_worth_nothing():
    assert result([], Marking(parse_scheme("+4/−1"))).marks == 0


def test_a_candidate_with_negative_marks_by_hand():
    # The same scheme on three candidates worked by hand: 13 questions each.
    marking = Marking(parse_scheme("+2/−0.5"))
    verdicts = {"2": Verdict.RIGHT, "1": Verdict.WRONG, "0": Verdict.BLANK}
    rows = {"2" * 13: 26, "1" * 13: -6.5, "2222220000111": 10.5}

    def marks(row: str) -> float:
        answered = [
            Answered(question=str(at), subject="mathematics", verdict=verdicts[letter])
            for at, letter in enumerate(row)
        ]
        return float(result(answered, marking).marks)

    assert {row: marks(row) for row in rows} == rows


def _scored(rows: list[tuple], schemes: dict[str, tuple[float, float]]) -> dict[str, object]:
    """What a paper comes to, by an independent scorer: plain loops over (subject, verdict,
    confidence, seconds, options), schemes as (right, wrong) in floating point.
    """
    total = unguessed = random_fill = struck_fill = 0.0
    subjects: dict[str, list[float]] = {}
    groups: dict[str, list[float]] = {}
    quarters: dict[int, list[float]] = {}
    for place, (subject, verdict, confidence, seconds, options) in enumerate(rows):
        right, wrong = schemes[subject]
        marks = right if verdict == "right" else wrong if verdict == "wrong" else 0.0
        total += marks
        unguessed += 0.0 if confidence == "guess" else marks
        if verdict == "blank" and options > 1:
            random_fill += (right + (options - 1) * wrong) / options
            struck_fill += (right + (options - 2) * wrong) / (options - 1)
        word = "blank" if verdict == "blank" else confidence
        quarter = next(q for q in range(4) if place < len(rows) * (q + 1) // 4)
        for group, key in ((subjects, subject), (groups, word), (quarters, quarter)):
            row = group.setdefault(key, [0, 0, 0.0, 0.0, 0])
            row[0] += 1
            row[1] += verdict == "right"
            row[2] += marks
            row[3] += seconds
            row[4] += seconds > 0
    return {
        "total": total, "unguessed": unguessed, "fill": (random_fill, struck_fill),
        "subjects": subjects, "said": groups, "quarters": quarters,
    }  # fmt: skip


def test_200_random_papers_come_to_what_an_independent_scorer_says():
    dice = random.Random(20)
    schemes = {"a": ("+4/−1", (4, -1)), "b": ("+1/−1/3", (1, -1 / 3)), "c": ("+2/0", (2, 0))}
    for _ in range(200):
        rows = [
            (
                dice.choice("abc"), dice.choice(["right", "right", "wrong", "blank"]),
                dice.choice(["sure", "unsure", "guess"]), dice.choice([0, 20.5, 61.0]),
                dice.choice([0, 2, 4, 5]),
            )
            for _ in range(dice.randint(1, 120))
        ]  # fmt: skip
        paper = [
            Answered(
                question=str(n), subject=subject, verdict=Verdict(verdict),
                confidence=Confidence(confidence), seconds=seconds, options=options,
            )
            for n, (subject, verdict, confidence, seconds, options) in enumerate(rows)
        ]  # fmt: skip
        own = {name: parse_scheme(text) for name, (text, _) in schemes.items()}

        marked = result(paper, Marking(own["a"], own))

        expected = _scored(rows, {name: numbers for name, (_, numbers) in schemes.items()})
        assert float(marked.marks) == pytest.approx(expected["total"])
        assert float(marked.without_guesses) == pytest.approx(expected["unguessed"])
        fill = (float(marked.filled.at_random), float(marked.filled.one_struck))
        assert fill == pytest.approx(expected["fill"])
        for parts, key, group in (
            (marked.parts, "subject", "subjects"), (marked.confidence, "confidence", "said"),
        ):  # fmt: skip
            assert len(parts) == len(expected[group])
            for part in parts:
                questions, right, marks, seconds, _ = expected[group][getattr(part, key)]
                assert (part.right, float(part.marks)) == (right, pytest.approx(marks))
                if key == "subject":
                    assert part.right + part.wrong + part.blank == questions
                    assert part.seconds == pytest.approx(seconds)
                else:
                    assert part.questions == questions
        quarters = [expected["quarters"][q] for q in sorted(expected["quarters"])]
        for part, (questions, right, marks, seconds, timed) in zip(
            marked.quarters, quarters, strict=True
        ):
            assert (part.questions, part.right) == (questions, right)
            assert float(part.marks) == pytest.approx(marks)
            assert part.seconds == pytest.approx(seconds / timed if timed else 0)


@pytest.mark.parametrize(("right", "wrong", "options", "score"), [
    # Scoring text of College Board subject tests: 80 right, 46 wrong, less a quarter each: 68.5.
    (80, 46, 5, 68.5),
    # Peck, Olsen and Devore, Introduction to Statistics and Data Analysis: 50 questions of five
    # options, all guessed, 10 right and 40 wrong on average: y = x1 − x2/4 = 0.
    (10, 40, 5, 0),
])  # fmt: skip
def test_a_published_formula_score_comes_out(right, wrong, options, score):
    verdicts = [Verdict.RIGHT] * right + [Verdict.WRONG] * wrong + [Verdict.BLANK] * 4
    paper = [
        Answered(question=str(n), subject="s", verdict=verdict, options=options)
        for n, verdict in enumerate(verdicts)
    ]

    marked = result(paper, Marking(parse_scheme(f"+1/−1/{options - 1}")))

    assert float(marked.marks) == score
    assert float(marked.known) == score
