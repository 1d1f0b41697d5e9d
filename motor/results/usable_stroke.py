"""How far the coil may move one way: every known limit, and the least of those asked for."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.design.characteristic import Characteristic
from motor.design.design import Design
from motor.field.field import Estimate

__all__ = [
    "COMPLIANCE",
    "INDUCTANCE",
    "LIMIT_NAMES",
    "UsableStroke",
    "design_limits",
    "least_limit",
]

COMPLIANCE = 0.75
"""Share of its rest value to which the compliance may fall (IEC 62458 family, from memory)."""
INDUCTANCE = 0.10
"""Share by which the inductance may change either way (IEC 62458 family, from memory)."""
SAMPLES = 2001
FARTHEST = 0.1
"""Metres to which a characteristic without an end is searched."""

LIMIT_NAMES = {
    "bl_82": "Bl at 82 %",
    "bl_70": "Bl at 70 %",
    "overhang": "geometric overhang",
    "mechanical": "mechanical stop",
    "compliance": "compliance at 75 %",
    "inductance": "inductance changed by 10 %",
}
"""Every limit of the stroke in words."""


@dataclass(frozen=True)
class UsableStroke:
    """The usable linear stroke, one-way and symmetric, metres, and the limit that rules it."""

    value: float
    uncertainty: float
    limited_by: str


def design_limits(design: Design) -> dict[str, Estimate]:
    """Return the one-way strokes in metres that follow from the design alone, without a field.

    "overhang": as long as the gap is filled (or the winding is within it), rest offset included;
    "mechanical"; "compliance" and "inductance", where K(x) and L(x) are known, infinite if they
    stay within their shares as far as they are known.
    """
    offset = abs(design.coil.rest_position)
    found = {
        "overhang": max(abs(design.overhang) - offset, 0.0),
        "mechanical": design.travel.limit,
    }
    parts = design.moving_parts
    if parts is not None and isinstance(parts.stiffness, Characteristic):
        found["compliance"] = _first(parts.stiffness, 1 / COMPLIANCE - 1, rises=True)
    if parts is not None and isinstance(parts.inductance, Characteristic):
        found["inductance"] = _first(parts.inductance, INDUCTANCE, rises=False)
    return {name: Estimate(value, 0.0) for name, value in found.items()}


def _first(curve: Characteristic, share: float, *, rises: bool) -> float:
    """Return the least displacement at which a curve leaves a share of its rest value, metres.

    With ``rises`` only upwards.
    """
    ends = max(curve.low, -FARTHEST), min(curve.high, FARTHEST)
    return min(_leaves(curve, end, share, rises) for end in ends)


def _leaves(curve: Characteristic, end: float, share: float, rises: bool) -> float:
    x = np.linspace(0.0, end, SAMPLES)
    change: Floats = curve.value(x) / curve.at_rest - 1
    over = (change if rises else np.abs(change)) - share
    beyond = np.flatnonzero(over > 0)
    if not len(beyond):
        return math.inf
    k = int(beyond[0])
    part = over[k - 1] / (over[k - 1] - over[k])
    return float(abs(x[k - 1] + part * (x[k] - x[k - 1])))


def least_limit(limits: Mapping[str, Estimate], asked: tuple[str, ...]) -> UsableStroke:
    """Return the least of the limits asked for."""
    name = min(asked, key=lambda k: limits[k].value)
    return UsableStroke(limits[name].value, limits[name].uncertainty, name)
