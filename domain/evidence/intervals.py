"""Shares, means and times with their uncertainty.

Wilson score interval: E. B. Wilson, "Probable inference, the law of succession, and statistical
inference", JASA 22 (1927), 209-212. It stays sensible for few responses and for 0 or 100 %.
"""

from math import exp, lgamma, log, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

Interval = tuple[float, float]


class Share(Struct, frozen=True, gc=False):
    """So many hits of so many tries."""

    hits: int = 0
    of: int = 0

    def __add__(self, other: "Share") -> "Share":
        """Both counts together."""
        return Share(self.hits + other.hits, self.of + other.of)

    @property
    def rate(self) -> float | None:
        """The share, 0 to 1; None without tries."""
        return self.hits / self.of if self.of else None

    @property
    def interval(self) -> Interval | None:
        """The 95 % Wilson interval; None without tries."""
        return wilson(self.hits, self.of)


def wilson(hits: int, of: int, confidence: float = 0.95) -> Interval | None:
    """The Wilson score interval of a share, within 0 to 1; None without tries."""
    if not of:
        return None
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    share = hits / of
    centre = (hits + z * z / 2) / (of + z * z)
    half = z * sqrt(of * share * (1 - share) + z * z / 4) / (of + z * z)
    low = 0.0 if hits == 0 else max(0.0, centre - half)
    return low, (1.0 if hits == of else min(1.0, centre + half))


class Beta(Struct, frozen=True, gc=False):
    """What is known of a share: a beta distribution. `Beta(1, 1)` knows nothing.

    Conjugate updating: Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.4.
    """

    a: float = 1.0
    b: float = 1.0

    def after(self, hits: int, of: int) -> "Beta":
        """What is known after so many hits of so many tries."""
        return Beta(self.a + hits, self.b + of - hits)

    @property
    def mean(self) -> float:
        """The share to expect of the next try."""
        return self.a / (self.a + self.b)

    @property
    def variance(self) -> float:
        """How uncertain the share is, squared."""
        return self.mean * (1 - self.mean) / (self.a + self.b + 1)

    def interval(self, confidence: float = 0.95) -> Interval:
        """The central interval that holds the share with this probability."""
        tail = (1 - confidence) / 2
        return beta_quantile(self.a, self.b, tail), beta_quantile(self.a, self.b, 1 - tail)


def prediction_interval(
    mean: float, deviation: float, count: int, confidence: float = 0.9
) -> Interval:
    """Where the next value lies after `count` (≥ 2) values with this mean and deviation.

    NIST/SEMATECH e-Handbook of Statistical Methods: mean ± t · s · √(1 + 1/n).
    """
    t = t_quantile(count - 1, (1 + confidence) / 2)
    half = t * deviation * sqrt(1 + 1 / count)
    return mean - half, mean + half


class PaceRange(Struct, frozen=True):
    """Seconds a question: the middle half of the measured times, and how many there are."""

    low: float
    median: float
    high: float
    measured: int


def pace(seconds: "NDArray[float64]") -> PaceRange | None:
    """The pace from these times; None without any. Times of 0 were not measured and don't count."""
    import numpy as np

    measured = seconds[seconds > 0]
    if not len(measured):
        return None
    low, middle, high = np.quantile(measured, (0.25, 0.5, 0.75)).tolist()
    return PaceRange(low, middle, high, len(measured))


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
