"""Shares and means with their uncertainty.

Wilson score interval: E. B. Wilson, "Probable inference, the law of succession, and statistical
inference", JASA 22 (1927), 209-212. It stays sensible for few responses and for 0 or 100 %.
"""

from math import sqrt
from statistics import NormalDist

from msgspec import Struct

from domain.evidence.numerics import beta_quantile, t_quantile

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
