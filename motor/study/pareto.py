"""Pareto fronts: designs that no other one beats in every respect."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from motor.base.arrays import Floats, Ints

__all__ = ["pareto_front"]


def pareto_front(goods: ArrayLike) -> Ints:
    """Return the indices of the rows that no other row beats.

    A row beats another if it is at least as good in every column and better in one.

    Parameters
    ----------
    goods : (n, k) array
        Larger is better; rows with NaN never belong to the front.

    Returns
    -------
    (m,) array of int
        Sorted by the first column, rising.
    """
    table: Floats = np.atleast_2d(np.asarray(goods, float))
    valid = np.flatnonzero(~np.isnan(table).any(axis=1))
    front = []
    for i in valid:
        at_least = (table[valid] >= table[i]).all(axis=1)
        better = (table[valid] > table[i]).any(axis=1)
        if not (at_least & better).any():
            front.append(int(i))
    return np.array(sorted(front, key=lambda i: tuple(table[i])), int)
