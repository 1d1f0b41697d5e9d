"""The coil with its own current in the field: force, Bl and the reluctance force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.gauss import gauss
from motor.design.coil import Coil
from motor.field.field import Estimate, Field, Level, shape_functions

__all__ = ["LoadedCoil", "coil_load", "loaded_coil"]

RADIAL_POINTS, AXIAL_POINTS = 4, 120


@dataclass(frozen=True)
class LoadedCoil:
    """Force on the coil at one position and current, its own field included.

    Parameters
    ----------
    position : float
        Displacement from rest, metres.
    current : float
        Ampere.
    force : Estimate
        Axial force at +current in newton, positive outwards.
    force_reversed : Estimate
        The same at -current.
    """

    position: float
    current: float
    force: Estimate
    force_reversed: Estimate

    @property
    def force_factor(self) -> Estimate:
        """Part of the force odd in the current, per ampere: Bl in T m under this current."""
        value = (self.force.value - self.force_reversed.value) / (2 * self.current)
        spread = (self.force.uncertainty + self.force_reversed.uncertainty) / (
            2 * abs(self.current)
        )
        return Estimate(value, spread)

    @property
    def reluctance_force(self) -> Estimate:
        """Part of the force even in the current, in newton."""
        value = (self.force.value + self.force_reversed.value) / 2
        spread = (self.force.uncertainty + self.force_reversed.uncertainty) / 2
        return Estimate(value, spread)

    def summary(self) -> dict[str, float]:
        """Return the figures under names that carry their unit."""
        return {
            "position_mm": self.position * 1e3,
            "current_A": self.current,
            "force_N": self.force.value,
            "force_uncertainty_N": self.force.uncertainty,
            "bl_Tm": self.force_factor.value,
            "bl_uncertainty_Tm": self.force_factor.uncertainty,
            "reluctance_force_N": self.reluctance_force.value,
            "reluctance_force_uncertainty_N": self.reluctance_force.uncertainty,
        }


def coil_load(level: Level, coil: Coil, middle: float, ampere_turns: float) -> Floats:
    """Return the reduced load of a uniform current in the winding's section.

    The winding need not be part of the mesh: the integral of J v r dr dz is taken with Gauss
    points in the winding, located in the triangles.

    Parameters
    ----------
    level : Level
    coil : Coil
    middle : float
        Height of the winding's middle, metres.
    ampere_turns : float
        Signed; positive along the azimuth.
    """
    x, wx = gauss(RADIAL_POINTS)
    y, wy = gauss(AXIAL_POINTS)
    r = coil.mean_radius + coil.build_up / 2 * x
    z = middle + coil.winding_height / 2 * y
    share = (wx[:, None] * wy).ravel() / 4
    r, z = (a.ravel() for a in np.meshgrid(r, z, indexing="ij"))
    triangle, bary = level.locate(r, z)
    values = shape_functions(bary) * (share * ampere_turns * r)
    return level.system.gather(level.system.nodes[triangle], values.T)


def _force(
    level: Level, coil: Coil, middle: float, ampere_turns: float, potential: Floats
) -> float:
    """Return the axial Lorentz force in newton from the total field's flux function."""
    x, wx = gauss(RADIAL_POINTS)
    r = coil.mean_radius + coil.build_up / 2 * x
    z = middle + np.array([[-1.0], [1.0]]) * coil.winding_height / 2
    triangle, bary = level.locate(*(a.ravel() for a in np.broadcast_arrays(r, z)))
    a = (shape_functions(bary) * potential[level.system.nodes[triangle]].T).sum(axis=0)
    psi = (a.reshape(2, -1) * r) @ (wx / 2)
    return float(2 * np.pi * ampere_turns / coil.winding_height * (psi[1] - psi[0]))


def loaded_coil(field: Field, coil: Coil, position: float, current: float) -> LoadedCoil:
    """Solve with the coil's own current at one position.

    Parameters
    ----------
    field : Field
        The magnets' field; the solve starts from it.
    coil : Coil
    position : float
        Displacement from rest, metres, positive outwards.
    current : float
        Ampere, not 0; positive pushes outwards at rest.

    Raises
    ------
    SolveError
        If the loaded field does not converge.
    """
    forces = [
        [_loaded_force(level, coil, position, sign * current) for sign in (1.0, -1.0)]
        for level in (field.fine, field.coarse)
    ]
    plus, minus = (
        field.errors.estimate(fine, coarse)
        for fine, coarse in zip(forces[0], forces[1], strict=True)
    )
    return LoadedCoil(position, current, plus, minus)


def _loaded_force(level: Level, coil: Coil, position: float, current: float) -> float:
    middle = coil.rest_position + position
    probe = _force(level, coil, coil.rest_position, 1.0, level.potential)
    ampere_turns = current * coil.turns_in_series * (1.0 if probe >= 0 else -1.0)
    load = coil_load(level, coil, middle, ampere_turns)
    solution = level.solver.solve(level.solution.reduced, extra_load=load)
    potential = level.system.expand(solution.reduced)
    return _force(level, coil, middle, ampere_turns, potential)
