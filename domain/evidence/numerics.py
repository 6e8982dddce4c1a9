"""Small numerics: linear systems, and the special functions that intervals need."""

from math import exp, lgamma, log, sqrt
from operator import mul

Matrix = list[list[float]]


def cholesky(matrix: Matrix) -> Matrix:
    """The lower triangle L with L·Lᵀ = matrix (symmetric, positive definite)."""
    lower: Matrix = []
    for i, row in enumerate(matrix):
        made: list[float] = []
        for j in range(i):
            made.append((row[j] - sum(map(mul, made, lower[j]))) / lower[j][j])
        made.append(sqrt(row[i] - sum(value * value for value in made)))
        lower.append(made)
    return lower


def solve(lower: Matrix, right: list[float]) -> list[float]:
    """x with L·Lᵀ·x = right, from the lower triangle L."""
    size = len(right)
    forward: list[float] = []
    for i in range(size):
        forward.append((right[i] - sum(map(mul, lower[i], forward))) / lower[i][i])
    back = [0.0] * size
    for i in reversed(range(size)):
        known = sum(lower[k][i] * back[k] for k in range(i + 1, size))
        back[i] = (forward[i] - known) / lower[i][i]
    return back


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
