"""Production: what scatter of magnet, gap, plates, coil and steel does to a design.

The parameters are drawn quasi-randomly (scrambled Sobol points, as in scipy.stats.qmc).  The
variance share of a tolerance is that of its main effect: the part of the variance that a second
order polynomial of this parameter alone explains (I. M. Sobol', Mathematics and Computers in
Simulation 55, 2001, for the decomposition; Legendre polynomials, which are orthogonal over the
range, fitted by least squares).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.study.parameters import Draft, parameter_named
from motor.study.plan import Axis, Plan
from motor.study.rules import Rule
from motor.study.study_table import StudyTable

__all__ = ["Scatter", "Tolerance", "read_scatter", "share_inside", "tolerance_plan"]

ORDER = 2
"""Order of the polynomial of each parameter."""
STILL = 1e-9
"""A relative spread below this is rounding: the figure does not vary."""


@dataclass(frozen=True)
class Tolerance:
    """How far a parameter may be from its nominal value.

    Parameters
    ----------
    name : str
        Dotted.
    width : float
        Largest deviation to either side, SI.
    shape : str
        "uniform", or "normal" with the width as three standard deviations, cut off there.
    """

    name: str
    width: float
    shape: str = "uniform"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.width) and self.width > 0):
            raise InvalidInput(f"tolerance of {self.name}", "be greater than 0", self.width)
        if self.shape not in ("uniform", "normal"):
            raise InvalidInput(
                f"tolerance of {self.name}", "be uniform or normal", repr(self.shape)
            )

    def deviation(self, unit: Floats) -> Floats:
        """Return deviations (SI) for shares of the probability between 0 and 1."""
        if self.shape == "uniform":
            return np.asarray(self.width * (2 * unit - 1))
        low, high = ndtr([-3.0, 3.0])
        return np.asarray(self.width / 3 * ndtri(low + unit * (high - low)))


def tolerance_plan(
    base: Design,
    tolerances: Sequence[Tolerance],
    *,
    power: int = 8,
    seed: int = 0,
    rules: tuple[Rule, ...] = (),
) -> Plan:
    """Return the plan of 2^power motors drawn within their tolerances.

    Raises
    ------
    InvalidInput
        For unknown parameters, names of materials, or a power outside 2 to 16.
    """
    if not tolerances:
        raise InvalidInput("tolerances", "name at least one parameter", "none")
    if isinstance(power, bool) or not isinstance(power, int) or not 2 <= power <= 16:
        raise InvalidInput("power", "be a whole number from 2 to 16", repr(power))
    nominal = Draft(base)
    for tolerance in tolerances:
        if parameter_named(base, tolerance.name).kind in ("text", "count"):
            raise InvalidInput("tolerances", "name parameters that vary smoothly", tolerance.name)
    from scipy.stats import qmc

    sobol = qmc.Sobol(len(tolerances), rng=np.random.default_rng(seed))
    unit = sobol.random_base2(power)
    columns = [
        nominal.get(t.name) + t.deviation(share)
        for t, share in zip(tolerances, unit.T, strict=True)
    ]
    rows = tuple(tuple(float(f"{v:.9g}") for v in row) for row in zip(*columns, strict=True))
    return Plan(base, (Axis(tuple(t.name for t in tolerances), rows),), rules)


@dataclass(frozen=True)
class Scatter(Drawable):
    """One figure over all drawn motors.

    Parameters
    ----------
    name : str
        Column of the table of results.
    mean, deviation : float
        Mean and standard deviation.
    low, high : float
        Between these lie 95 % of the motors.
    shares : mapping of dotted name to float
        Variance share of each tolerance; together about 1 where nothing interacts.
    """

    name: str
    mean: float
    deviation: float
    low: float
    high: float
    shares: Mapping[str, float]


def read_scatter(
    table: StudyTable, tolerances: Sequence[Tolerance], base: Design, name: str
) -> Scatter:
    """Return mean, spread and variance shares of a column of a tolerance study's table.

    Motors that could not be built or solved are left out.
    """
    values = table.array(name)
    good = np.isfinite(values)
    factors = 1 + ORDER * len(tolerances)
    if good.sum() < 2 * factors:
        raise InvalidInput(name, f"be known of at least {2 * factors} motors", int(good.sum()))
    columns = [np.ones(good.sum())]
    for tolerance in tolerances:
        parameter = parameter_named(base, tolerance.name)
        drawn = table.array(parameter.column)[good]
        middle, half = (drawn.max() + drawn.min()) / 2, np.ptp(drawn) / 2
        x = (drawn - middle) / half
        columns += [x, (3 * x**2 - 1) / 2]
    matrix = np.stack(columns, axis=1)
    factor = np.linalg.lstsq(matrix, values[good], rcond=None)[0]
    variance = float(values[good].var())
    if math.sqrt(variance) <= STILL * abs(float(values[good].mean())):
        variance = 0.0
    shares = {}
    for k, tolerance in enumerate(tolerances):
        part = slice(1 + ORDER * k, 1 + ORDER * (k + 1))
        effect = matrix[:, part] @ factor[part]
        shares[tolerance.name] = float(effect.var() / variance) if variance > 0 else 0.0
    low, high = np.quantile(values[good], [0.025, 0.975])
    mean = float(values[good].mean())
    return Scatter(name, mean, math.sqrt(variance), float(low), float(high), shares)


def share_inside(
    table: StudyTable, limits: Mapping[str, tuple[float | None, float | None]]
) -> float:
    """Return the share of all drawn motors inside every limit; those that failed are outside.

    Parameters
    ----------
    table : StudyTable
    limits : mapping of column to (low, high)
        None where a side is open.
    """
    inside = np.ones(len(table), bool)
    for name, (low, high) in limits.items():
        if low is not None and high is not None and low > high:
            raise InvalidInput(f"limits of {name}", "start below their end", f"{low} to {high}")
        values = table.array(name)
        inside &= np.isfinite(values)
        with np.errstate(invalid="ignore"):
            inside &= values >= (-math.inf if low is None else low)
            inside &= values <= (math.inf if high is None else high)
    return float(inside.mean())
