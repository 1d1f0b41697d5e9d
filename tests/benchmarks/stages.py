"""Where the time of one design goes."""

from __future__ import annotations

from functools import partial

from motor.base.arrays import Floats
from motor.design.design import Design
from motor.field.field import FieldOnMesh, prolong
from motor.field.meshing import Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import partition
from motor.field.weak_form import Discretisation
from motor.results.motor_field import field_materials
from motor.results.motor_result import read_off, solve
from tests.benchmarks.motors import MOTORS, SIZINGS
from tests.benchmarks.tables import Table
from tests.benchmarks.timing import timed

__all__ = ["stages"]


def _stage_row(design: Design, sizing: Sizing) -> tuple[str, ...]:
    steels, magnets = field_materials(design)
    part = partition(design.regions, design.geometry.gap)
    mesh, t_mesh = timed(partial(generate, part, sizing))
    system = Discretisation(mesh, steels, magnets)
    solver = Solver(system)
    level = FieldOnMesh(system, solver, solver.solve(tolerance=1e-4))
    fine, t_assembly = timed(partial(Discretisation, mesh.finer(), steels, magnets))
    (start,) = prolong(level, fine, level.potential)
    solved, t_solve = timed(lambda: Solver(fine).solve(start))
    kept = Solver(fine)
    kept.solve(start)

    def force_and_tangent() -> Floats:
        state = fine.steel_at(start)
        fine.steel_force(state)
        return fine.steel_tangent(state)

    tangent = force_and_tangent()
    _, t_factor = timed(lambda: kept._factorise(tangent))
    _, t_residual = timed(force_and_tangent)
    result, t_whole = timed(lambda: solve(design, sizing=sizing))
    _, t_one = timed(lambda: solve(design, sizing=sizing, uncertainty=False))
    _, t_bl = timed(lambda: read_off(design, result.field))
    times = (t_mesh, t_assembly, t_residual, t_factor, t_solve, t_bl, t_whole, t_one)
    return (
        f"{system.size} + {fine.size}",
        f"{level.solution.iterations} + {solved.iterations}",
        *map(str, times),
    )


def stages() -> Table:
    """Return where the time of one design goes, for three motors at three fineness."""
    rows = [
        (f"{name}, {label}", *_stage_row(make(), sizing))
        for name, make in MOTORS.items()
        for label, sizing in SIZINGS.items()
    ]
    columns = (
        "motor, mesh",
        "unknowns, coarse + fine",
        "steps",
        "mesh",
        "assembly (fine)",
        "tangent + residual",
        "factorisation",
        "fine solve",
        "Bl(x)",
        "whole design, uncertainty on",
        "off",
    )
    return Table("One design, stage by stage", columns, tuple(rows))
