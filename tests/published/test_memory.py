"""The memory model's forms against published forgetting data and formulas."""

from math import log

import pytest

from domain.evidence.memory.logistic import NAMES, chance_of, features, fit
from domain.evidence.memory.practice import Trial, steps

# H. Ebbinghaus, Memory (1885), chapter VII: share saved after days; J. M. J. Murre and J. Dros,
# PLOS ONE 10 (2015): the same for Dros and for Mack (Heller, Mack and Seitz 1991).
SAVED = {
    "Ebbinghaus": {1: 0.337, 2: 0.278, 6: 0.254, 31: 0.211},
    "Mack": {1: 0.316, 2: 0.365, 6: 0.309, 31: 0.258},
    "Seitz": {1: 0.270, 2: 0.286, 6: 0.205, 31: 0.201},
}


def _trials(subject: str, saved: dict[int, float], tries: int = 4000) -> list[Trial]:
    return [
        Trial(subject, 0, (0, 1, 0, 0, 1, steps(days), 0), number < share * tries)
        for days, share in saved.items()
        for number in range(tries)
    ]


@pytest.mark.parametrize("subject", SAVED)
def test_odds_that_fall_as_a_power_of_time_fit_published_forgetting(subject):
    model = fit(_trials(subject, SAVED[subject]))

    chances = {day: model.chance(subject, (0, 1, 0, 0, 1, steps(day), 0)) for day in SAVED[subject]}

    assert chances == pytest.approx(SAVED[subject], abs=0.05)
    assert model.by_name["days since"] < 0


def test_ebbinghaus_is_fitted_as_closely_as_by_his_own_formula():
    # b = 100 k / ((log10 t)^c + k), k = 1.84, c = 1.25, t in minutes: off by up to 3.3 points.
    observed = SAVED["Ebbinghaus"]
    formula = {day: 1.84 / ((log(day * 1440, 10)) ** 1.25 + 1.84) for day in observed}
    model = fit(_trials("Ebbinghaus", observed))

    def worst(values: dict[int, float]) -> float:
        return max(abs(values[day] - observed[day]) for day in observed)

    chances = {day: model.chance("Ebbinghaus", (0, 1, 0, 0, 1, steps(day), 0)) for day in observed}

    assert worst(formula) == pytest.approx(0.033, abs=0.0006)
    assert worst(chances) <= worst(formula)


def test_the_logistic_gives_the_tutorials_chances():
    # Pavlik, Cen and Koedinger (2009), tutorial numbers: β −0.5, ρ 0.1: .38, after a failure .40.
    assert chance_of(-0.5) == pytest.approx(0.38, abs=0.005)
    assert chance_of(-0.5 + 0.1) == pytest.approx(0.40, abs=0.005)


def test_the_fit_agrees_with_a_reference_library():
    # scikit-learn's logistic regression with the same (flat enough) penalty on one feature.
    from sklearn.linear_model import LogisticRegression

    trials = _trials("Ebbinghaus", SAVED["Ebbinghaus"])
    rows = [[features(trial.cell)[NAMES.index("days since")]] for trial in trials]
    reference = LogisticRegression(C=1e9).fit(rows, [trial.right for trial in trials])

    fitted = fit(trials).by_name["days since"]

    assert fitted == pytest.approx(reference.coef_[0][0], abs=0.01)
