"""The cost of one solve up to a million unknowns."""

from __future__ import annotations

import resource
import time

import numpy as np

import motor
from motor.field.field import FieldOnMesh, prolong
from motor.field.meshing import Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import partition
from motor.field.weak_form import Discretisation
from motor.results.motor_field import field_materials
from tests.benchmarks.tables import Table

__all__ = ["scale"]

LEAST = Sizing(0.45, 0.3, 0.7, 0.2, 0)


def scale() -> Table:
    """Return the cost of a solve against unknowns, with the exponent between rows."""
    design = motor.starter("outside-magnet")
    steels, magnets = field_materials(design)
    mesh = generate(partition(design.regions, design.geometry.gap), LEAST)
    rows: list[tuple[str, ...]] = []
    before: tuple[int, float] | None = None
    level: FieldOnMesh | None = None
    for _ in range(6):
        start = time.perf_counter()
        system = Discretisation(mesh, steels, magnets)
        solver = Solver(system)
        begin = None if level is None else prolong(level, system, level.potential)[0]
        level = FieldOnMesh(system, solver, solver.solve(begin))
        seconds = time.perf_counter() - start
        step = seconds / max(level.solution.iterations, 1)
        exponent = "" if before is None else f"{_exponent(before, system.size, step):.2f}"
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        steps = str(level.solution.iterations)
        rows.append((str(system.size), steps, f"{seconds:.2f}", exponent, f"{peak:.0f}"))
        before = (system.size, step)
        mesh = mesh.halved()
    columns = (
        "unknowns",
        "steps from the mesh before",
        "seconds, assembly and solve",
        "exponent of the time per step",
        "peak memory so far in MB",
    )
    return Table("Cost against unknowns", columns, tuple(rows))


def _exponent(before: tuple[int, float], size: int, seconds: float) -> float:
    return float(np.log(seconds / before[1]) / np.log(size / before[0]))
