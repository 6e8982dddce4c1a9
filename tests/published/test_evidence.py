"""Intervals, scores and quantiles against published values and reference libraries."""

import pytest
from scipy import stats
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss
from sklearn.metrics import log_loss as sklearn_log_loss
from statsmodels.stats.proportion import proportion_confint

from domain.evidence.calibration import Stated, bins, brier, log_loss, murphy
from domain.evidence.intervals import (
    Beta,
    beta_cdf,
    beta_quantile,
    prediction_interval,
    t_quantile,
    wilson,
)


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [  # R. G. Newcombe, Statistics in Medicine 17 (1998), Table I, method 3.
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals_agree_with_newcombe(hits, of, low, high):
    assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [  # R package binom, as kept in the tests of statsmodels.
        (18, 20, 0.6989663548, 0.9721335188),
        (4, 20, 0.08065766258, 0.4160174323),
        (4, 200, 0.007804426416, 0.05028708691),
        (190, 200, 0.9104218519, 0.9726173544),
        (1, 30, 0.00590859, 0.16670391),
        (0, 30, 0.0, 0.11351339),
        (30, 30, 0.8864866, 1.0),
    ],
)
def test_wilson_intervals_agree_with_r(hits, of, low, high):
    assert wilson(hits, of) == pytest.approx((low, high), abs=1e-6)


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
def test_wilson_intervals_agree_with_statsmodels_everywhere(confidence):
    for of in (1, 2, 7, 40, 525):
        for hits in range(0, of + 1, max(1, of // 7)):
            expected = proportion_confint(hits, of, 1 - confidence, method="wilson")
            assert wilson(hits, of, confidence) == pytest.approx(expected, abs=1e-9)


def test_the_placenta_previa_posterior_is_the_textbooks():
    # Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.4: 437 girls of 980 births.
    known = Beta().after(437, 980)

    assert known.mean == pytest.approx(0.44602851, abs=5e-9)
    assert known.interval() == pytest.approx((0.41506549, 0.47719977), abs=5e-9)
    assert known.variance**0.5 == pytest.approx(0.016, abs=0.0005)


def test_the_median_after_ten_misses_is_the_course_notes():
    # C. Geyer, University of Minnesota: Beta(1, 11) has median 1 − 0.5^(1/11).
    assert beta_quantile(1, 11, 0.5) == pytest.approx(1 - 0.5 ** (1 / 11), abs=1e-12)


@pytest.mark.parametrize("a", [0.5, 1, 3, 46, 900])
@pytest.mark.parametrize("b", [0.5, 2, 6, 544])
def test_beta_quantiles_agree_with_scipy(a, b):
    for chance in (0.025, 0.05, 0.5, 0.95, 0.975):
        assert beta_quantile(a, b, chance) == pytest.approx(stats.beta.ppf(chance, a, b), abs=1e-9)
    assert beta_cdf(a, b, 0.3) == pytest.approx(stats.beta.cdf(0.3, a, b), abs=1e-12)


def test_t_quantiles_agree_with_the_printed_table():
    # NIST/SEMATECH e-Handbook, upper 0.975 points.
    table = {1: 12.706, 2: 4.303, 17: 2.110, 100: 1.984, 194: 1.9723}

    quantiles = {freedom: t_quantile(freedom, 0.975) for freedom in table}

    assert quantiles == pytest.approx(table, abs=0.0006)


def test_the_next_concrete_block_lies_where_the_course_notes_say():
    # Ten blocks, mean 1312 MPa, deviation 25: 1312 ± 2.262 · 25 · √(1 + 1/10) = 1312 ± 59.
    low, high = prediction_interval(1312, 25, 10, confidence=0.95)

    assert (high - low) / 2 == pytest.approx(59.3, abs=0.05)
    assert (high + low) / 2 == pytest.approx(1312)


SKLEARN = [Stated(0.1, 0, 1), Stated(0.9, 1, 1), Stated(0.8, 1, 1), Stated(0.3, 0, 1)]


def test_the_brier_score_is_the_documented_one():
    # scikit-learn, brier_score_loss: y = 0, 1, 1, 0; p = .1, .9, .8, .3.
    assert brier(SKLEARN) == pytest.approx(0.0375, abs=1e-12)
    assert brier(SKLEARN) == pytest.approx(
        brier_score_loss([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]), abs=1e-12
    )


@pytest.mark.parametrize(
    ("chance", "right", "expected"),
    # G. W. Brier (1950), single forecasts as quoted in encyclopedias.
    [(0.7, 1, 0.09), (0.3, 1, 0.49), (0.5, 1, 0.25), (1.0, 0, 1.0), (1.0, 1, 0.0)],
)
def test_single_forecasts_have_briers_score(chance, right, expected):
    assert brier([Stated(chance, right, 1)]) == pytest.approx(expected, abs=1e-12)


def test_log_loss_is_the_documented_one():
    # scikit-learn, log_loss: 0.21616.
    stated = [Stated(0.9, 1, 1), Stated(0.1, 0, 1), Stated(0.2, 0, 1), Stated(0.65, 1, 1)]

    assert log_loss(stated) == pytest.approx(0.21616, abs=5e-6)
    assert log_loss(stated) == pytest.approx(
        sklearn_log_loss([1, 0, 0, 1], [0.9, 0.1, 0.2, 0.65]), abs=1e-12
    )


def test_calibration_bins_are_the_documented_ones():
    # scikit-learn, calibration_curve with three bins.
    truth = [0, 0, 0, 0, 1, 1, 1, 1, 1]
    chances = [0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0]

    binned = bins((Stated(p, y, 1) for p, y in zip(chances, truth, strict=True)), 3)

    assert [group.came.rate for group in binned] == pytest.approx([0, 0.5, 1])
    assert [group.stated for group in binned] == pytest.approx([0.2, 0.525, 0.85])
    came, stated = calibration_curve(truth, chances, n_bins=3)
    assert [group.came.rate for group in binned] == pytest.approx(list(came))
    assert [group.stated for group in binned] == pytest.approx(list(stated))


def test_murphys_parts_add_up_to_the_brier_score():
    # A. H. Murphy (1973): BS = reliability − resolution + uncertainty for distinct chances.
    stated = [Stated(0.95, 80, 90), Stated(0.6, 23, 50), Stated(0.25, 5, 20)]
    parts = murphy(stated)

    assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(brier(stated))
    assert parts.uncertainty == pytest.approx((108 / 160) * (52 / 160))


def test_twelve_thousand_rain_forecasts_split_as_computed_from_the_table():
    # D. S. Wilks, Statistical Methods in the Atmospheric Sciences (1995), Table 7.3: chances,
    # what came, weights. The parts are computed from it (Murphy's identity), not printed there.
    chances = [0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
    came = [0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933]
    weights = [
        0.4112, 0.0671, 0.1833, 0.0986, 0.0616, 0.0366, 0.0303, 0.0275, 0.0245, 0.0220, 0.0170,
        0.0203,
    ]  # fmt: skip
    stated = [
        Stated(p, round(1e6 * w * o), round(1e6 * w))
        for p, o, w in zip(chances, came, weights, strict=True)
    ]

    assert sum(trial.right for trial in stated) / sum(
        trial.of for trial in stated
    ) == pytest.approx(0.162, abs=0.0008)
    assert murphy(stated).reliability == pytest.approx(0.0008276, abs=2e-6)
    assert murphy(stated).resolution == pytest.approx(0.0627866, abs=2e-5)
    assert brier(stated) == pytest.approx(0.0734610, abs=2e-5)
