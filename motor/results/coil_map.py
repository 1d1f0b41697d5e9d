"""Force factor and reluctance force over the coil's position and current, Bl(x, i).

A blocked coil with a steady current, its own field and the steel's saturation included.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.errors import millimetres
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.drawable import DrawablePage
from motor.base.errors import InvalidInput
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.steps import step
from motor.design.coil import Coil
from motor.design.design import Design
from motor.field.field import Field, FieldOnMesh, prolong
from motor.field.newton import Solver
from motor.results.loaded import (
    EVEN,
    ODD,
    ForcePart,
    carried,
    check_current,
    coil_load,
    current_notes,
    force_goal,
    force_part,
    heating_rate,
    loaded_mesh,
    winding_sense,
)

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["CoilMap", "coil_map", "over_the_travel", "usual_current"]

POSITIONS, CURRENTS = 9, 3
"""How many places over the coil's travel, and how many currents of either sign."""
USUAL_DENSITY = 100e6
"""Current density in A/m^2 of the largest current without being told: a peak of music, several
times what a winding carries for long (common practice, no source)."""


@dataclass(frozen=True)
class CoilMap(DrawablePage):
    """Force on a blocked coil over position and steady current.

    Parameters
    ----------
    design : Design
    position : (n,) array
        Displacements from rest in metres, rising.
    current : (m,) array
        Ampere, positive, rising; each stands for both signs.
    bl, bl_uncertainty : (n,) array
        Force per ampere in T m in the limit of small currents, on the map's own mesh.
    odd, odd_uncertainty : (n, m) array
        Part of the force odd in the current, N: half the difference of both signs.
    even, even_uncertainty : (n, m) array
        Part even in the current, N: the reluctance force, which pulls one way always.
    unknowns : int
        Of the finer mesh.
    """

    design: Design
    position: Floats
    current: Floats
    bl: Floats
    bl_uncertainty: Floats
    odd: Floats
    odd_uncertainty: Floats
    even: Floats
    even_uncertainty: Floats
    unknowns: int

    @functools.cached_property
    def signed_current(self) -> Floats:
        """Currents of both signs and 0, rising, A (2 m + 1)."""
        return np.concatenate([-self.current[::-1], [0.0], self.current])

    @functools.cached_property
    def force(self) -> tuple[Floats, Floats]:
        """Force in N at the signed currents and its uncertainty, arrays (n, 2 m + 1)."""
        none = np.zeros((len(self.position), 1))
        spread = np.hypot(self.odd_uncertainty, self.even_uncertainty)
        return (
            np.hstack([(self.even - self.odd)[:, ::-1], none, self.even + self.odd]),
            np.hstack([spread[:, ::-1], none, spread]),
        )

    @functools.cached_property
    def force_factor(self) -> tuple[Floats, Floats]:
        """Force per ampere in T m at the signed currents, and its uncertainty (n, 2 m + 1)."""
        amperes = self.signed_current
        size = np.where(amperes == 0, 1.0, amperes)
        value, spread = (a / b for a, b in zip(self.force, (size, np.abs(size)), strict=True))
        middle = len(self.current)
        value[:, middle], spread[:, middle] = self.bl, self.bl_uncertainty
        return value, spread

    @functools.cached_property
    def asymmetry(self) -> Floats:
        """(Bl(x, i) - Bl(x, -i)) / (Bl(x, i) + Bl(x, -i)), array (n, m)."""
        return self.even / self.odd

    @functools.cached_property
    def saturation(self) -> Floats:
        """Change of the mean of Bl(x, i) and Bl(x, -i) by the current, over Bl(x); (n, m)."""
        return self.odd / self.current / self.bl[:, None] - 1

    @functools.cached_property
    def steady_force(self) -> tuple[Floats, Floats]:
        """Mean force in N over a period of a sine of the largest current, and its uncertainty.

        From the polynomial in the current's square that passes through the even parts.
        """
        order = np.arange(1, len(self.current) + 1)
        powers = (self.current / self.current[-1])[:, None] ** (2 * order)
        means = np.array([math.comb(2 * k, k) / 4.0**k for k in order])
        weights = np.linalg.solve(powers.T, means)
        return self.even @ weights, self.even_uncertainty @ np.abs(weights)

    @property
    def notes(self) -> list[str]:
        """Cautions about the largest current."""
        largest = float(self.current[-1])
        return current_notes(largest, heating_rate(self.design.coil, largest))

    def rows(self) -> list[dict[str, float | None]]:
        """Return one record per position and signed current, units in the names."""
        (force, force_spread), (bl, bl_spread) = self.force, self.force_factor
        found = []
        for i, x in enumerate(self.position):
            for k, amperes in enumerate(self.signed_current):
                at = abs(k - len(self.current)) - 1
                even, spread = (
                    (0.0, 0.0) if at < 0 else (self.even[i, at], self.even_uncertainty[i, at])
                )
                found.append(
                    {
                        "position_mm": float(x) * 1e3,
                        "current_A": float(amperes),
                        "bl_Tm": float(bl[i, k]),
                        "bl_uncertainty_Tm": finite(float(bl_spread[i, k])),
                        "force_N": float(force[i, k]),
                        "force_uncertainty_N": finite(float(force_spread[i, k])),
                        "reluctance_force_N": float(even),
                        "reluctance_force_uncertainty_N": finite(float(spread)),
                    }
                )
        return found

    def summary(self) -> dict[str, Any]:
        """Return the record under names that carry their unit."""
        mean, spread = self.steady_force
        return {
            **origin(),
            "name": self.design.name,
            "largest_current_A": float(self.current[-1]),
            "unknowns": self.unknowns,
            "positions": [
                {
                    "position_mm": float(x) * 1e3,
                    "bl_Tm": float(self.bl[i]),
                    "bl_change_percent": 100 * float(self.saturation[i, -1]),
                    "bl_asymmetry_over_current_percent": 100 * float(self.asymmetry[i, -1]),
                    "steady_force_N": float(mean[i]),
                    "steady_force_uncertainty_N": finite(float(spread[i])),
                }
                for i, x in enumerate(self.position)
            ],
            "rows": self.rows(),
        }


def usual_current(coil: Coil) -> float:
    """Return the largest current of a map that is not told one, two digits, ampere."""
    parallel = coil.turns / coil.turns_in_series
    return float(f"{USUAL_DENSITY * coil.wire.conductor_area * parallel:.1e}")


def over_the_travel(result: MotorResult, count: int) -> Floats:
    """Return displacements in metres, evenly over the coil's travel but for one that is rest."""
    low, high = result.bl_curve.x[[0, -1]]
    x = np.linspace(low, high, count)
    nearest = int(np.abs(x).argmin())
    if 0 < nearest < count - 1:
        x[nearest] = 0.0
    return x


@one_blas_thread()
def coil_map(
    result: MotorResult,
    positions: Sequence[float] | Floats | None = None,
    currents: Sequence[float] | Floats | None = None,
) -> CoilMap:
    """Return force and Bl of a motor's blocked coil over position and steady current.

    One mesh, fine along the coil's whole way, serves all; each field starts from the last one.

    Parameters
    ----------
    result : MotorResult
    positions : sequence of float or None
        Displacements from rest in metres; None for POSITIONS over the coil's travel,
        rest among them.
    currents : sequence of float or None
        Sizes of the currents in ampere, each taken with both signs; None for CURRENTS equal
        steps to :func:`usual_current`.

    Raises
    ------
    InvalidInput
        If a position is out of the coil's reach, or a current is 0 or melts the winding.
    SolveError
    """
    design, field, coil = result.design, result.field, result.design.coil
    low, high = result.bl_curve.x[[0, -1]]
    x = over_the_travel(result, POSITIONS) if positions is None else np.unique(positions)
    if not len(x) or x[0] < low - 1e-12 or x[-1] > high + 1e-12:
        raise InvalidInput(
            "positions",
            f"lie within the coil's travel, {millimetres(low)} to {millimetres(high)}",
            ", ".join(millimetres(v) for v in x) or "none",
        )
    usual = usual_current(coil) * np.arange(1, CURRENTS + 1) / CURRENTS
    amperes = np.unique(np.abs(np.asarray(usual if currents is None else currents, float)))
    for value in amperes:
        check_current(coil, float(value))
    mesh = loaded_mesh(field, coil, x)
    with step("field without current on the map's mesh"):
        still = [_settled(carried(field.fine, m)) for m in (mesh.finer(), mesh)]
    at_rest, found, lost = [], [], field.errors.lost
    for place in x:
        with step(f"coil at {millimetres(place)}"):
            here = _Place(field, coil, float(place), still[0], still[1])
            at_rest.append(here.small_current().estimate(ODD, lost))
            plus, minus = (here.forces(sign * amperes) for sign in (1.0, -1.0))
            found.append(
                [
                    (p.mixed(m, -1.0).estimate(ODD, lost), p.mixed(m, 1.0).estimate(EVEN, lost))
                    for p, m in zip(plus, minus, strict=True)
                ]
            )
    odd, even = (
        np.array([[(e[part].value, e[part].uncertainty) for e in row] for row in found])
        for part in (0, 1)
    )
    return CoilMap(
        design,
        x,
        amperes,
        np.array([e.value for e in at_rest]),
        np.array([e.uncertainty for e in at_rest]),
        odd[..., 0],
        odd[..., 1],
        even[..., 0],
        even[..., 1],
        still[0].system.size,
    )


def _settled(level: FieldOnMesh) -> FieldOnMesh:
    """Return a level solved from where it stands."""
    return replace(level, solution=level.solver.solve(level.solution.reduced))


@dataclass(frozen=True)
class _Place:
    """A coil at one place in the field of a motor, on two nested meshes."""

    field: Field
    coil: Coil
    position: float
    fine: FieldOnMesh
    coarse: FieldOnMesh

    @property
    def _middle(self) -> float:
        return self.coil.rest_position + self.position

    @functools.cached_property
    def _turns(self) -> float:
        return winding_sense(self.field, self.coil) * self.coil.turns_in_series

    def small_current(self) -> ForcePart:
        """Return the force per ampere of a current that leaves the field as it is."""
        goal = force_goal(self.coil, self._middle)
        return force_part(Field(self.field.regions, self.fine, self.coarse, goal), self._turns)

    def forces(self, currents: Floats) -> list[ForcePart]:
        """Return the forces at signed currents that grow, each field started from the last.

        On the coarse mesh the start is continued along the last two, on the fine one it is the
        continued one and what the coarse solution had to add.
        """
        goal = force_goal(self.coil, self._middle)
        loads = [
            coil_load(level, self.coil, self._middle, self._turns)
            for level in (self.fine, self.coarse)
        ]
        solvers = [Solver(level.system) for level in (self.fine, self.coarse)]
        rest = [level.solution.reduced for level in (self.fine, self.coarse)]
        slopes = [
            level.solver.solve_tangent(load)
            for level, load in zip((self.fine, self.coarse), loads, strict=True)
        ]
        now, before, parts = rest, 0.0, []
        for amperes in currents:
            ahead = [a + (amperes - before) * s for a, s in zip(now, slopes, strict=True)]
            coarse = solvers[1].solve(ahead[1], extra_load=amperes * loads[1])
            system = self.coarse.system
            (added,) = prolong(
                self.coarse, self.fine.system, system.expand(coarse.reduced - ahead[1])
            )
            fine = solvers[0].solve(ahead[0] + added, extra_load=amperes * loads[0])
            solved = Field(
                self.field.regions,
                FieldOnMesh(self.fine.system, solvers[0], fine),
                FieldOnMesh(system, solvers[1], coarse),
                goal,
            )
            parts.append(force_part(solved, amperes * self._turns))
            after = [fine.reduced, coarse.reduced]
            slopes = [(b - a) / (amperes - before) for a, b in zip(now, after, strict=True)]
            now, before = after, amperes
        return parts
