"""Shares, pace, calibration and confusions on small hand-worked logs."""

import numpy as np
import pytest

from domain.evidence.calibration import calibration
from domain.evidence.confusions import Miss, OptionPair, QuestionPair, option_pairs, question_pairs
from domain.evidence.intervals import Share, pace
from domain.questions import Option, Question
from domain.verdicts import Confidence, Verdict

RIGHT, WRONG, BLANK = Verdict.RIGHT, Verdict.WRONG, Verdict.BLANK


def test_a_share_of_nothing_has_neither_rate_nor_interval():
    assert Share().rate is None
    assert Share().interval is None


def test_pace_takes_the_middle_half_and_ignores_what_was_not_measured():
    paced = pace(np.array([10.0, 20, 30, 40, 5000, 0]))

    assert (paced.low, paced.median, paced.high, paced.measured) == (20, 30, 40, 5)
    assert (pace(np.array([45.0])).median, pace(np.array([45.0])).measured) == (45, 1)
    assert pace(np.array([0.0])) is None


def test_calibration_is_the_hand_worked_one():
    calibrated = calibration(
        {
            Confidence.SURE: Share(90, 100),
            Confidence.UNSURE: Share(46, 100),
            Confidence.GUESS: Share(),
        }
    )

    # sure: .9·.05² + .1·.95² = .0925; unsure: .46·.4² + .54·.6² = .268
    assert calibrated.brier == pytest.approx((0.0925 + 0.268) / 2)
    parts = calibrated.parts
    assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(
        calibrated.brier
    )


def test_an_empty_log_is_not_calibrated():
    assert calibration({Confidence.SURE: Share()}).brier is None


def _question(name: str, key: str, *texts: str) -> Question:
    options = tuple(Option(letter, text) for letter, text in zip("abcd", texts, strict=False))
    return Question(
        id=name, chapter="c", number=1, stem=f"{name}?", options=options, answer_key=(key,)
    )  # fmt: skip


HIGH = _question("high cloud of ice", "a", "Cirrus", "Cirrocumulus", "Stratus")
ROWS = _question("high cloud in ripples", "b", "Cirrus", "Cirrocumulus", "Nimbostratus")
RAIN = _question("grey layer that rains", "a", "Nimbostratus", "Stratus", "Cirrus")


def test_a_distractor_chosen_twice_is_a_confusion():
    misses = [Miss(HIGH, "b")] * 2 + [Miss(HIGH, "c")] + [Miss(RAIN, "b")] * 3

    assert option_pairs(misses) == [
        OptionPair("grey layer that rains", "b", "a", 3),
        OptionPair("high cloud of ice", "b", "a", 2),
    ]


def test_a_disputed_key_takes_the_place_of_the_banks():
    assert option_pairs([Miss(HIGH, "b")] * 2, {HIGH.id: "c"})[0].key == "c"


def test_questions_whose_keys_are_taken_for_each_other_are_paired():
    misses = [Miss(HIGH, "b"), Miss(ROWS, "a"), Miss(ROWS, "a"), Miss(RAIN, "b")]

    assert question_pairs(misses, [HIGH, ROWS, RAIN]) == [
        QuestionPair("high cloud in ripples", "high cloud of ice", 3, "a", "b")
    ]


def test_a_key_that_many_questions_share_pairs_nothing():
    again = _question("another high cloud", "a", "Cirrus", "Altostratus")

    assert question_pairs([Miss(ROWS, "a")], [HIGH, ROWS, again]) == []


def test_bare_numbers_pair_nothing():
    first = _question("how high", "a", "5 km", "900 feet")
    second = _question("how far", "b", "5 km", "900 feet")
    typed = _question("how deep", "30")

    assert question_pairs([Miss(first, "b")], [first, second]) == []
    assert option_pairs([Miss(first, "b")] * 3 + [Miss(typed, "40")] * 2) == []


def test_what_speaks_of_other_options_pairs_nothing():
    both = _question("which are ice", "b", "Cirrus", "All of the above")
    other = _question("which are high", "a", "Cirrus", "All of the above")

    assert question_pairs([Miss(other, "b")], [both, other]) == []
    assert option_pairs([Miss(other, "b")] * 2) == []
