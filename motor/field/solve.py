"""From regions and materials to the solved field: mesh, coarse solve, refined solve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from geometries import Gap, Region, Role
from motor.errors import InvalidInput
from motor.field.field import Field, Level, prolong
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import OUTER_RATIO, partition
from motor.field.weak_form import MagnetState, System
from motor.materials import BHCurve

__all__ = ["solve_field", "solve_on_mesh"]

COARSE_TOLERANCE = 1e-6
"""Relative residual on the coarse mesh; far below its discretisation error."""


def solve_field(
    regions: Sequence[Region],
    gap: Gap,
    steels: Mapping[str, BHCurve],
    magnets: Mapping[str, MagnetState],
    *,
    sizing: Sizing | None = None,
    outer_ratio: float = OUTER_RATIO,
) -> Field:
    """Solve the magnetostatic field of a motor.

    Parameters
    ----------
    regions : sequence of Region
        The parts, from any geometry.
    gap : Gap
        Where the mesh is finest.
    steels : mapping of region name to BHCurve
    magnets : mapping of region name to MagnetState
    sizing : Sizing or None
        Fineness of the coarse mesh; None for the default.
    outer_ratio : float
        Radius of the open boundary over the motor's reach.

    Raises
    ------
    InvalidInput
        If a steel or magnet region has no material.
    MeshError, SolveError
        If the mesh or the solution fails.
    """
    for region in regions:
        known = {Role.STEEL: steels, Role.MAGNET: magnets}.get(region.role)
        if known is not None and region.name not in known:
            raise InvalidInput(region.name, f"have a {region.role} material", "none")
    mesh = generate(partition(regions, gap, outer_ratio=outer_ratio), sizing)
    return solve_on_mesh(regions, mesh, steels, magnets)


def solve_on_mesh(
    regions: Sequence[Region],
    mesh: MotorMesh,
    steels: Mapping[str, BHCurve],
    magnets: Mapping[str, MagnetState],
) -> Field:
    """Solve on a given coarse mesh and on its uniform refinement, started from the former."""
    system = System(mesh, steels, magnets)
    solver = Solver(system)
    coarse = Level(system, solver, solver.solve(tolerance=COARSE_TOLERANCE))
    finer = System(mesh.halved(), steels, magnets)
    solver = Solver(finer)
    fine = Level(finer, solver, solver.solve(prolong(coarse, finer)))
    return Field(tuple(regions), fine, coarse)
