"""Memory models learnt from candidates whose memory is known."""

import random
from datetime import date, timedelta
from math import exp, log1p, sqrt

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.optimize import minimize
from scipy.special import logit as log_odds

from domain.evidence.memory.learning import ENOUGH, hold_out, learn, mended, was_missed
from domain.evidence.memory.logistic import (
    NAMES,
    PRIOR,
    SUBJECT_DEVIATION,
    Places,
    chance_of,
    feature_table,
    features,
    fit,
    fit_first,
    solve,
)
from domain.evidence.memory.practice import (
    STAGE_COLUMNS,
    UNSEEN,
    StageColumns,
    Trial,
    TryColumns,
    read,
    stage_numbers,
    steps,
    tier_of,
)
from domain.tiers import HandSet, Judged, Tier, TierRules
from domain.verdicts import Confidence, Verdict
from tests.domain.evidence.memories.candidate import LUCKY
from tests.domain.evidence.memories.laws import Flags, Floats, Items, Law
from tests.domain.evidence.simulated import FIRST_DAY, SUBJECTS, Candidate, true_model
from tests.domain.evidence.worth import Learner

DAY = date(2027, 3, 1)


def _judged(*days: tuple[int, Verdict]) -> list[Judged]:
    return [Judged(DAY + timedelta(offset), verdict, Confidence.SURE) for offset, verdict in days]


@pytest.fixture(scope="module")
def known() -> Candidate:
    """A candidate of 17,000 tries whose weights are the prior's means."""
    candidate = Candidate(random.Random(3))
    candidate.study(500)
    return candidate


def test_a_history_is_read_day_by_day():
    history = _judged((0, Verdict.WRONG), (0, Verdict.RIGHT), (3, Verdict.RIGHT))

    trials, stages = read("wind", history, TierRules())
    practice = stages[-1].practice

    first, second = trials
    assert (first.cell, first.right) == (UNSEEN, False)
    assert second.cell[:5] == (0, 1, 0, 0, Tier.HARD)
    assert (practice.rights, practice.misses, practice.streak, practice.sure) == (1, 1, 1, True)
    assert (practice.last - practice.first, practice.tier) == (3, Tier.HARD)
    assert [stage.since - practice.first for stage in stages] == [0, 3]


def test_stages_in_columns_are_those_looked_up_question_by_question():
    dice = random.Random(4)
    verdicts = [Verdict.RIGHT, Verdict.RIGHT, Verdict.WRONG]
    histories = [
        _judged(*((day, dice.choice(verdicts)) for day in sorted(dice.choices(range(90), k=tries))))
        for tries in (0, 1, 3, 6, 0, 9, 4) * 8
    ]
    histories.append([HandSet(DAY, Tier.HARD, "")])
    questions = [read("wind", history, TierRules())[1] for history in histories]
    numbers = [np.array(stage_numbers(stages)).reshape(-1, STAGE_COLUMNS) for stages in questions]
    ends = np.cumsum([len(rows) for rows in numbers])
    columns = StageColumns(np.concatenate(numbers), ends - [len(rows) for rows in numbers], ends)
    for offset in (-1, 0, 30, 60, 100, None):
        day = DAY.toordinal() + (200 if offset is None else offset)
        last = [
            next((stage for stage in reversed(stages) if stage.since <= day), None)
            for stages in questions
        ]
        stood = columns.on(None if offset is None else day)
        practices = [stage.practice if stage else None for stage in last]
        assert [stood.practice.practice(n) for n in range(len(questions))] == practices
        assert stood.settled.tolist() == [bool(stage and stage.settled) for stage in last]
        assert stood.signs.tolist() == [stage.signs if stage else 0 for stage in last]
        tiers = [practice.tier if practice else Tier.UNTRIED for practice in practices]
        assert stood.tiers.tolist() == tiers
        waiting = [
            bool(stage)
            and stage.practice.rights + stage.practice.misses > 0
            and not stage.settled
            and day - stage.practice.last >= 42
            for stage in last
        ]
        assert stood.waiting(day, 42).tolist() == waiting
        cells = [practice.cell(day + 5) if practice else UNSEEN for practice in practices]
        own = np.zeros(len(cells), dtype=int)
        places = Places.on(["wind"], own, stood.practice, day + 5)
        assert places.table.tolist() == feature_table(cells).tolist()
    trials = [
        trial for n, own in enumerate(histories) for trial in read(str(n), own, TierRules())[0]
    ]
    tries = zip(*(column.tolist() for column in columns.tries()), strict=True)
    assert [
        Trial(str(n), on, tuple(cell) if seen else UNSEEN, right)
        for n, on, seen, cell, right in tries
    ] == sorted(trials, key=lambda trial: trial.day)
    assert any(waiting)
    assert stood.settled.any()
    assert len(StageColumns(numbers[0], ends[:0], ends[:0]).on(day).settled) == 0


def test_the_first_tries_of_columns_teach_what_they_teach_alone(known):
    tries = known.trials[:3000]
    columns = TryColumns(tries)
    table = feature_table([cell for _, cell in columns.places])

    for count in (1, 700, len(tries)):
        assert fit_first(columns, table, count, 0.25) == fit(tries[:count], guess=0.25)


def test_a_tier_set_by_hand_counts_without_being_a_try():
    history = [*_judged((0, Verdict.RIGHT)), HandSet(DAY, Tier.HARDEST, "tricky")]

    trials, stages = read("wind", history, TierRules())
    practice = stages[-1].practice

    assert len(trials) == 1
    assert tier_of(practice.cell(practice.last + 9)) is Tier.HARDEST


def test_a_tier_set_by_hand_before_any_try_is_known_but_counts_nothing():
    history = [HandSet(DAY, Tier.HARDER, "looks tricky"), *_judged((4, Verdict.RIGHT))]

    trials, stages = read("wind", history, TierRules())

    assert [stage.practice.tier for stage in stages] == [Tier.HARDER, Tier.HARDER]
    assert trials[0].cell[:5] == (0, 0, 0, 0, Tier.HARDER)
    assert not was_missed(trials[0].cell)
    assert stages[-1].practice.rights == 1


def test_nothing_tried_has_no_practice():
    assert read("wind", [], TierRules()) == ([], [])


def test_the_fit_finds_the_true_weights_within_three_and_a_half_deviations(known):
    model = fit(known.trials)
    truth = dict(zip(NAMES, known.weights, strict=True)) | known.starts

    for name, weight, deviation in zip(
        NAMES + model.subjects, model.weights, model.deviations(), strict=True
    ):
        assert abs(weight - truth[name]) < 3.5 * deviation, name


def test_the_fit_gives_each_cell_nearly_its_true_chance(known):
    model, truth = fit(known.trials), true_model(known)
    places = {(trial.subject, trial.cell) for trial in known.trials}

    off = [abs(model.chance(*place) - truth.chance(*place)) for place in places]

    assert sum(off) / len(off) < 0.02


def test_a_fit_with_guesses_and_papers_is_the_most_plausible_one(known):
    log, papers = known.trials[:300], known.trials[-40:]

    model = fit(log, guess=0.25, weight=0.5, papers=papers)

    means = [mean for mean, _ in PRIOR.values()] + [0.0] * len(model.subjects)
    # As likely right at first sight as in the prior without guesses.
    means[0] = log_odds((chance_of(PRIOR["start"][0]) - 0.25) / 0.75)
    deviations = [sd for _, sd in PRIOR.values()] + [SUBJECT_DEVIATION] * len(model.subjects)
    rows = [
        [*features(trial.cell), *(trial.subject == name for name in model.subjects)]
        for trial in [*log, *papers]
    ]
    design, right = (
        np.array(rows, dtype=float),
        np.array([trial.right for trial in [*log, *papers]]),
    )
    weight = np.array([0.5] * len(log) + [1.0] * len(papers))

    def loss(weights):
        chance = 0.25 + 0.75 / (1 + np.exp(-(design @ weights)))
        fitted = -(weight * np.log(np.where(right, chance, 1 - chance))).sum()
        return fitted + (((weights - means) / deviations) ** 2).sum() / 2

    best = minimize(loss, np.array(means), method="BFGS").x
    assert model.weights == pytest.approx(best, abs=1e-3)
    assert model.chance("nowhere", UNSEEN) > 0.25


def test_the_model_beats_both_baselines_on_days_it_has_not_seen(known):
    check = hold_out(known.trials)

    assert check.trusted
    assert check.model.log_loss < check.tier_rates.log_loss - 0.05
    assert check.tier_rates.log_loss < check.one_rate.log_loss
    assert check.tries == pytest.approx(0.6 * len(known.trials), rel=0.2)


def test_what_the_model_says_comes_true_as_often_on_days_it_has_not_seen(known):
    for group in hold_out(known.trials).bins:
        low, high = group.came.interval
        assert low - 0.05 < group.stated < high + 0.05


def test_where_history_says_nothing_a_baseline_is_used_and_said():
    rng = random.Random(5)
    cells = [UNSEEN, (1, 0, 1, 1, 0, 20, 0), (0, 1, 0, 0, 1, 9, 3), (3, 2, 1, 0, 2, 13, 22)]
    trials = [
        Trial("wind", FIRST_DAY + day, rng.choice(cells), rng.random() < 0.6)
        for day in range(100)
        for _ in range(5)
    ]

    memory = learn(trials)

    assert not memory.check.trusted
    assert memory.name in ("the overall rate", "the rate per tier")
    assert "no better than an overall rate and a per-tier rate, beyond chance" in memory.sentence
    assert {round(memory.chances.chance("wind", cell), 1) for cell in cells} == {0.6}


def test_a_coins_tosses_are_no_memory_in_95_of_100_logs():
    kept = 0
    for seed in range(100):
        dice = random.Random(seed)
        cells = [
            (dice.randrange(5), dice.randrange(4), dice.randrange(3), dice.randrange(2),
             dice.randrange(4), dice.randrange(8, 40), dice.randrange(40))
            for _ in range(60)
        ]  # fmt: skip
        tosses = [
            Trial(dice.choice(SUBJECTS), FIRST_DAY + day, dice.choice(cells), dice.random() < 0.6)
            for day in range(60)
            for _ in range(10)
        ]
        kept += hold_out(tosses, guess=0.25).trusted

    assert kept <= 5


class NoMemory(Law):
    """As likely to come to mind on any day, whatever was met before."""

    name = "no memory"

    def chance(self, items: Items, day: float) -> Floats:
        return np.full(len(items), 0.45)

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        self.state["last"][items] = day


def _without_memory(seed: int) -> list[Trial]:
    """First study of 700 questions, then 20 per day in book order, on two days of three."""
    learner, dice, begun = Learner(NoMemory, seed, 700), random.Random(seed), 0
    for day in range(120):
        if day % 7 < 6 and dice.random() < 0.65:
            learner.study(day, np.arange(begun, begun + 20) % 700)
            begun += 20
    return learner.trials


@pytest.mark.slow
def test_lives_without_memory_are_told_as_such():
    kept = [hold_out(_without_memory(seed), guess=LUCKY).trusted for seed in range(20)]

    assert sum(kept) <= 1


def test_lucky_guesses_do_not_hide_what_is_forgotten(known):
    dice = random.Random(9)
    lucky = [replace(trial, right=trial.right or dice.random() < 0.25) for trial in known.trials]

    memory, without = learn(lucky, guess=0.25), learn(lucky)

    assert memory.check.trusted
    assert memory.check.model.log_loss < without.check.model.log_loss
    weight, flatter = memory.chances.by_name, without.chances.by_name
    assert weight["days since"] < flatter["days since"] - 0.02
    assert weight["rights"] > flatter["rights"] + 0.02


def test_few_held_out_days_prove_nothing(known):
    days = sorted({trial.day for trial in known.trials})[:2]
    two_days = [trial for trial in known.trials if trial.day in days]

    assert not hold_out(two_days).trusted


def test_too_few_tries_leave_the_prior_alone_and_say_so(known):
    memory = learn(known.trials[: ENOUGH - 1], SUBJECTS)

    assert memory.check is None
    assert "Too few responses" in memory.sentence
    assert tuple(memory.chances.by_name.values()) == pytest.approx(
        tuple(mean for mean, _ in PRIOR.values())
    )


def test_tries_of_a_single_day_can_be_learnt_from_but_not_checked():
    trials = [Trial("wind", FIRST_DAY, UNSEEN, number % 3 > 0) for number in range(300)]

    memory = learn(trials)

    assert memory.check is None
    assert memory.chances.chance("wind", UNSEEN) == pytest.approx(2 / 3, abs=0.02)


def test_longer_ago_is_less_likely_right_and_more_rights_more_likely(known):
    model = fit(known.trials)
    practice = next(question.practice for question in known.held if question.practice)

    chances = [model.chance("wind", practice.cell(practice.last + d)) for d in (1, 7, 30, 180)]

    assert chances == sorted(chances, reverse=True)


def test_mending_is_counted_per_tier_after_a_miss():
    after_miss = (0, 1, 0, 0, 1, 9, 0)
    trials = [Trial("wind", 0, after_miss, number < 90) for number in range(100)]
    trials += [Trial("wind", 0, UNSEEN, False)] * 50

    rates = mended(trials)

    assert rates.chance("wind", after_miss) == pytest.approx((90 + 4) / 110)
    assert rates.chance("wind", (0, 2, 0, 0, 3, 9, 0)) == 0.4


def test_the_features_are_the_logarithms_of_the_counts():
    named = dict(zip(NAMES, features((3, 2, 1, 1, 2, steps(20), steps(0))), strict=True))

    assert named["rights"] == log1p(3)
    assert named["misses"] == log1p(2)
    assert named["tier"] == 2
    assert named["days since"] == pytest.approx(log1p(20), abs=0.0626)
    assert set(features(())) == {0.0, 1.0}


def test_linear_equations_are_solved_as_by_hand():
    # 4x + 2y = 10, 2x + 3y = 9: x = 1.5, y = 2. [[2, 0], [1, √2]] is the triangle of the left.
    assert solve([[2.0], [1.0, sqrt(2)]], [10.0, 9.0]) == pytest.approx([1.5, 2.0])


@pytest.mark.parametrize("guess", [0.0, 0.25])
def test_a_fit_is_where_the_posterior_computed_try_by_try_is_flat(guess: float):
    dice = random.Random(5)
    trials = [
        Trial(dice.choice(("wind", "ice")), 1, _random_cell(dice), dice.random() < 0.6)
        for _ in range(400)
    ]

    model = fit(trials, guess=guess, weight=0.7, papers=trials[:40])

    prior = fit([], ("wind", "ice"), guess=guess)
    order = [*range(len(NAMES)), *(len(NAMES) + model.subjects.index(s) for s in prior.subjects)]
    weights = [model.weights[place] for place in order]
    spread = [sd for _, sd in PRIOR.values()] + [SUBJECT_DEVIATION] * 2
    slope = np.array(
        [(mean - w) / sd**2 for mean, w, sd in zip(prior.weights, weights, spread, strict=True)]
    )
    curve = np.diag([1 / sd**2 for sd in spread])
    for trial, weight in [
        *((trial, 0.7) for trial in trials),
        *((trial, 1.0) for trial in trials[:40]),
    ]:
        x = np.array([*features(trial.cell), *(float(trial.subject == s) for s in prior.subjects)])
        known = chance_of(float(x @ weights))
        chance = guess + (1 - guess) * known
        assert model.chance(trial.subject, trial.cell) == pytest.approx(chance)
        share = known / chance
        slope += weight * (trial.right - chance) * share * x
        curve += weight * chance * (1 - chance) * share**2 * np.outer(x, x)
    assert slope == pytest.approx(np.zeros(len(slope)), abs=1e-3)
    triangle = np.zeros(curve.shape)
    for row, values in enumerate(model.precision):
        triangle[row, : len(values)] = values
    assert (triangle @ triangle.T)[np.ix_(order, order)] == pytest.approx(curve, rel=1e-3, abs=1e-3)


def _random_cell(dice: random.Random) -> tuple[int, ...]:
    if dice.random() < 0.2:
        return UNSEEN
    return tuple(dice.randrange(most) for most in (9, 9, 5, 2, 4, 40, 40))


def test_extreme_odds_stay_chances():
    assert chance_of(-1e4) == 0.0
    assert chance_of(1e4) == 1.0
    assert chance_of(0) == 0.5
    assert chance_of(2) == pytest.approx(exp(2) / (1 + exp(2)))
