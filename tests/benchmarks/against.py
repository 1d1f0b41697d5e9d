"""Times beside those of another library: the same mesh, and a design of a sweep."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterator
from functools import partial

from motor.design import Design
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import partition
from motor.field.weak_form import System
from motor.result import field_materials, solve
from tests.benchmarks.motors import MOTORS
from tests.benchmarks.tables import Table
from tests.benchmarks.timing import timed

__all__ = ["against_other_library", "neighbour"]


def _meshes(design: Design) -> Iterator[tuple[str, MotorMesh]]:
    part = partition(design.regions, design.geometry.gap)
    yield "small", generate(part).finer()
    yield "large", generate(part, Sizing(0.14, 0.06, 0.3, 0.06)).halved()


def _same_mesh_row(design: Design, mesh: MotorMesh) -> tuple[str, ...]:
    import ngsolve

    from tests.benchmarks.other_library import Problem, import_mesh

    steels, magnets = field_materials(design)
    solved, t_ours = timed(lambda: Solver(System(mesh, steels, magnets)).solve(), 5)
    theirs = import_mesh(mesh)

    def other() -> tuple[int, int]:
        problem = Problem(theirs, steels, magnets, mesh.partition.centre)
        return problem.solve()[1], problem.unknowns

    (steps, unknowns), one = timed(other, 3)
    ngsolve.SetNumThreads(2)
    with ngsolve.TaskManager():
        _, two = timed(other, 3)
    ngsolve.SetNumThreads(1)
    ratios = " / ".join(f"{t.median / t_ours.median:.1f}" for t in (one, two))
    steps_text = f"{solved.iterations} / {steps}"
    return (str(unknowns), steps_text, str(t_ours), str(one), str(two), ratios)


def against_other_library() -> Table:
    """Return cold solves on the same mesh, ours and NGSolve's with 1 and 2 threads."""
    rows = []
    for name, make in MOTORS.items():
        design = make()
        for label, mesh in _meshes(design):
            rows.append((f"{name}, {label}", *_same_mesh_row(design, mesh)))
    columns = (
        "motor, mesh",
        "unknowns",
        "steps, ours / theirs",
        "ours",
        "NGSolve, 1 thread",
        "NGSolve, 2 threads",
        "theirs / ours",
    )
    return Table("Cold solve on the same mesh, same H(B), same tolerance", columns, tuple(rows))


def neighbour() -> Table:
    """Return a design of a sweep, mesh included, against the same mesh and a cold NGSolve."""
    from tests.benchmarks.other_library import Problem, import_mesh

    rows = []
    for (name, make), uncertainty in itertools.product(MOTORS.items(), (False, True)):
        design = make()
        near = solve(design, uncertainty=uncertainty)
        thickness = 1.01 * getattr(design.geometry, "magnet_thickness")  # noqa: B009
        geometry = dataclasses.replace(design.geometry, magnet_thickness=thickness)
        moved = design.replace(geometry=geometry)
        result, ours = timed(partial(solve, moved, uncertainty=uncertainty, near=near), 15)
        part = partition(moved.regions, moved.geometry.gap)
        _, t_mesh = timed(partial(generate, part))
        field = result.field
        theirs = import_mesh(field.fine.system.mesh)
        problem = partial(Problem, theirs, *field_materials(moved), part.centre)
        _, cold = timed(lambda p=problem: p().solve(), 3)  # type: ignore[misc]
        ratio = (cold.median + t_mesh.median) / ours.median
        steps = f"{field.coarse.solution.iterations}"
        if uncertainty:
            steps += f" + {field.fine.solution.iterations}"
        label = f"{name}, uncertainty {'on' if uncertainty else 'off'}"
        sizes = str(field.unknowns)
        rows.append((label, sizes, steps, str(ours), f"{t_mesh} + {cold}", f"{ratio:.1f}"))
    columns = (
        "motor",
        "unknowns",
        "our steps",
        "ours, all",
        "mesh + NGSolve, cold, on our finest mesh",
        "theirs / ours",
    )
    return Table("A design of a sweep, started from its neighbour", columns, tuple(rows))
