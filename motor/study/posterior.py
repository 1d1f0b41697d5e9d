"""Linear models with normal priors and robust noise: estimate, covariance, misfit, what is gained.

All is in units of standard deviations: the unknowns s have prior mean 0 and covariance I, the
points scatter with 1 about  y = A s.  Noise is Huber's (P. J. Huber, Annals of Mathematical
Statistics 35, 1964: quadratic near 0, linear far out), so that outliers count little; the rest is
the normal linear model of any textbook (C. M. Bishop, Pattern Recognition and Machine Learning,
2006, section 3.3; both from memory).
"""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc

from motor.base.arrays import Floats

__all__ = [
    "HUBER",
    "covariance",
    "curvature",
    "gained",
    "loss",
    "most_probable",
    "scale_of",
    "scatter_of",
    "structure",
]

HUBER = 1.345
"""Standard deviations from which on a point counts linearly: 95 % efficient for normal noise."""
MOST, SETTLED = 100, 1e-9
MODES, POINTS_PER_MODE = 10, 3
"""Smooth shapes that residuals are searched for, and the least points for each."""
LEAST_SHARE = 0.2
"""Of a table's points that counts at least as within Huber's limit."""
VARIANCE = 0.7102
"""Of normal numbers cut off at HUBER."""
GUARD = 0.05
"""Added to the residuals' covariance: shapes that the fit takes out whole leave rounding only."""
FAR_OUT = 4.0
"""Scales of the residuals from which on a point says nothing about scatter."""
NORMAL_MEDIAN = 0.6745
"""Median of the size of a standard normal number."""


def loss(residual: Floats, limit: Floats, s: Floats) -> float:
    """Return minus the logarithm of the posterior density, up to a constant."""
    size = np.abs(residual)
    near = np.minimum(size, limit)
    return float((near * (size - near / 2)).sum() + s @ s / 2)


def most_probable(A: Floats, y: Floats, limit: Floats) -> Floats:
    """Return the s (p,) of the largest posterior density for A (n, p) and y (n,).

    By iteratively reweighted least squares, from the normal estimate.  ``limit`` (n,) is where
    each point's loss becomes linear: HUBER, or infinite where it stays quadratic.
    """
    w: Floats = np.ones_like(y)
    s: Floats = np.zeros(A.shape[1])
    for _ in range(MOST):
        weighted = A.T * w
        new = np.linalg.solve(np.eye(A.shape[1]) + weighted @ A, weighted @ y)
        step, s = float(np.abs(new - s).max(initial=0.0)), np.asarray(new, float)
        if step < SETTLED:
            break
        w = np.minimum(1.0, limit / np.maximum(np.abs(y - A @ s), 1e-12))
    return s


def curvature(residual: Floats, limit: Floats) -> Floats:
    """Return the mean curvature of the loss over points of one table, for each of them (n,).

    That is the share of points below their limit: 0.82 for normal noise.
    """
    share = float(np.mean(np.abs(residual) < limit))
    return np.full_like(residual, max(share, LEAST_SHARE))


def covariance(A: Floats, bend: Floats) -> Floats:
    """Return the posterior covariance (p, p) for points of curvature ``bend`` (n,)."""
    return np.asarray(np.linalg.inv(np.eye(A.shape[1]) + (A.T * bend) @ A))


def scale_of(residual: Floats) -> float:
    """Return the robust scale of residuals: 1 where they are as stated."""
    return float(np.median(np.abs(residual))) / NORMAL_MEDIAN


def scatter_of(residual: Floats, order: Floats) -> float:
    """Return the robust scatter from point to point, free of what varies slowly: 1 as stated.

    From second differences, whose variance is 6 times that of independent points; points far out
    of all are left out first.
    """
    along = residual[np.argsort(order, kind="stable")]
    near = along[np.abs(along) <= FAR_OUT * max(scale_of(along), 1.0)]
    return scale_of(np.diff(near, 2)) / 6**0.5


def structure(
    residual: Floats, A: Floats, known: Floats, order: Floats, limit: Floats, bend: Floats
) -> float:
    """Return how probable residuals are that have as much smooth structure, or more.

    What the loss makes of residuals (those beyond its limit cut off there) has at the estimate of a
    right model about the covariance  v (I - b A C A'),  C the posterior's covariance, b the loss's
    curvature and v the variance of what it makes of normal noise; its part along the first
    Legendre polynomials over rank is compared with that by its chi-square.

    Parameters
    ----------
    residual : (n,) array
    A : (n, p) array
        Of the points, in rising order or not.
    known : (p, p) array
        C.
    order : (n,) array
        What they lie along.
    limit, bend : (n,) array
        Where each point's loss becomes linear, and its curvature.
    """
    count = min(MODES, len(residual) // POINTS_PER_MODE)
    if count < 1:
        return 1.0
    place = np.argsort(np.argsort(order, kind="stable"), kind="stable")
    grid = 2 * (place + 0.5) / len(place) - 1
    shapes, _ = np.linalg.qr(np.polynomial.legendre.legvander(grid, count - 1))
    variance = VARIANCE if np.isfinite(limit[0]) else 1.0
    found = shapes.T @ np.clip(residual, -limit, limit)
    inner = shapes.T @ (A * np.sqrt(bend)[:, None])
    spread = (1 + GUARD) * np.eye(count) - inner @ known @ inner.T
    return float(chdtrc(count, found @ np.linalg.solve(variance * spread, found)))


def gained(known: Floats, A: Floats) -> Floats:
    """Return the covariance (p, p) of unknowns after one more measurement.

    Parameters
    ----------
    known : (p, p) array
        Covariance before.
    A : (n, p + q) array
        Of the measurement; q unknowns of its own come last, prior I.
    """
    p, q = len(known), A.shape[1] - len(known)
    precision = np.eye(p + q)
    precision[:p, :p] = np.linalg.inv(known)
    return np.asarray(np.linalg.inv(precision + A.T @ A)[:p, :p])
