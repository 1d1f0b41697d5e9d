"""Force per ampere from the Maxwell stress on a surface in the air around the coil.

Source: J. C. Maxwell, A Treatise on Electricity and Magnetism, art. 641 to 645 (from memory): the
force on what a closed surface holds is the integral of

    T . n,   T_zr = B_r B_z / mu0,   T_zz = (B_z^2 - B_r^2) / (2 mu0).

The surface lies in the free gap on either side of the winding and closes above and below it.  The
part that changes sign with a small current, per ampere, is Bl.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import motor
from geometries import free_gap
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing
from motor.results.loaded import coil_load
from tests.verification.checks import check, identity

SOURCE = identity("Maxwell stress around the coil (Maxwell, art. 641 to 645, from memory)")
STRESS = 1e-2
"""Measured 3e-3: derivatives of the potential are only first order on the surface, and the
magnets' stress, which cancels, is a thousand times that of the current."""
FINE = Sizing(at_gap=0.12, away=0.2, growth=0.35, largest=0.1, layers=1)
CURRENT = 0.5
POINTS = 400


def axial_force(level: FieldOnMesh, inner: float, outer: float, low: float, high: float) -> float:
    """Return the axial force in newton on what a ring-shaped surface holds (metres)."""
    x, w = np.polynomial.legendre.leggauss(POINTS)

    def along(start: float, end: float) -> tuple[Floats, Floats]:
        return start + (end - start) * (x + 1) / 2, w * (end - start) / 2

    total = 0.0
    z, dz = along(low, high)
    for radius, sign in ((outer, 1.0), (inner, -1.0)):
        b = level.flux_density(radius, z)
        total += sign * float((b[:, 0] * b[:, 1] * 2 * np.pi * radius) @ dz)
    r, dr = along(inner, outer)
    for height, sign in ((high, 1.0), (low, -1.0)):
        b = level.flux_density(r, height)
        total += sign * float(((b[:, 1] ** 2 - b[:, 0] ** 2) / 2 * 2 * np.pi * r) @ dr)
    return total / MU0


@pytest.mark.parametrize("kind", ["outside-magnet", "inside-magnet"])
def test_odd_part_of_the_force_is_the_force_factor(kind: str) -> None:
    result = motor.solve(motor.starter(kind), sizing=FINE)
    coil, level = result.design.coil, result.field.fine
    low, high = free_gap(result.design.regions, result.design.geometry.gap)
    inner, outer = (low + coil.inner_radius) / 2, (high + coil.outer_radius) / 2
    reach = coil.winding_height / 2 + 0.5e-3
    forces = []
    for sign in (1.0, -1.0):
        load = coil_load(level, coil, coil.rest_position, sign * CURRENT * coil.turns)
        solution = level.solver.solve(level.solution.reduced, extra_load=load)
        loaded = replace(level, solution=solution)
        ends = (coil.rest_position - reach, coil.rest_position + reach)
        forces.append(axial_force(loaded, inner, outer, *ends))
    got = abs(forces[0] - forces[1]) / (2 * CURRENT)
    expected = result.bl_curve.at_rest.value
    check(f"{kind}, Bl from the stress around the coil (T m)", SOURCE, expected, got, STRESS)
