"""The chooser: worth, order, what is left alone, and why."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.chooser import (
    Choosable,
    LeftOut,
    Lookahead,
    Pool,
    VisitsAhead,
    choose,
    worth_of_an_hour,
)
from domain.evidence.differences import gains_of_answering
from domain.evidence.memory.logistic import PRIOR, Logistic, chance_of, features, fit
from domain.evidence.memory.practice import UNSEEN, Practice, PracticeColumns

TODAY, EXAM = date(2027, 3, 1).toordinal(), date(2027, 6, 1).toordinal()
MODEL = fit([], ["wind", "maps"])


def _question(name: str, ago: int | None = 30, subject: str = "wind", **fields) -> Choosable:
    since = None if ago is None else TODAY - ago
    practice = Practice(1, 1, 0, False, 1, since - 10, since) if since is not None else None
    fields = {"worth": 1.0, "seconds": 60.0, "practice": practice, "signs": 1} | fields
    return Choosable(question=name, subject=subject, since=since, **fields)


def _names(choice) -> list[str]:
    return [pick.question for pick in choice.picks]


def test_without_a_model_worth_is_weight_days_unseen_and_signs():
    # 1·20·1 = 20 and .9·50·.35 = 15.75 beat 1·15·1 = 15; shown in the order given (book order).
    questions = [
        _question("short", ago=15),
        _question("no sign", ago=50, worth=0.9, signs=0),
        _question("long", ago=20),
    ]

    choice = choose(questions, 120, TODAY)

    assert _names(choice) == ["no sign", "long"]
    assert (choice.seconds, choice.gain) == (120, None)
    assert choice.left_out[LeftOut.MINUTES].questions == 1


def test_worth_is_per_second():
    questions = [_question("slow", ago=20, seconds=100.0), _question("quick", ago=15)]

    assert _names(choose(questions, 100, TODAY)) == ["quick"]


def test_what_is_settled_comes_after_all_else_the_longest_unseen_first():
    questions = [
        _question("settled", ago=100, settled=True, worth=9.0),
        _question("settled longer", ago=120, settled=True, worth=0.1),
        _question("not settled", ago=5, worth=0.1, signs=0),
    ]

    assert _names(choose(questions, 60, TODAY)) == ["not settled"]
    assert _names(choose(questions, 120, TODAY)) == ["settled longer", "not settled"]
    looked = choose(questions, 120, TODAY, Lookahead(MODEL, TODAY, EXAM))
    assert _names(looked) == ["settled longer", "not settled"]


def test_what_was_tried_in_the_last_four_days_rests_unless_asked_for_by_name():
    questions = [_question("four", ago=4), _question("five", ago=5)]

    choice = choose(questions, 600, TODAY)

    assert _names(choice) == ["five"]
    assert choice.left_out[LeftOut.RECENT].questions == 1
    assert _names(choose(questions, 600, TODAY, named=True)) == ["four", "five"]


def test_untried_questions_wait_for_their_first_study():
    studied = _question("said yesterday", ago=1, practice=None, signs=0)
    choice = choose([_question("new", ago=None), studied], 600, TODAY)

    assert _names(choice) == ["said yesterday"]
    assert choice.left_out[LeftOut.FIRST_STUDY].questions == 1


def test_of_near_duplicates_one_is_taken():
    questions = [_question("one", ago=30, duplicates="d"), _question("other", duplicates="d")]

    choice = choose(questions, 600, TODAY)

    assert len(choice.picks) == 1
    assert choice.left_out[LeftOut.DUPLICATE].questions == 1


def test_a_subject_that_has_its_visit_is_left_alone_and_no_more_are_taken_than_wanted():
    questions = [_question("a", subject="soon"), _question("b"), _question("c", ago=40)]

    choice = choose(questions, 600, TODAY, visits=VisitsAhead(frozenset({"soon"})), most=1)

    assert [pick.question for pick in choice.picks] == ["c"]
    assert choice.left_out[LeftOut.VISIT].questions == 1
    assert choice.left_out[LeftOut.MINUTES].questions == 1


def test_what_a_visit_will_ask_comes_behind_all_else_that_is_not_settled():
    questions = [
        _question("block", subject="maps", worth=9.0),
        _question("sweep", worth=9.0, practice=Practice(1, 2, 0, False, 2, TODAY - 60, TODAY - 30)),
        _question("once missed", worth=0.1),
        _question("settled", ago=90, settled=True),
    ]
    visits = VisitsAhead(blocks=frozenset({"maps"}), sweeps=frozenset({"wind"}))

    for lookahead in (None, Lookahead(MODEL, TODAY, EXAM)):
        taken = [
            _names(choose(questions, 60, TODAY, lookahead, visits)),
            _names(choose(questions, 180, TODAY, lookahead, visits)),
        ]
        assert taken == [["once missed"], ["block", "sweep", "once missed"]]


def test_what_would_wait_on_the_eve_comes_first_where_that_is_asked_for():
    questions = [
        _question("waits", ago=50, worth=0.1),
        _question("worth more", ago=49, worth=9.0),
        _question("a visit asks it", ago=60, subject="maps"),
        _question("settled", ago=90, settled=True),
    ]
    visits = VisitsAhead(blocks=frozenset({"maps"}))

    first = choose(questions, 60, TODAY, visits=visits, waiting_since=TODAY - 50)

    assert _names(first) == ["waits"]
    assert _names(choose(questions, 60, TODAY, visits=visits)) == ["worth more"]


@pytest.mark.parametrize("guess", [0.0, 0.25])
def test_lookahead_is_the_formula_on_the_models_cells(guess: float):
    model = fit([], ["wind", "maps"], guess=guess)
    practice = Practice(2, 1, 1, True, 1, TODAY - 60, TODAY - 20)

    def on(day: int, state: Practice) -> float:
        return model.chance("wind", state.cell(day))

    right = Practice(3, 1, 2, True, 1, TODAY - 60, TODAY)
    missed = Practice(2, 2, 0, False, 2, TODAY - 60, TODAY)
    now = on(TODAY, practice)
    sure_weight = PRIOR["sure"][0]
    # A right response today is sure four times in five.
    if_right = guess + (1 - guess) * chance_of(
        sum(a * b for a, b in zip(model.weights, features(right.cell(EXAM)), strict=False))
        - sure_weight * 0.2
    )
    expected = now * if_right + (1 - now) * on(EXAM, missed) - on(EXAM, practice)

    own, columns = np.array([1]), PracticeColumns.of([practice])
    (gain,) = gains_of_answering(["maps", "wind"], own, columns, model, TODAY, EXAM)
    assert gain == pytest.approx(expected)
    pool = Pool.of([_question("a", practice=practice, worth=2.0)])
    assert Lookahead(model, TODAY, EXAM).gains(pool) == [max(0.0, 2 * gain)]


def test_where_the_model_expects_no_gain_the_rule_decides_and_nothing_is_promised():
    weights = {name: mean for name, (mean, _) in PRIOR.items()} | {"rights": -9.0, "streak": 0.0}
    hopeless = Logistic((), tuple(weights.values()), [], 0)
    questions = [_question("short", ago=15), _question("long", ago=20)]

    choice = choose(questions, 60, TODAY, Lookahead(hopeless, TODAY, EXAM))

    assert (_names(choice), choice.gain) == (["long"], 0.0)


def test_lookahead_of_an_untried_question_starts_from_nothing():
    (gain,) = Lookahead(MODEL, TODAY, EXAM).gains(Pool.of([_question("new", practice=None)]))

    now = MODEL.chance("wind", UNSEEN)
    assert 0 < gain < 1 - now


def test_the_gain_of_a_choice_and_of_what_it_leaves_is_in_score():
    questions = [_question("a", worth=2.0), _question("b", worth=1.0)]
    ahead = Lookahead(MODEL, TODAY, EXAM)
    gain = ahead.gains(Pool.of(questions))[1]

    choice = choose(questions, 60, TODAY, ahead)

    assert choice.gain == pytest.approx(2 * gain)
    assert choice.left_out[LeftOut.MINUTES].gain == pytest.approx(gain)
    hours = worth_of_an_hour([*questions, _question("c", subject="maps")], TODAY, ahead, seconds=60)
    assert hours == pytest.approx({"wind": 2 * gain, "maps": gain})


_random_question = st.builds(
    lambda n, ago, subject, seconds, worth, signs, settled: _question(
        str(n), ago, subject, seconds=float(seconds), worth=worth, signs=signs, settled=settled
    ),
    st.integers(0, 10**6), st.one_of(st.none(), st.integers(0, 300)),
    st.sampled_from(["wind", "maps"]), st.integers(20, 100), st.floats(0.01, 2),
    st.integers(0, 3), st.booleans(),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    st.lists(_random_question, max_size=40, unique_by=lambda question: question.question),
    st.integers(0, 3000), st.booleans(),
)  # fmt: skip
def test_a_choice_fits_keeps_the_order_and_accounts_for_every_question(questions, seconds, model):
    choice = choose(questions, seconds, TODAY, Lookahead(MODEL, TODAY, EXAM) if model else None)

    places = [questions.index(pick) for pick in choice.picks]
    assert places == sorted(places)
    assert choice.seconds == sum(pick.seconds for pick in choice.picks) <= seconds
    left = sum(omission.questions for omission in choice.left_out.values())
    assert left + len(choice.picks) == len(questions)
    if any(pick.settled for pick in choice.picks):
        room = seconds - choice.seconds
        eligible = [
            question
            for question in questions
            if question.since is not None and not question.settled
        ]
        skipped = [
            question
            for question in eligible
            if question not in choice.picks and TODAY - question.since > 4
        ]
        assert all(question.seconds > room for question in skipped)
