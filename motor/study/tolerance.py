"""Production: what scatter of magnet, gap, plates, coil and steel does to a design.

The parameters are drawn quasi-randomly (scrambled Sobol points, as in scipy.stats.qmc).  The
variance share of a cause is that of its main effect: the part of the variance that a second order
polynomial of this cause alone explains (I. M. Sobol', Mathematics and Computers in Simulation 55,
2001, for the decomposition; Legendre polynomials, which are orthogonal over the range, fitted by
least squares).  Correlated tolerances are one cause, since what they do together belongs to none of
them (J. Jacques et al., Reliability Engineering and System Safety 91, 2006; from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.study.guarding import Limits, inside
from motor.study.parameters import Draft, parameter_named
from motor.study.plan import Axis, Plan
from motor.study.production import Production
from motor.study.rules import Rule
from motor.study.study_table import StudyTable

__all__ = ["STILL", "Scatter", "read_scatter", "share_inside", "tolerance_plan"]

STILL = 1e-9
"""A relative spread below this is rounding: the figure does not vary."""


def tolerance_plan(base: Design, production: Production, *, rules: tuple[Rule, ...] = ()) -> Plan:
    """Return the plan of the motors drawn from a production.

    Raises
    ------
    InvalidInput
        For unknown parameters, or names of materials.
    """
    nominal = Draft(base)
    for name in production.parameters:
        if parameter_named(base, name).kind in ("text", "count"):
            raise InvalidInput("tolerances", "name parameters that vary smoothly", name)
    deviations = production.deviations(production.draw())
    columns = [nominal.get(name) + deviations[name] for name in production.parameters]
    rows = tuple(tuple(float(f"{v:.9g}") for v in row) for row in zip(*columns, strict=True))
    return Plan(base, (Axis(production.parameters, rows),), rules)


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
    shares : mapping of cause to float
        Variance share of each cause; together about 1 where nothing interacts.
    """

    name: str
    mean: float
    deviation: float
    low: float
    high: float
    shares: Mapping[str, float]


def read_scatter(table: StudyTable, production: Production, name: str) -> Scatter:
    """Return mean, spread and variance shares of a column of a tolerance study's table.

    Motors that could not be built or solved are left out.
    """
    values = table.array(name)
    good = np.isfinite(values)
    blocks = [_terms(column[good]) for column in production.columns(production.draw())]
    factors = 1 + sum(block.shape[1] for block in blocks)
    if good.sum() < 2 * factors:
        raise InvalidInput(name, f"be known of at least {2 * factors} motors", int(good.sum()))
    matrix = np.column_stack([np.ones(good.sum()), *blocks])
    factor = np.linalg.lstsq(matrix, values[good], rcond=None)[0]
    variance = float(values[good].var())
    if math.sqrt(variance) <= STILL * abs(float(values[good].mean())):
        variance = 0.0
    shares, start = {}, 1
    for cause, block in zip(production.causes, blocks, strict=True):
        effect = block @ factor[start : start + block.shape[1]]
        start += block.shape[1]
        shares[cause] = float(effect.var() / variance) if variance > 0 else 0.0
    low, high = np.quantile(values[good], [0.025, 0.975])
    mean = float(values[good].mean())
    return Scatter(name, mean, math.sqrt(variance), float(low), float(high), shares)


def _terms(drawn: Floats) -> Floats:
    """Return Legendre polynomials of a cause's members (n, m), and what two of them do together."""
    squares = (3 * drawn**2 - 1) / 2
    pairs = [drawn[:, i] * drawn[:, j] for i, j in itertools.combinations(range(drawn.shape[1]), 2)]
    return np.column_stack([drawn, squares, *pairs])


def share_inside(table: StudyTable, limits: Limits) -> float:
    """Return the share of all drawn motors inside every limit; those that failed are outside."""
    if not limits:
        return 1.0
    return float(inside({name: table.array(name) for name in limits}, limits).mean())
