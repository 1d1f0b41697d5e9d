"""What a coil's own steady current does to the steel, as the driver's equations take it.

From force and flux linkage of the blocked coil over position and current, both signs, the parts
that are there at small currents are taken off: Bl(x) i and i^2/2 dL/dx of the force, Phi(x) and
L(x) i of the linkage.  What is left is saturation, and one energy N(x, i) stands behind both:

    force left = dN/dx,   linkage left = dN/di,   N = sum of P_k(x) G_k(i).
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PPoly

from geometries import InvalidInput
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.steps import step
from motor.results.coil_map import usual_current
from motor.results.loaded import carried, coil_load, force_goal, loaded_mesh, winding_sense

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["Saturation", "SaturationAt", "saturation"]

PLACES = 7
"""Places over the coil's travel."""
CURRENTS = (0.35, 0.65, 1.0)
"""Currents of either sign, over the largest."""
BEYOND = 2.0
"""Scale of the shapes over the largest current: below it they are nearly powers."""
CHANGE, LARGEST, LEAST = 0.15, 0.01, 5e-5
"""Uncertainty of the change of Bl: shares of itself and of the largest change, and of Bl; as
squares."""
LAW = 0.06
"""Uncertainty of what the law makes of Bl between its currents and places, over the largest change,
beside its misfit, as squares."""


@dataclass(frozen=True, slots=True)
class SaturationAt:
    """N and its derivatives by current s and place x; arrays of the places' shape.

    Joule, joule per ampere, newton, and so on.
    """

    energy: Floats
    by_s: Floats
    by_ss: Floats
    by_x: Floats
    by_xs: Floats
    by_xx: Floats


def shapes(s: Floats, scale: float) -> tuple[Floats, Floats, Floats]:
    """Return G_k and two derivatives by the current s in ampere: arrays (..., 3).

    With u = s / scale and q = u^2 / (1 + u^2): s q and s q^2, odd in the current, and s u q, even.
    They start with the third, fifth and fourth power, and never bend back beyond the scale.
    """
    u = np.asarray(s, float) / scale
    d = 1 / (1 + u * u)
    q, q1, q2 = u * u * d, 2 * u * d**2, (2 - 6 * u * u) * d**3
    rise, turn = u * q1, u * q2
    value, slope, bend = np.empty((3, *u.shape, 3))
    value[..., 0], value[..., 1], value[..., 2] = u * q, u * q * q, u * u * q
    slope[..., 0] = q + rise
    slope[..., 1] = q * q + 2 * q * rise
    slope[..., 2] = u * (2 * q + rise)
    bend[..., 0] = 2 * q1 + turn
    bend[..., 1] = 4 * q * q1 + 2 * q1 * rise + 2 * q * turn
    bend[..., 2] = 2 * q + 4 * rise + u * turn
    return scale * value, slope, bend / scale


@dataclass(frozen=True, eq=False)
class Saturation:
    """N(x, i) of a coil in its motor.

    Parameters
    ----------
    position : (m,) array
        Displacements from rest in metres, rising, m at least 4.
    scale : float
        Of the shapes, ampere: BEYOND times the largest current of the fields behind them.
    inductance : (m,) array
        dPhi/di at small currents, henry.
    linkage, force : (m, 3) array
        P_k in Wb and dP_k/dx in T m.
    misfit : float
        Root mean square of what the shapes leave of the force, over that of all saturation.
    bl_change : (m,) array
        Change of Bl at both signs' mean under the largest current, over Bl.
    """

    position: Floats
    scale: float
    inductance: Floats
    linkage: Floats
    force: Floats
    misfit: float
    bl_change: Floats

    def __post_init__(self) -> None:
        for name in ("linkage", "force"):
            if getattr(self, name).shape != (len(self.position), 3):
                shape = getattr(self, name).shape
                raise InvalidInput(name, f"be of shape ({len(self.position)}, 3)", shape)
        if not (np.isfinite(self.force).all() and np.isfinite(self.linkage).all()):
            raise InvalidInput("saturation", "be finite", "others")

    @property
    def largest(self) -> float:
        """The largest current of the fields behind it, ampere."""
        return self.scale / BEYOND

    def change_of_bl(self, x: Floats | float) -> tuple[Floats, Floats]:
        """Return by what share the largest current changes Bl at displacements in metres.

        As the mean of both signs, and the uncertainty of that: of mesh and of the way between
        the places.
        """
        value = np.asarray(CubicSpline(self.position, self.bl_change)(x))
        parts = CHANGE * value, LARGEST * np.abs(self.bl_change).max(), LEAST
        return value, np.sqrt(sum(part**2 for part in parts))

    @property
    def law_uncertainty(self) -> float:
        """What the change of Bl by the law may be wrong by at any place and current, over Bl."""
        return float(np.hypot(np.hypot(LAW, self.misfit) * np.abs(self.bl_change).max(), LEAST))

    @functools.cached_property
    def _splines(self) -> tuple[PPoly, PPoly, PPoly]:
        p = CubicHermiteSpline(self.position, self.linkage, self.force)
        return p, p.derivative(), p.derivative(2)

    def factors(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """Return P_k, dP_k/dx and d2P_k/dx2 at displacements in metres: arrays (..., 3).

        Beyond the positions P_k goes on straight.
        """
        x = np.asarray(x, float)
        inside = np.clip(x, self.position[0], self.position[-1])
        beyond = (x - inside)[..., None]
        p, slope, bend = (spline(inside) for spline in self._splines)
        return p + slope * beyond, slope, np.where(beyond == 0, bend, 0.0)

    def at(self, x: Floats, s: Floats) -> SaturationAt:
        """Return N and its derivatives at displacements (m) and currents (A)."""
        return self.with_factors(self.factors(x), s)

    def currents(self, factors: Floats, s: Floats) -> tuple[Floats, Floats]:
        """Return dN/ds and d2N/ds2 alone, where P_k are known: arrays of the currents' shape."""
        _, first, second = shapes(s, self.scale)
        return (factors * first).sum(axis=-1), (factors * second).sum(axis=-1)

    def with_factors(self, factors: tuple[Floats, Floats, Floats], s: Floats) -> SaturationAt:
        """Return N and its derivatives at currents (A), where the factors are known."""
        p, slope, bend = factors
        value, first, second = shapes(s, self.scale)
        parts = (p * value, p * first, p * second, slope * value, slope * first, bend * value)
        return SaturationAt(*(part.sum(axis=-1) for part in parts))


@one_blas_thread()
def saturation(result: MotorResult, largest: float | None = None) -> Saturation:
    """Return what a motor's steel does under its coil's steady current.

    On the coarser of the two meshes, since this is a correction: see
    :func:`motor.results.coil_map.coil_map` for forces with their uncertainty.

    Parameters
    ----------
    result : MotorResult
    largest : float or None
        Ampere; None for :func:`motor.results.coil_map.usual_current`.

    Raises
    ------
    SolveError
    """
    coil, field = result.design.coil, result.field
    scale = usual_current(coil) if largest is None else largest
    low, high = result.bl_curve.x[[0, -1]]
    x = np.linspace(low, high, PLACES)
    amperes = scale * np.array(CURRENTS)
    turns = winding_sense(field, coil) * coil.turns_in_series
    with step("saturation by the coil's current") as now:
        level = carried(field.fine, loaded_mesh(field, coil, x))
        rest = level.solver.solve(level.solution.reduced).reduced
        middles = coil.rest_position + x
        loads = np.stack([coil_load(level, coil, z, turns) for z in middles])
        goals = np.stack([turns * force_goal(coil, z)(level) for z in middles])
        level.solver.set_tangent(rest)
        slopes = level.solver.solve_tangent(loads.T).T
        signed = np.concatenate([-amperes[::-1], amperes])
        force, linked = np.empty((2, PLACES, len(signed)))
        for k in range(PLACES):
            for sign in (1, -1):
                before, a, along = 0.0, rest, sign * slopes[k]
                for m, i in enumerate(amperes):
                    start = a + (i - before) * along
                    after = level.solver.solve(start, extra_load=sign * i * loads[k]).reduced
                    at = len(amperes) + m if sign > 0 else len(amperes) - 1 - m
                    force[k, at] = sign * i * (goals[k] @ after)
                    linked[k, at] = 2 * np.pi * loads[k] @ (after - rest)
                    before, a, along = i, after, (after - a) / (i - before)
        now.detail = f"{level.system.size} unknowns, up to {scale:g} A"
    bl = goals @ rest
    small = 2 * np.pi * np.einsum("kn,kn->k", loads, slopes)
    return _fitted(x, signed, bl, small, force - np.outer(bl, signed), linked)


def _fitted(
    x: Floats, i: Floats, bl: Floats, small: Floats, force: Floats, linked: Floats
) -> Saturation:
    """Return the shapes' factors of a blocked coil's fields at places (n,) and currents (m,).

    ``bl`` and the inductance ``small`` (n,) are those without current; ``force`` (n, m) is the rest
    beside Bl i.  The shapes' argument is the current that would make the same flux in steel as it
    is without current.
    """
    scale = BEYOND * float(i[-1])
    s = linked / small[:, None]
    value, slope, _ = shapes(s, scale)
    factors, slopes, left, whole = [], [], 0.0, 0.0
    for k in range(len(x)):
        square = np.hstack([value[k], i[:, None] ** 2]) / i[:, None]
        per_ampere = force[k] / i
        found = np.linalg.lstsq(square, per_ampere, rcond=None)[0]
        saturated = (linked[k] - small[k] * i) / i
        slopes.append(found[:3])
        factors.append(np.linalg.lstsq(slope[k] / i[:, None], saturated, rcond=None)[0])
        left += float(np.sum((per_ampere - square @ found) ** 2))
        whole += float(np.sum((square[:, :3] @ found[:3]) ** 2))
    change = (force[:, -1] - force[:, 0]) / 2 / i[-1] / bl
    misfit = math.sqrt(left / max(whole, 1e-300))
    return Saturation(x, scale, small, np.array(factors), np.array(slopes), misfit, change)
