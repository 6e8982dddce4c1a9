"""Intervals and posteriors: hand arithmetic and values from memory."""

import pytest

from domain.evidence.intervals import Beta, wilson


def test_nothing_tried_has_no_interval():
    assert wilson(0, 0) is None


@pytest.mark.parametrize(
    ("size", "low", "high"),
    # The same book, Table 2.1 (from memory): prior mean .485, prior sizes.
    [(2, 0.415, 0.477), (10, 0.415, 0.477), (20, 0.416, 0.478), (100, 0.420, 0.479)],
)
def test_informative_priors_move_the_posterior_as_tabled(size, low, high):
    known = Beta(0.485 * size, 0.515 * size).after(437, 980)

    assert known.interval() == pytest.approx((low, high), abs=0.0006)


@pytest.mark.parametrize(
    ("hits", "of", "expected"),
    # Laplace's rule of succession (s+1)/(n+2): eight ravens of eight, two heads of three.
    [(8, 8, 0.9), (2, 3, 0.6), (0, 5, 1 / 7), (365, 365, 366 / 367)],
)
def test_a_uniform_prior_is_the_rule_of_succession(hits, of, expected):
    assert Beta().after(hits, of).mean == pytest.approx(expected, abs=1e-12)
