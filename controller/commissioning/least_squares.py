"""Least squares for a handful of numbers and a model that is worked out by stepping it.

Responsible for the search and the covariance; not for any model. No library: what a real machine
installs has no linear algebra, and ten numbers need little of it.
"""

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

Vector = list[float]
Matrix = list[Vector]
MOST_ROUNDS = 25
_STEP = 1e-4
_DAMPING, _LESS, _MORE, _MOST_DAMPING = 1e-3, 0.2, 8.0, 1e6
_ENOUGH = 1e-5  # of the sum of squares: a round that gains less is the last


class Found(NamedTuple):
    """The best numbers, and how sure they are if the residuals were chance alone."""

    values: tuple[float, ...]
    residuals: tuple[float, ...]
    cov: Matrix  # for residuals of deviation 1


def minimised(model: Callable[[Sequence[float]], Vector], start: Sequence[float]) -> Found:
    """The numbers that make the sum of squares of the model's residuals smallest.

    Levenberg and Marquardt's damping of Gauss's method, with slopes by differences.
    """
    values, damping = list(start), _DAMPING
    residuals = model(values)
    cost = _square(residuals)
    slopes = _slopes(model, values, residuals)
    for _ in range(MOST_ROUNDS):
        square, pull = _normal(slopes, residuals)
        while damping < _MOST_DAMPING:
            damped = [
                [one * (1.0 + damping) if at == to else one for to, one in enumerate(row)]
                for at, row in enumerate(square)
            ]
            step = solved(damped, pull)
            ahead = [value - one for value, one in zip(values, step, strict=True)]
            trial = model(ahead)
            trial_cost = _square(trial)
            if trial_cost < cost:
                break
            damping *= _MORE
        else:
            break
        gained = cost - trial_cost
        values, residuals, cost = ahead, trial, trial_cost
        damping *= _LESS
        slopes = _slopes(model, values, residuals)
        if gained <= _ENOUGH * cost:
            break
    square, _ = _normal(slopes, residuals)
    return Found(tuple(values), tuple(residuals), inverted(square))


def _square(residuals: Sequence[float]) -> float:
    total = math.fsum(one * one for one in residuals)
    return total if math.isfinite(total) else math.inf


def _slopes(
    model: Callable[[Sequence[float]], Vector], values: Vector, residuals: Vector
) -> Matrix:
    """One row for each number: how the residuals change with it."""
    rows = []
    for at in range(len(values)):
        moved = list(values)
        moved[at] += _STEP
        rows.append(
            [(ahead - here) / _STEP for ahead, here in zip(model(moved), residuals, strict=True)]
        )
    return rows


def _normal(slopes: Matrix, residuals: Sequence[float]) -> tuple[Matrix, Vector]:
    square = [[_dot(one, other) for other in slopes] for one in slopes]
    return square, [_dot(one, residuals) for one in slopes]


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


def solved(matrix: Matrix, right: Sequence[float]) -> Vector:
    """The vector that the matrix turns into `right`; by elimination with the largest pivot first.

    Raises:
        ZeroDivisionError: the matrix has no inverse.
    """
    size = len(right)
    rows = [[*row, one] for row, one in zip(matrix, right, strict=True)]
    for at in range(size):
        pivot = max(range(at, size), key=lambda row: abs(rows[row][at]))
        rows[at], rows[pivot] = rows[pivot], rows[at]
        for below in range(at + 1, size):
            share = rows[below][at] / rows[at][at]
            rows[below] = [a - share * b for a, b in zip(rows[below], rows[at], strict=True)]
    found = [0.0] * size
    for at in reversed(range(size)):
        known = _dot(rows[at][at + 1 : size], found[at + 1 :])
        found[at] = (rows[at][size] - known) / rows[at][at]
    return found


def inverted(matrix: Matrix) -> Matrix:
    """The inverse of a symmetric matrix; ZeroDivisionError where there is none."""
    size = len(matrix)
    return [solved(matrix, [1.0 if at == to else 0.0 for to in range(size)]) for at in range(size)]


def spread(cov: Matrix, slope: Sequence[float]) -> float:
    """The deviation of what changes by `slope` with each number."""
    across = [_dot(row, slope) for row in cov]
    return math.sqrt(max(0.0, _dot(across, slope)))


def hanging_together(residuals: Sequence[float]) -> float:
    """By how much chance counts for more where residuals hang together.

    One and twice the sum of their correlations, up to where there first is none.
    """
    square = _square(residuals)
    total, lag = 1.0, 1
    while square > 0.0 and lag < len(residuals) // 4:
        rho = _dot(residuals[lag:], residuals[:-lag]) / square
        if rho <= 0.0:
            break
        total += 2.0 * rho
        lag += 1
    return total
