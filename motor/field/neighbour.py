"""Where a point of one motor lies in a similar one, so that its field can start a solve."""

from __future__ import annotations

import numpy as np

from motor.base.arrays import Floats
from motor.field.partition import Partition

__all__ = ["counterpart"]

SAME = 7
"""Decimals of a metre to which heights or radii of corners count as one."""


def counterpart(points: Floats, here: Partition, there: Partition) -> Floats:
    """Return where points of one motor lie in a similar one: as (r, z), array (2, n), metres.

    Radii and heights are stretched piece by piece so that those of the corners of one motor
    fall on those of the other.  Where the numbers of different radii (heights) differ, the
    points keep theirs.
    """
    return np.array(
        [_stretched(points[k], _marks(here, k), _marks(there, k)) for k in range(points.shape[0])]
    )


def _marks(part: Partition, axis: int) -> Floats:
    """Return the ends of the meshed half disc and the corners between them, rising."""
    middle = part.centre if axis else 0.0
    low = middle - part.radius if axis else 0.0
    corners = np.unique(part.corners[:, axis].round(SAME))
    return np.concatenate([[low], corners, [middle + part.radius]])


def _stretched(values: Floats, marks: Floats, onto: Floats) -> Floats:
    return np.interp(values, marks, onto) if len(marks) == len(onto) else values
