"""The command ``motor report``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console
from motor.cli.progress import TIME_LIMIT

if TYPE_CHECKING:
    from motor.design.design import Design
    from motor.report.page.fit import FitSection

__all__ = ["report"]

ASSEMBLY_STEPS = 15
"""Distances of the force that the page shows while parts are brought together."""


@command(
    "One page to send on, with figures that answer",
    examples=(
        (
            "motor report my.toml --out my.html",
            "all results; windings and dimensions to try",
        ),
        (
            "motor report my.toml --out my.html --accuracy 0.01%",
            "refined until Bl is known so well",
        ),
        (
            "motor report my.toml --measurements sample.toml --out sample.html",
            "the design as it was built, inferred from what was measured",
        ),
        (
            "motor report my_study.toml --out s.html --results results",
            "a study that motor study has solved: maps, Pareto front, designs side by side",
        ),
    ),
    writes="One HTML file that needs no other and no network.",
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="HTML file to write.")
@click.option("--accuracy", help='Refine until Bl at rest is known to this, e.g. "0.01%".')
@click.option(
    "--assembly",
    multiple=True,
    help="Part that is put on last, more than one as one; default: beyond the strongest joint.",
)
@click.option(
    "--inductance",
    is_flag=True,
    help="Also L(x) at five frequencies, with its losses, and of any winding tried (seconds).",
)
@click.option(
    "--measurements",
    type=click.Path(path_type=Path),
    shell_complete=complete_toml,
    help="Of a sample, as for motor fit: the page shows the design as inferred, and how.",
)
@click.option(
    "--results",
    type=click.Path(path_type=Path),
    help="Of a study: the folder that motor study wrote; nothing there is solved again.",
)
@click.option(
    "--time-limit",
    type=click.FloatRange(min=0, min_open=True),
    help=f"Of a study: seconds for a design, {TIME_LIMIT:g} if not given.",
)
def report(
    console: Console,
    design: Path,
    out: Path,
    accuracy: str | None,
    assembly: tuple[str, ...],
    inductance: bool,
    measurements: Path | None,
    results: Path | None,
    time_limit: float | None,
) -> None:
    """Solve a DESIGN or study file and write its page: one HTML file with live figures.

    Sliders on the page move every dimension by its derivatives, which cost about a second.
    """
    from motor.base.errors import InvalidInput, OutputError
    from motor.base.units import parse_share
    from motor.design.reading import read_design

    share = None if accuracy is None else parse_share(accuracy, "--accuracy")
    if out.suffix.lower() not in (".html", ".htm"):
        raise InvalidInput("--out", "end in .html", str(out))
    if not out.parent.is_dir():
        raise OutputError(f"{out} could not be written: {out.parent} is no folder")
    if out.is_dir():
        raise OutputError(f"{out} could not be written: it is a folder")
    from motor.cli.report_study import is_study, report_study

    if is_study(design):
        of_motors = {
            "--accuracy": accuracy,
            "--assembly": assembly[0] if assembly else None,
            "--inductance": "it" if inductance else None,
            "--measurements": None if measurements is None else str(measurements),
        }
        for option, given in of_motors.items():
            if given is not None:
                raise InvalidInput(option, "be left out for a study", given)
        shown = not (console.quiet or console.verbose)
        limit = TIME_LIMIT if time_limit is None else time_limit
        written = report_study(design, out, results, shown=shown, time_limit=limit)
        console.finish(list, written=[written])
        return
    if results is not None:
        raise InvalidInput("--results", "come with a study file", str(results))
    if time_limit is not None:
        raise InvalidInput("--time-limit", "come with a study file", f"{time_limit:g}")
    record = read_design(design)
    from motor.base.steps import step
    from motor.report.page import write_page
    from motor.results.approach import split
    from motor.results.assembly import assemble, usual_parts
    from motor.results.impedance import blocked_impedance
    from motor.results.motor_result import solve
    from motor.results.winding_modes import winding_modes
    from motor.study.expanding import second_order

    if assembly:
        split(record.regions, assembly, ())
    fit = None
    if measurements is not None:
        record, fit = _as_built(record, measurements)
    result = solve(record, accuracy=share)
    parts = assembly or usual_parts(result)
    together = assemble(record, parts, steps=ASSEMBLY_STEPS) if parts else None
    linked = blocked_impedance(result) if inductance else None
    others = inductance and not result.design.coil.parts_share
    windings = winding_modes(result) if others else None
    tried = second_order(result)
    with step("page"):
        written = write_page(
            result,
            out,
            assembly=together,
            fit=fit,
            impedance=linked,
            tried=tried,
            windings=windings,
        )
    console.finish(list, written=[written])


def _as_built(drawn: Design, measurements: Path) -> tuple[Design, FitSection]:
    """Return a design as inferred from measurements of a sample, and the page's section on that."""
    from motor.report.page.fit import fit_section
    from motor.report.tables.fit_record import consequences
    from motor.study.corrected import corrected_design
    from motor.study.fitting import fit as infer
    from motor.study.measurements import read_measurements

    found = consequences(infer(drawn, read_measurements(measurements, drawn)))
    return corrected_design(found.fit), fit_section(found, found.fit.plot())
