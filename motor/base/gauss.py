"""Gauss-Legendre quadrature."""

from __future__ import annotations

import functools

import numpy as np

from motor.base.arrays import Floats

__all__ = ["gauss"]


@functools.cache
def gauss(count: int) -> tuple[Floats, Floats]:
    """Return the points in (-1, 1) and the weights, which sum to 2; not to be written to."""
    points, weights = np.polynomial.legendre.leggauss(count)
    for values in (points, weights):
        values.setflags(write=False)
    return points, weights
