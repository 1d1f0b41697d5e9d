"""Time against error, ours and another library's, as a table and as a picture."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from motor.field.meshing import Sizing
from motor.field.partition import partition
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult, solve
from tests.benchmarks.motors import MOTORS, SIZINGS, smooth
from tests.benchmarks.tables import Table
from tests.benchmarks.timing import timed
from tests.ngsolve_motor import force_factor

__all__ = ["draw_precision", "precision"]

REFERENCE = Sizing(0.06, 0.03, 0.12, 0.03, 5)


def precision() -> Table:
    """Return least time against error of Bl, each on its own meshes; mesh time included."""
    from tests.benchmarks.other_library import Problem, own_mesh

    rows = []
    for name, make in MOTORS.items():
        design = smooth(make())
        exact = solve(design, sizing=REFERENCE).bl_curve.at_rest.value
        for label, sizing in SIZINGS.items():
            result, t = timed(partial(solve, design, sizing=sizing), 5)
            rows.append(_precision_row(f"{name}, ours, {label}", exact, _bl(result), t.least))
            one = partial(solve, design, sizing=sizing, uncertainty=False)
            result, t = timed(one, 5)
            label = f"{name}, ours, {label}, one mesh only"
            rows.append(_precision_row(label, exact, _bl(result), t.least))
        for accuracy in (3e-4, 1e-4):
            result, t = timed(partial(solve, design, accuracy=accuracy), 3)
            label = f"{name}, ours, refined to {accuracy:g}"
            rows.append(_precision_row(label, exact, _bl(result), t.least))
        coil = design.coil
        steels, magnets = field_materials(design)
        part = partition(design.regions, design.geometry.gap)
        for order, corner in ((2, 0.4e-3), (2, 0.1e-3), (3, 0.4e-3), (3, 0.1e-3), (3, 0.03e-3)):

            def other(order: int = order, corner: float = corner) -> float:
                mesh = own_mesh(part, corner)  # noqa: B023
                problem = Problem(mesh, steels, magnets, part.centre, order)  # noqa: B023
                potential = problem.solve()[0]
                return force_factor(mesh, potential, coil, coil.rest_position)  # noqa: B023

            value, t = timed(other, 3)
            label = f"{name}, NGSolve, order {order}, {corner * 1e3:g} mm at corners"
            rows.append(_precision_row(label, exact, value, t.least))
    return Table("Time against error of Bl at rest", ("motor, how", "ms", "error"), tuple(rows))


def _precision_row(label: str, exact: float, value: float, seconds: float) -> tuple[str, ...]:
    return (label, f"{seconds * 1e3:.0f}", f"{abs(value / exact - 1):.1e}")


def _bl(result: MotorResult) -> float:
    return result.bl_curve.at_rest.value


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
        ax.set_xticks(
            [10, 20, 50, 100, 200, 500, 1000], ["10", "20", "50", "100", "200", "500", "1000"]
        )
        ax.minorticks_off()
        ax.set_xlim(10, 1300)
        ax.grid(alpha=0.3)
    figure.axes[0].set_ylabel("relative error of Bl at rest")
    figure.axes[0].legend(frameon=False)
    figure.savefig(path, dpi=110)
