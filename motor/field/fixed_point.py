"""A fixed point found from few evaluations (D. G. Anderson, J. ACM 12, 1965, 547-560)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from motor.base.arrays import Floats

__all__ = ["fixed_point"]

DEPTH = 5
"""Earlier steps that the next guess is mixed from."""


def fixed_point(
    image: Callable[[Floats], Floats],
    start: Floats,
    *,
    weights: Floats,
    tolerance: float,
    most: int,
) -> tuple[Floats, float]:
    """Return x with image(x) = x, and how far the last image moved: the largest of its entries.

    Each guess is the mixture of the last images whose residuals, weighted, cancel best.

    Parameters
    ----------
    image : callable
        From (n,) array to (n,) array.
    start : (n,) array
    weights : (n,) array
        What each entry counts for in the mixture, not in the tolerance.
    tolerance : float
        Stop when no entry moves by more.
    most : int
        Stop after this many evaluations in any case.
    """
    x, scale = start, np.sqrt(weights)
    images: list[Floats] = []
    residuals: list[Floats] = []
    moved = np.inf
    for _ in range(most):
        there = image(x)
        moved = float(np.abs(there - x).max(initial=0.0))
        if moved <= tolerance:
            return there, moved
        images, residuals = [*images, there][-DEPTH:], [*residuals, there - x][-DEPTH:]
        x = there
        if len(images) > 1:
            slopes = np.diff(residuals, axis=0).T * scale[:, None]
            mixture = np.linalg.lstsq(slopes, residuals[-1] * scale, rcond=1e-10)[0]
            x = there - np.diff(images, axis=0).T @ mixture
    return x, moved
