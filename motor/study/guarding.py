"""Limits that a station tests with an error: what passes, what escapes, what is rejected.

A motor is good if its true figures lie within all limits.  A station reads a figure with a normal
error; its test limits are drawn in by a guard band, so that fewer bad motors pass, and fewer good
ones too (JCGM 106:2012, Evaluation of measurement data - The role of measurement uncertainty in
conformity assessment, 8.3.2 guarded acceptance, 9.3 and 9.5 global consumer's and producer's risk;
from memory).  The error is integrated exactly for each motor; only the motors are drawn.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput

__all__ = ["GUARDS", "Limits", "Passed", "Station", "inside", "passed"]

Limits = Mapping[str, tuple[float | None, float | None]]
"""Least and most of a figure, in its unit; None where a side is open."""
GUARD = 2.0
"""Guard band in standard deviations of the station: its expanded uncertainty at a factor of 2."""
GUARDS = (0.0, 1.0, 2.0)
"""Guard bands that are shown, in standard deviations of the station, beside the one asked for."""


@dataclass(frozen=True)
class Station:
    """How a figure is tested.

    Parameters
    ----------
    deviation : float
        Standard deviation of its error, in the figure's unit.
    guard : float
        By how many of these each limit is drawn in.
    """

    deviation: float
    guard: float = GUARD

    def __post_init__(self) -> None:
        if not (math.isfinite(self.deviation) and self.deviation > 0):
            raise InvalidInput("deviation", "be greater than 0", self.deviation)
        if not (math.isfinite(self.guard) and self.guard >= 0):
            raise InvalidInput("guard", "be a number of at least 0", self.guard)

    def limits(self, low: float | None, high: float | None) -> tuple[float | None, float | None]:
        """Return the test limits; InvalidInput if they leave nothing."""
        band = self.guard * self.deviation
        least, most = (None if low is None else low + band, None if high is None else high - band)
        if least is not None and most is not None and least >= most:
            raise InvalidInput("guard", "leave something of the limits", f"{least} to {most}")
        return least, most


@dataclass(frozen=True)
class Passed:
    """What a test does; shares of all motors.

    Parameters
    ----------
    guard : float or None
        The same for every station, in its standard deviations; None as asked for.
    good : float
        Inside all limits in truth.
    passing, escapes, rejected : float
        That pass, that pass although bad, and that fail although good.
    """

    guard: float | None
    good: float
    passing: float
    escapes: float
    rejected: float


def inside(figures: Mapping[str, Floats], limits: Limits) -> np.ndarray:
    """Return whether each motor (n,) is inside every limit; those without a value are not."""
    good = np.ones(len(next(iter(figures.values()))), bool)
    for key, (low, high) in limits.items():
        if low is not None and high is not None and low > high:
            raise InvalidInput(f"limits of {key}", "start below their end", f"{low} to {high}")
        values = figures[key]
        good &= np.isfinite(values)
        with np.errstate(invalid="ignore"):
            good &= values >= (-math.inf if low is None else low)
            good &= values <= (math.inf if high is None else high)
    return good


def passed(
    figures: Mapping[str, Floats],
    limits: Limits,
    stations: Mapping[str, Station],
    guard: float | None = None,
) -> Passed:
    """Return what the stations make of motors.

    Parameters
    ----------
    figures : mapping of key to (n,) array
        True figures; nan of a motor that failed, which is bad and does not pass.
    limits : mapping of key to (low, high)
        None where a side is open.
    stations : mapping of key to Station
        A figure without one is read without an error.
    guard : float or None
        Of every station, in place of its own.
    """
    good = inside(figures, limits)
    share = inside(figures, {k: v for k, v in limits.items() if k not in stations}).astype(float)
    for key in limits.keys() & stations.keys():
        station, (low, high), values = stations[key], limits[key], figures[key]
        band = station.deviation * (station.guard if guard is None else guard)
        above = 0.0 if low is None else ndtr((low + band - values) / station.deviation)
        below = 1.0 if high is None else ndtr((high - band - values) / station.deviation)
        share *= np.where(np.isfinite(values), np.maximum(below - above, 0.0), 0.0)
    return Passed(
        guard,
        float(good.mean()),
        float(share.mean()),
        float((share * ~good).mean()),
        float(((1 - share) * good).mean()),
    )
