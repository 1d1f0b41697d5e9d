"""Print all benchmarks: ``python -m tests.benchmarks [PATH]`` also writes them as Markdown.

Every figure is a median over several runs, smallest and largest in brackets, in milliseconds.
Run it on an otherwise idle machine.
"""

from __future__ import annotations

import dataclasses
import importlib.util
import itertools
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

import motor
from motor.arrays import Floats
from motor.design import Design
from motor.field.field import Level, prolong
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import partition
from motor.field.weak_form import System
from motor.result import MotorResult, field_materials, read_off, solve
from tests.benchmarks.timing import timed
from tests.verification.cases import saturated

SIZINGS = {
    "coarse": Sizing(0.7, 0.5, 1.2, 0.3, 1),
    "default": Sizing(),
    "fine": Sizing(0.2, 0.05, 0.6, 0.07, 3),
}
REFERENCE = Sizing(0.06, 0.03, 0.12, 0.03, 5)

LEAST = Sizing(0.7, 0.6, 1.3, 0.3, 0)
LONG_SWEEP, LONG_SWEEP_PART = 5000, 1000

MOTORS: dict[str, Callable[[], Design]] = {
    "outside magnet": partial(motor.starter, "outside-magnet"),
    "inside magnet": partial(motor.starter, "inside-magnet"),
    "saturated": saturated,
}


@dataclasses.dataclass(frozen=True)
class Table:
    """Heading, column names and rows of text."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def markdown(self) -> str:
        """Return the table as Markdown."""
        lines = [f"### {self.title}", "", "| " + " | ".join(self.columns) + " |"]
        lines.append("|" + "---|" * len(self.columns))
        return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in self.rows)]) + "\n"


def _stage_row(design: Design, sizing: Sizing) -> tuple[str, ...]:
    steels, magnets = field_materials(design)
    part = partition(design.regions, design.geometry.gap)
    mesh, t_mesh = timed(partial(generate, part, sizing))
    system = System(mesh, steels, magnets)
    solver = Solver(system)
    level = Level(system, solver, solver.solve(tolerance=1e-4))
    fine, t_assembly = timed(partial(System, mesh.finer(), steels, magnets))
    (start,) = prolong(level, fine, level.potential)
    solved, t_solve = timed(lambda: Solver(fine).solve(start))
    kept = Solver(fine)
    kept.solve(start)
    _, tangent = fine.steel_force_and_tangent(start)
    _, t_factor = timed(lambda: kept._factorise(tangent))
    _, t_residual = timed(lambda: fine.steel_force_and_tangent(start))
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


def draw_precision(table: Table, path: Path) -> None:
    """Draw time against error, ours and theirs, one panel for each motor."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 4.0), layout="constrained")
    for ax, name in zip(figure.subplots(1, len(MOTORS), sharey=True), MOTORS, strict=True):
        for who, marker, colour in (("ours", "o", "#1b3a57"), ("NGSolve", "s", "#c2571a")):
            points = sorted(
                (float(ms), float(error))
                for label, ms, error in table.rows
                if label.startswith(f"{name}, {who}")
            )
            ax.loglog(*zip(*points, strict=True), marker, color=colour, label=who)
        ax.set(title=name, xlabel="time for one design in ms")
        ax.set_xticks([20, 50, 100, 200, 500, 1000], ["20", "50", "100", "200", "500", "1000"])
        ax.minorticks_off()
        ax.set_xlim(20, 1300)
        ax.grid(alpha=0.3)
    figure.axes[0].set_ylabel("relative error of Bl at rest")
    figure.axes[0].legend(frameon=False)
    figure.savefig(path, dpi=110)


def precision() -> Table:
    """Return time against error of Bl, each on its own meshes; mesh time included."""
    from tests.benchmarks.other_library import Problem, own_mesh

    rows = []
    for name, make in MOTORS.items():
        design = make()
        exact = solve(design, sizing=REFERENCE).bl_curve.at_rest.value
        for label, sizing in SIZINGS.items():
            result, t = timed(partial(solve, design, sizing=sizing), 5)
            rows.append(_precision_row(f"{name}, ours, {label}", exact, _bl(result), t.median))
            one = partial(solve, design, sizing=sizing, uncertainty=False)
            result, t = timed(one, 5)
            label = f"{name}, ours, {label}, one mesh only"
            rows.append(_precision_row(label, exact, _bl(result), t.median))
        for accuracy in (3e-4, 1e-4):
            result, t = timed(partial(solve, design, accuracy=accuracy), 3)
            label = f"{name}, ours, refined to {accuracy:g}"
            rows.append(_precision_row(label, exact, _bl(result), t.median))
        steels, magnets = field_materials(design)
        part = partition(design.regions, design.geometry.gap)
        for order, corner in ((2, 0.4e-3), (2, 0.1e-3), (3, 0.4e-3), (3, 0.1e-3), (3, 0.03e-3)):

            def other(order: int = order, corner: float = corner) -> float:
                mesh = own_mesh(part, corner)  # noqa: B023
                problem = Problem(mesh, steels, magnets, part.centre, order)  # noqa: B023
                return _their_bl(design, mesh, problem.solve()[0])  # noqa: B023

            value, t = timed(other, 3)
            label = f"{name}, NGSolve, order {order}, {corner * 1e3:g} mm at corners"
            rows.append(_precision_row(label, exact, value, t.median))
    return Table("Time against error of Bl at rest", ("motor, how", "ms", "error"), tuple(rows))


def _bl(result: MotorResult) -> float:
    return result.bl_curve.at_rest.value


def _precision_row(label: str, exact: float, value: float, seconds: float) -> tuple[str, ...]:
    return (label, f"{seconds * 1e3:.0f}", f"{abs(value / exact - 1):.1e}")


def _their_bl(design: Design, mesh: Any, potential: Any) -> float:
    coil = design.coil
    points, weights = np.polynomial.legendre.leggauss(4)
    radii = coil.mean_radius + coil.build_up / 2 * points

    def linkage(z: float) -> float:
        values: Floats = np.array([potential(mesh(r, z)) * r for r in radii])
        return float(weights @ values) / 2

    low, high = (coil.rest_position + s * coil.winding_height / 2 for s in (-1, 1))
    scale = 2 * np.pi * coil.turns_in_series / coil.winding_height
    return abs(scale * (linkage(low) - linkage(high)))


def _chain(count: int, uncertainty: bool) -> int:
    """Solve neighbouring designs in turn, each started from the one before."""
    design = motor.starter("outside-magnet")
    near = None
    for k in range(count):
        depth = 6e-3 + 0.02e-3 * (k % 50)
        geometry = dataclasses.replace(design.geometry, gap_depth=depth, top_plate_thickness=depth)
        near = solve(design.replace(geometry=geometry), uncertainty=uncertainty, near=near)
        _ = near.stroke_82
    return count


def sweep() -> Table:
    """Return designs per second in a sweep, in two processes."""
    rows = []
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(partial(_chain, uncertainty=True), [2, 2]))
        for label, uncertainty, count in (("off", False, 150), ("on", True, 60)):
            start = time.perf_counter()
            done = sum(pool.map(partial(_chain, uncertainty=uncertainty), [count, count]))
            rows.append((label, f"{done / (time.perf_counter() - start):.1f}"))
    return Table(
        "Sweep in two processes, each design from its neighbour",
        ("uncertainty", "designs per second"),
        tuple(rows),
    )


def scale() -> Table:
    """Return the cost of a solve against unknowns, with the exponent between rows."""
    design = motor.starter("outside-magnet")
    steels, magnets = field_materials(design)
    mesh = generate(partition(design.regions, design.geometry.gap), LEAST)
    rows: list[tuple[str, ...]] = []
    before: tuple[int, float] | None = None
    level: Level | None = None
    for _ in range(6):
        start = time.perf_counter()
        system = System(mesh, steels, magnets)
        solver = Solver(system)
        begin = None if level is None else prolong(level, system, level.potential)[0]
        level = Level(system, solver, solver.solve(begin))
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


def long_sweep() -> Table:
    """Return time and memory over many designs in one process."""
    rows = []
    for _ in range(LONG_SWEEP // LONG_SWEEP_PART):
        start = time.perf_counter()
        _chain(LONG_SWEEP_PART, uncertainty=False)
        seconds = time.perf_counter() - start
        resident = int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()
        done = (len(rows) + 1) * LONG_SWEEP_PART
        rows.append((str(done), f"{seconds:.1f}", f"{resident / 2**20:.0f}"))
    columns = ("designs so far", "seconds for the last part", "resident memory in MB")
    return Table("A long sweep in one process, uncertainty off", columns, tuple(rows))


def _exponent(before: tuple[int, float], size: int, seconds: float) -> float:
    return float(np.log(seconds / before[1]) / np.log(size / before[0]))


def imports() -> Table:
    """Return how long the command takes to start."""
    rows = []
    for label, arguments in (
        ("motor --help", ["-m", "motor", "--help"]),
        ("import motor", ["-c", "import motor"]),
        ("import motor.result", ["-c", "import motor.result"]),
    ):
        command = [sys.executable, *arguments]
        _, t = timed(partial(subprocess.run, command, check=True, capture_output=True), 5)
        rows.append((label, str(t)))
    return Table("Start-up, whole process", ("what", "time"), tuple(rows))


def machine() -> str:
    """Return the machine in general terms, and the date."""
    return (
        f"{time.strftime('%Y-%m-%d')}, {platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}.  Milliseconds unless said otherwise: median (least to "
        "most) of several runs."
    )


def main() -> None:
    """Print the tables; write them to a file if one is named."""
    text = f"# Benchmarks\n\nWritten by `python -m tests.benchmarks`.  {machine()}\n"
    builders = [stages, sweep, long_sweep, scale, imports]
    if importlib.util.find_spec("ngsolve") is not None:
        builders[1:1] = [against_other_library, neighbour, precision]
    for build in builders:
        table = build()
        print(table.markdown(), flush=True)
        text += "\n" + table.markdown()
        if build is precision and len(sys.argv) > 1:
            draw_precision(table, Path(sys.argv[1]).with_suffix(".png"))
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
