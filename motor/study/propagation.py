"""Tolerances by derivatives: what one solve says of a production, beside motors drawn at random.

A figure is its nominal value and a sum of effects, one of each tolerance.  What leaves the field
as it is (the coil) is read off over its whole range, everything else follows its first and second
derivative, figures next to corners the first alone; a parameter without one is solved at both
ends.  Variances of the effects add up (propagation: JCGM 100:2008, Guide to the expression of
uncertainty in measurement, clause 5.1.2, whose note has the second order).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.results.motor_result import MotorResult, read_off, solve
from motor.study.derivatives import UNCHECKED, sloped
from motor.study.neighbours import neighbours
from motor.study.parameters import Draft
from motor.study.second_order import kinked
from motor.study.tolerance import Scatter, Tolerance

__all__ = ["Propagation", "propagate"]

POINTS = 17
"""Places over a tolerance's range at which a coil is read off."""
POWER = 12
"""2^POWER motors are drawn from the sum of effects; each costs next to nothing."""
APART = 0.15
"""Share by which a standard deviation differs from the sampled one before that is said."""


@dataclass(frozen=True)
class Propagation:
    """Figures of a production by derivatives.

    Parameters
    ----------
    scatters : mapping of key to Scatter
        Mean, spread, the range of 95 % and variance shares of each figure.
    drawn : mapping of key to (2^POWER,) array
        The same motors' figures.
    """

    scatters: Mapping[str, Scatter]
    drawn: Mapping[str, Floats]

    def share_inside(self, limits: Mapping[str, tuple[float | None, float | None]]) -> float | None:
        """Return the share of motors inside every limit; None if a limit's figure is not known."""
        if not set(limits) <= set(self.drawn):
            return None
        inside = np.ones(2**POWER, bool)
        for key, (low, high) in limits.items():
            inside &= self.drawn[key] >= (-math.inf if low is None else low)
            inside &= self.drawn[key] <= (math.inf if high is None else high)
        return float(inside.mean())

    def apart(self, sampled: Sequence[Scatter]) -> list[str]:
        """Return the figures whose spread differs from the sampled one by more than APART."""
        return [
            one.name
            for one in sampled
            if one.name in self.scatters
            and abs(self.scatters[one.name].deviation - one.deviation) > APART * one.deviation
        ]


@one_blas_thread()
def propagate(
    result: MotorResult, tolerances: Sequence[Tolerance], keys: Sequence[str]
) -> Propagation:
    """Return how figures scatter within tolerances, from a solved motor's derivatives.

    Parameters
    ----------
    result : MotorResult
        The nominal motor.
    tolerances : sequence of Tolerance
    keys : sequence of str
        Of ``summary.json``; those without derivatives, or without a value, are left out.

    Raises
    ------
    InvalidInput
        If a parameter cannot be at an end of its range.
    """
    figures = {k: read for k, read in sloped().items() if k in keys and _finite(read(result))}
    from scipy.stats import qmc

    units = qmc.Sobol(len(tolerances), rng=np.random.default_rng(0)).random_base2(POWER)
    wide = result.design.geometry.gap.width
    effects: dict[str, list[Floats]] = {key: [] for key in figures}
    for one, unit in zip(tolerances, units.T, strict=True):
        places, motors = _range(result, one)
        deviation = one.deviation(unit)
        for key, read in figures.items():
            values = [read(motor) for motor in motors]
            known = np.array([math.nan if v is None else v for v in values])
            change = known - float(np.interp(0.0, places, known))
            if places[-1] < one.width and len(places) == 3:
                bent = key not in UNCHECKED
                effect = _beyond(deviation, places, change, known[1], wide if bent else 0.0)
            else:
                effect = np.interp(deviation, places, change)
            effects[key].append(np.asarray(effect))
    scatters, drawn = {}, {}
    for key, parts in effects.items():
        nominal = float(figures[key](result) or 0.0)
        values = nominal + np.sum(parts, axis=0)
        if not np.isfinite(values).all():
            continue
        variance = [float(part.var()) for part in parts]
        whole = sum(variance)
        low, high = np.quantile(values, [0.025, 0.975])
        shares = {
            t.name: v / whole if whole else 0.0 for t, v in zip(tolerances, variance, strict=True)
        }
        drawn[key] = values
        scatters[key] = Scatter(
            key, float(values.mean()), math.sqrt(whole), float(low), float(high), shares
        )
    return Propagation(scatters, drawn)


def _finite(value: float | None) -> bool:
    return value is not None and math.isfinite(value)


def _beyond(
    deviation: Floats, places: Floats, effect: Floats, value: float, gap_width: float
) -> Floats:
    """Return an effect far beyond three near places, by slope and bend; by the slope at a kink.

    Without the bend too where ``gap_width`` (metres) is 0.
    """
    step = places[2] - places[0]
    slope = (effect[2] - effect[0]) / step
    bend = (effect[2] - 2 * effect[1] + effect[0]) / (step / 2) ** 2
    if not gap_width or kinked(abs(bend) * step / 2, slope, value, gap_width):
        bend = 0.0
    return np.asarray(slope * deviation + bend / 2 * deviation**2)


def _range(result: MotorResult, one: Tolerance) -> tuple[Floats, list[MotorResult]]:
    """Return deviations (SI) in their order, and the motor at each."""
    design = result.design
    value = float(Draft(design).get(one.name))
    if one.name.startswith("coil."):
        places = np.linspace(-one.width, one.width, POINTS)
        designs = [Draft(design, {one.name: value + d}).design() for d in places]
        return places, [read_off(d, result.field) for d in designs]
    try:
        sides = neighbours(result, [one.name], second=True)[one.name]
    except InvalidInput:
        places = np.array([-one.width, 0.0, one.width])
        low, high = (
            solve(Draft(design, {one.name: value + d}).design()) for d in (-one.width, one.width)
        )
        return places, [low, result, high]
    assert sides.middle is not None
    return np.array([-0.5, 0.0, 0.5]) * sides.step, [sides.low, sides.middle, sides.high]
