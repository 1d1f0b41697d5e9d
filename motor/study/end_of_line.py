"""Limits of a test at the end of the line: what passes, and what escapes.

A unit is good if its true figure lies within its limits; the station reads it with an error.  Test
limits drawn in by a guard band let fewer bad units pass, and fewer good ones (JCGM 106:2012, the
role of measurement uncertainty in conformity assessment, sections 8 and 9: specific and global
consumer's and producer's risk; from memory).  Units and errors are normal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from motor.base.errors import InvalidInput
from motor.base.gauss import gauss
from motor.base.names import near_names
from motor.base.toml_records import check_keys, quantity, table_of

__all__ = [
    "INDUCTANCE",
    "Guarded",
    "Limit",
    "guarded",
    "read_limits",
    "recommended",
    "record",
]

ESCAPES = 1e-4
"""Share of all units that may pass although they are bad, unless told otherwise."""
WIDEST = 6.0
"""Widest guard band that is looked at, in standard deviations of the station."""
SIDES = ("low", "high")
INDUCTANCE = "inductance_at_1_kHz_mH"
"""Name of the one figure that may have limits and is no figure of ``summary.json``."""
POINTS, REACH = 200, 8.0
"""Quadrature points, and standard deviations to either side that count."""


@dataclass(frozen=True)
class Limit:
    """Limits of a figure and the station that tests it, in the unit of the figure's key.

    Parameters
    ----------
    figure : str
        Key of ``summary.json``.
    least, most : float
        Infinite where a side is open.
    deviation : float
        Standard deviation of the station's error.
    escapes : float
        Share of all units that may pass although they are bad.
    """

    figure: str
    least: float
    most: float
    deviation: float
    escapes: float = ESCAPES


@dataclass(frozen=True)
class Guarded:
    """A test with a guard band; shares of all units.

    Parameters
    ----------
    figure : str
    guard : float
        In standard deviations of the station.
    low, high : float
        Test limits, in the figure's unit; infinite where open.
    passing, escapes, rejected : float
        Shares that pass, that pass although bad, and that fail although good.
    """

    figure: str
    guard: float
    low: float
    high: float
    passing: float
    escapes: float
    rejected: float


def read_limits(value: object, figures: list[str]) -> tuple[Limit, ...]:
    """Read the section [end_of_line]: figures with least, most, deviation, escapes."""
    found = []
    for name, row in table_of(value, "end_of_line").items():
        where = f"end_of_line.{name}"
        if name not in figures:
            limit = f"name figures that the unknowns may touch ({near_names(name, figures)})"
            raise InvalidInput("end_of_line", limit, repr(name))
        table = table_of(row, where)
        check_keys(where, table, ["least", "most", "deviation", "escapes"])
        numbers = {key: quantity(table[key], None, key, where) for key in table}
        one = Limit(
            name,
            numbers.get("least", -math.inf),
            numbers.get("most", math.inf),
            numbers.get("deviation", 0.0),
            numbers.get("escapes", ESCAPES),
        )
        if not one.least < one.most or (math.isinf(one.least) and math.isinf(one.most)):
            raise InvalidInput(where, "give least or most, least below most", "neither")
        if not one.deviation > 0:
            raise InvalidInput("deviation", "be given, greater than 0", one.deviation, where)
        if not 0 < one.escapes < 1:
            raise InvalidInput("escapes", "be a share between 0 and 1", one.escapes, where)
        found.append(one)
    return tuple(found)


def guarded(limit: Limit, guard: float, mean: float, spread: float) -> Guarded:
    """Return what a test with a guard band does to units of a mean and a standard deviation."""
    low = limit.least + guard * limit.deviation
    high = limit.most - guard * limit.deviation
    both = math.hypot(spread, limit.deviation)
    passing = max(float(ndtr((high - mean) / both) - ndtr((low - mean) / both)), 0.0)
    start = max(limit.least, mean - REACH * spread)
    end = min(limit.most, mean + REACH * spread)
    good = good_passing = 0.0
    if start < end and low < high:
        points, weights = gauss(POINTS)
        x = (start + end) / 2 + (end - start) / 2 * points
        density = np.exp(-(((x - mean) / spread) ** 2) / 2) / (math.sqrt(2 * math.pi) * spread)
        share = density * weights * (end - start) / 2
        read = ndtr((high - x) / limit.deviation) - ndtr((low - x) / limit.deviation)
        good, good_passing = float(share.sum()), float(share @ read)
    elif start < end:
        passing = 0.0
        good = float(ndtr((end - mean) / spread) - ndtr((start - mean) / spread))
    return Guarded(
        limit.figure,
        guard,
        low,
        high,
        passing,
        max(passing - good_passing, 0.0),
        max(good - good_passing, 0.0),
    )


def recommended(limit: Limit, mean: float, spread: float) -> Guarded:
    """Return the test with the narrowest guard band that lets no more bad units pass than asked."""

    def excess(guard: float) -> float:
        return guarded(limit, guard, mean, spread).escapes - limit.escapes

    guard = 0.0
    if excess(0.0) > 0:
        guard = WIDEST if excess(WIDEST) > 0 else float(brentq(excess, 0.0, WIDEST))
    return guarded(limit, guard, mean, spread)


def record(found: Guarded) -> dict[str, Any]:
    """Return a test under names for scripts; None where a side is open."""
    ends = {
        k: v if math.isfinite(v) else None for k, v in (("low", found.low), ("high", found.high))
    }
    shares = {k: getattr(found, k) for k in ("passing", "escapes", "rejected")}
    return {"figure": found.figure, "guard": found.guard, **ends, **shares}
