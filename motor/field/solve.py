"""From regions and materials to the solved field: mesh, coarse solve, refined solve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from geometries import Gap, Point, Region, Role
from motor.base.arrays import Floats, Ints
from motor.base.errors import InvalidInput, SolveError
from motor.base.steps import step
from motor.field.field import BOUNDARY_ERROR, Field, FieldOnMesh, Goal, prolong
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.neighbour import counterpart
from motor.field.newton import TOLERANCE, Solver
from motor.field.partition import OUTER_RATIO, partition
from motor.field.weak_form import Discretisation, MagnetState
from motor.materials import BHCurve

__all__ = ["doerfler_marking", "gap_flux", "solve_field", "solve_on_mesh"]

COARSE_TOLERANCE = 1e-4
"""Relative residual on the coarse mesh: moves Bl by a millionth, far below the mesh error."""
GOOD = 2
"""Most steps on the coarse mesh after which a similar motor counts as a good start."""
AIM = 0.97
"""Share of the accuracy asked for that the goal must reach: what is read off the curve through
the samples differs a little from the goal."""
DOERFLER_FRACTION = 0.6
"""Share of the error estimate that the triangles to be refined hold together (W. Doerfler, SIAM
Journal on Numerical Analysis 33, 1996, 1106-1124, from memory)."""
MOST_UNKNOWNS = 250_000
"""Refinement towards an accuracy stops with an error beyond this many."""
NEAREST = 1.5
"""Least radius of the outer boundary over the motor's reach."""
FINEST = 2 * BOUNDARY_ERROR
"""Finest accuracy that can be asked for: the outer boundary takes half of it."""


def solve_field(
    regions: Sequence[Region],
    gap: Gap,
    steels: Mapping[str, BHCurve],
    magnets: Mapping[str, MagnetState],
    *,
    goal: Goal | None = None,
    accuracy: float | None = None,
    sizing: Sizing | None = None,
    outer_ratio: float = OUTER_RATIO,
    uncertainty: bool = True,
    warm_start: Field | None = None,
    cuts: Sequence[tuple[Point, Point]] = (),
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
    goal : Goal or None
        Quantity for which the mesh is judged; None for the flux through the gap.
    accuracy : float or None
        Relative uncertainty of the goal to be reached by refining; None to take the first mesh.
    sizing : Sizing or None
        Fineness of the first coarse mesh; None for the default.
    outer_ratio : float
        Radius of the outer boundary over the motor's reach.
    uncertainty : bool
        False to solve on the first mesh only: less than half the time and five times the
        error, and every uncertainty is then nan.
    warm_start : Field or None
        Of a similar motor, to start from.
    cuts : sequence of pairs of (r, z)
        Further lines that edges of the mesh follow, ends in metres.

    Raises
    ------
    InvalidInput
        If a steel or magnet region has no material.
    MeshError, SolveError
        If the mesh or the solution fails, or the accuracy is out of reach.
    """
    for region in regions:
        known = {Role.STEEL: steels, Role.MAGNET: magnets}.get(region.role)
        if known is not None and region.name not in known:
            raise InvalidInput(region.name, f"have a {region.role} material", "none")
    if not outer_ratio >= NEAREST:
        raise InvalidInput("outer_ratio", f"be at least {NEAREST}", outer_ratio)
    if accuracy is not None and not FINEST <= accuracy < 1:
        raise InvalidInput("accuracy", f"lie between {FINEST:.0e} and 1", accuracy)
    with step("mesh") as now:
        mesh = generate(partition(regions, gap, outer_ratio=outer_ratio, cuts=cuts), sizing)
        now.detail = f"{len(mesh.label)} triangles"
    wanted = goal or gap_flux(gap)
    if not uncertainty:
        if accuracy is not None:
            raise InvalidInput("accuracy", "come with the uncertainty switched on", accuracy)
        system = Discretisation(mesh, steels, magnets)
        only = _level(
            system, None if warm_start is None else _started(system, warm_start.coarse), TOLERANCE
        )
        return Field(tuple(regions), only, only, wanted)
    field = solve_on_mesh(regions, mesh, steels, magnets, goal=wanted, warm_start=warm_start)
    while accuracy is not None and (reached := _relative(field)) > AIM * accuracy:
        if field.unknowns > MOST_UNKNOWNS:
            raise SolveError(
                f"an accuracy of {accuracy:.2g} is out of reach: with {field.unknowns} unknowns "
                f"the goal's uncertainty is still {reached:.2g}"
            )
        with step(f"refine, {reached:.2g} reached of {accuracy:.2g}") as now:
            marked = doerfler_marking(np.abs(field.error_shares))
            finer = field.coarse.system.mesh.refined(marked)
            now.detail = f"{len(finer.label)} triangles"
        last = replace(field, coarse=field.fine)
        field = solve_on_mesh(regions, finer, steels, magnets, goal=wanted, warm_start=last)
    return field


def gap_flux(gap: Gap) -> Goal:
    """Return the flux through the middle of the gap as a goal, per 2 pi."""
    ends, signs = np.array([gap.bottom, gap.top]), np.array([1.0, -1.0])
    return lambda level: level.flux_functional(gap.mean_radius, ends, signs)


def _relative(field: Field) -> float:
    """Return the goal's relative uncertainty."""
    fine, coarse = (
        float(field.goal(level) @ level.solution.reduced) for level in (field.fine, field.coarse)
    )
    return field.errors.bound(fine, coarse) / abs(fine)


def doerfler_marking(shares: Floats) -> Ints:
    """Return the fewest triangles that together hold DOERFLER_FRACTION of the sum of all shares."""
    order = np.argsort(-shares)
    total = np.cumsum(shares[order])
    return order[: int(np.searchsorted(total, DOERFLER_FRACTION * total[-1])) + 1]


def _level(
    system: Discretisation, start: Floats | None, tolerance: float = TOLERANCE
) -> FieldOnMesh:
    solver = Solver(system)
    return FieldOnMesh(system, solver, solver.solve(start, tolerance=tolerance))


def _effort(level: FieldOnMesh) -> str:
    return f"{len(level.system.free)} unknowns, {level.solution.iterations} Newton steps"


def _started(system: Discretisation, similar: FieldOnMesh) -> Floats:
    """Return a similar motor's potential at the free nodes, corner for corner."""
    here, there = system.mesh.partition, similar.system.mesh.partition
    r, z = counterpart(system.basis.doflocs, here, there)
    return similar.potential_at(r, z)[system.free]


def solve_on_mesh(
    regions: Sequence[Region],
    mesh: MotorMesh,
    steels: Mapping[str, BHCurve],
    magnets: Mapping[str, MagnetState],
    *,
    goal: Goal,
    warm_start: Field | None = None,
) -> Field:
    """Solve on a given coarse mesh and on the finer one cut from it.

    ``warm_start``, the field of a similar motor or on a similar mesh, is where the coarse solve
    starts from, if given.  The fine one starts from the coarse solution, or from ``warm_start`` too
    where that has proved a good start.
    """
    with step("field on the coarse mesh") as now:
        system = Discretisation(mesh, steels, magnets)
        start = None if warm_start is None else _started(system, warm_start.coarse)
        coarse = _level(system, start, COARSE_TOLERANCE)
        now.detail = _effort(coarse)
    with step("field on the fine mesh") as now:
        finer = Discretisation(mesh.finer(), steels, magnets)
        if (
            warm_start is not None
            and warm_start.fine is not warm_start.coarse
            and coarse.solution.iterations <= GOOD
        ):
            start = _started(finer, warm_start.fine)
        else:
            (start,) = prolong(coarse, finer, coarse.potential)
        fine = _level(finer, start)
        now.detail = _effort(fine)
    with step("numerical uncertainty"):
        field = Field(tuple(regions), fine, coarse, goal)
        _ = field.errors  # while the solvers hold the tangents of these solutions
    return field
