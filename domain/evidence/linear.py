"""The little linear algebra that a fit needs, on lists of rows."""

from math import sqrt
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
