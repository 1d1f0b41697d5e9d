"""Times beside those of another library: the same mesh, and a design of a sweep."""

from __future__ import annotations

import contextlib
import dataclasses
import itertools
from collections.abc import Iterator
from functools import partial

import numpy as np

from motor.design.design import Design
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.newton import Solution, Solver
from motor.field.partition import partition
from motor.field.weak_form import Discretisation
from motor.results.motor_field import field_materials
from motor.results.motor_result import solve
from tests.benchmarks.motors import MOTORS, smooth
from tests.benchmarks.tables import Table
from tests.benchmarks.timing import taking_turns

__all__ = ["against_other_library", "neighbour"]

EXACT = 1e-11
"""Relative residual to which both libraries solve when their answers are compared."""
SAME = 1e-8
"""Most that the two potentials may differ by at any node, over the largest."""


def _meshes(design: Design) -> Iterator[tuple[str, MotorMesh]]:
    part = partition(design.regions, design.geometry.gap)
    yield "small", generate(part).finer()
    yield "large", generate(part, Sizing(0.14, 0.06, 0.3, 0.06)).halved()


def _same_mesh_row(design: Design, mesh: MotorMesh) -> tuple[str, ...]:
    import ngsolve

    from tests.benchmarks.other_library import Problem, at_vertices, import_mesh

    steels, magnets = field_materials(design)
    theirs = import_mesh(mesh)

    def ours() -> Solution:
        return Solver(Discretisation(mesh, steels, magnets)).solve()

    def other(threads: int) -> tuple[int, int]:
        ngsolve.SetNumThreads(threads)
        with ngsolve.TaskManager() if threads > 1 else contextlib.nullcontext():
            problem = Problem(theirs, steels, magnets)
            return problem.solve()[1], problem.unknowns

    works = (ours, partial(other, 1), partial(other, 2))
    (solved, t_ours), ((steps, unknowns), one), (_, two) = taking_turns(works, 7)
    ngsolve.SetNumThreads(1)
    system = Discretisation(mesh, steels, magnets, orders=0)  # beyond the circle they have nothing
    potential = system.expand(Solver(system).solve(tolerance=EXACT).reduced)
    here = potential[system.basis.nodal_dofs[0]]
    there = at_vertices(Problem(theirs, steels, magnets).solve(EXACT)[0])
    difference = float(np.abs(here - there).max() / np.abs(here).max())
    if difference > SAME:
        raise RuntimeError(f"the two libraries' potentials differ by {difference:.1e}")
    ratios = " / ".join(f"{t.least / t_ours.least:.1f}" for t in (one, two))
    steps_text = f"{solved.iterations} / {steps}"
    times = (str(t_ours), str(one), str(two))
    return (str(unknowns), steps_text, *times, ratios, f"{difference:.0e}")


def against_other_library() -> Table:
    """Return cold solves on the same mesh, ours and NGSolve's with 1 and 2 threads."""
    rows = []
    for name, make in MOTORS.items():
        design = smooth(make())
        for label, mesh in _meshes(design):
            rows.append((f"{name}, {label}", *_same_mesh_row(design, mesh)))
    columns = (
        "motor, mesh",
        "unknowns",
        "steps, ours / theirs",
        "ours, 1 thread",
        "NGSolve, 1 thread",
        "NGSolve, 2 threads",
        "theirs / ours, least times",
        "potentials differ by",
    )
    return Table("Cold solve on the same mesh, same H(B), same tolerance", columns, tuple(rows))


def neighbour() -> Table:
    """Return a design of a sweep, mesh included, against the same mesh and a cold NGSolve."""
    from tests.benchmarks.other_library import Problem, import_mesh

    rows = []
    for (name, make), uncertainty in itertools.product(MOTORS.items(), (False, True)):
        design = smooth(make())
        near = solve(design, uncertainty=uncertainty)
        thickness = 1.01 * getattr(design.geometry, "magnet_thickness")  # noqa: B009
        geometry = dataclasses.replace(design.geometry, magnet_thickness=thickness)
        moved = design.replace(geometry=geometry)
        work = partial(solve, moved, uncertainty=uncertainty, warm_start=near)
        part = partition(moved.regions, moved.geometry.gap)
        field = work().field
        theirs = import_mesh(field.fine.system.mesh)
        problem = partial(Problem, theirs, *field_materials(moved), part.centre)
        works = (work, partial(generate, part), lambda p=problem: p().solve())  # type: ignore[misc]
        (_, ours), (_, t_mesh), (_, cold) = taking_turns(works)
        ratio = (cold.least + t_mesh.least) / ours.least
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
        "theirs / ours, least times",
    )
    return Table("A design of a sweep, started from its neighbour", columns, tuple(rows))
