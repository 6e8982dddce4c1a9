"""Quantiles of the beta and of Student's t distribution, without a numeric library.

The incomplete beta function by its continued fraction: NIST Digital Library of Mathematical
Functions, 8.17.22, evaluated by Lentz's method.
"""

from math import exp, lgamma, log, sqrt

_TINY = 1e-300


def beta_cdf(a: float, b: float, x: float) -> float:
    """The chance that a Beta(a, b) variable is at most x."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_cdf(b, a, 1 - x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(1 - x)) / a
    return front / _continued_fraction(a, b, x)


def _continued_fraction(a: float, b: float, x: float) -> float:
    value = c = 1.0
    d = 0.0
    for term in range(1, 1000):
        m = term // 2
        if term % 2:
            step = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            step = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1 / ((1 + step * d) or _TINY)
        c = (1 + step / c) or _TINY
        value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return value


def beta_quantile(a: float, b: float, chance: float) -> float:
    """The value below which a Beta(a, b) variable lies with this chance (by bisection)."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if beta_cdf(a, b, middle) < chance:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def t_quantile(freedom: int, chance: float) -> float:
    """The value below which Student's t with so many degrees of freedom lies; chance ≥ 0.5."""
    x = beta_quantile(freedom / 2, 0.5, 2 * (1 - chance))
    return sqrt(freedom * (1 / x - 1))
