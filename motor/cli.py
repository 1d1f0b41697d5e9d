"""The command line.  Heavy libraries are imported inside the commands."""

from __future__ import annotations

import functools
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from motor.driver.commands import driver
from motor.report.commands import report
from motor.study.commands import study

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["main"]

# Matrices here are small: threads of the linear-algebra library cost more than they give, and
# stall whenever another process has the other cores.  Set before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

BAD_INPUT, FAILED = 2, 1


def _clear_errors(command: Callable[..., Any]) -> Callable[..., Any]:
    """Turn the program's own errors into one line on standard error and an exit code."""

    @functools.wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        from motor.errors import InvalidInput, MotorError

        try:
            return command(*args, **kwargs)
        except InvalidInput as error:
            click.echo(f"error: {error}", err=True)
            sys.exit(BAD_INPUT)
        except MotorError as error:
            click.echo(f"error: {error}", err=True)
            sys.exit(FAILED)

    return wrapped


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="magnet-motor-study", prog_name="motor")
def main() -> None:
    r"""Magnet systems of loudspeakers: from drawing dimensions to Bl(x) and usable stroke.

    \b
    motor new outside-magnet my.toml    write a starter design to edit
    motor draw my.toml                  look at the half section
    motor solve my.toml --out results   solve it
    motor report my.toml --out my.html  one page to send on, with live figures
    motor driver my.toml --out results  the driver in its box: distortion, clean level, heat
    motor study my_study.toml --out f   many designs: sweep, target, tolerances
    motor temperature my.toml           -40 to 120 degC: Bl, stroke, margin to demagnetisation
    motor materials N42                 what a grade is, and who says so

    Exit codes: 0 done, 1 mesh, solution or output failed, 2 input cannot be used.
    """


def _console() -> Console:
    """Return where tables are printed: as wide as the terminal, or 118 columns in a file."""
    from rich.console import Console

    return Console(width=None if sys.stdout.isatty() else 118, highlight=False)


driver.callback = _clear_errors(driver.callback)  # type: ignore[arg-type]
main.add_command(driver)
report.callback = _clear_errors(report.callback)  # type: ignore[arg-type]
main.add_command(report)
study.callback = _clear_errors(study.callback)  # type: ignore[arg-type]
main.add_command(study)


@main.command()
@click.argument("kind")
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Replace an existing file.")
@_clear_errors
def new(kind: str, path: Path, force: bool) -> None:
    """Write a commented starter design of a geometry KIND to PATH.

    KIND is outside-magnet, inside-magnet or a geometry of your own.
    """
    from motor.design_file import design_to_toml
    from motor.errors import OutputError
    from motor.report.files import write_text
    from motor.starters import starter

    text = design_to_toml(starter(kind), comments=True)
    if path.exists() and not force:
        raise OutputError(f"{path} exists already; use --force to replace it")
    write_text(path, text)
    click.echo(f"{path}: edit it, then run  motor solve {path} --out RESULTS")


@main.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="SVG file; default beside DESIGN.")
@_clear_errors
def draw(design: Path, out: Path | None) -> None:
    """Draw the half section of a DESIGN file as SVG."""
    from motor.design_file import read_design
    from motor.errors import InvalidInput
    from motor.report.files import write_text

    target = out or design.with_suffix(".svg")
    if target.resolve() == design.resolve():
        raise InvalidInput("--out", "be another file than the design", str(target))
    write_text(target, read_design(design)._repr_svg_())
    click.echo(str(target))


@main.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the results.")
@click.option("--figures/--no-figures", default=True, help="Draw PNG and SVG figures.")
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON instead.")
@click.option(
    "--accuracy", help='Refine until Bl at rest is known to this, e.g. "0.01%"; default: one mesh.'
)
@click.option("--current", help='Also solve with the coil\'s own current, e.g. "5 A".')
@click.option("--position", help='Coil position for --current, e.g. "2 mm"; default at rest.')
@_clear_errors
def solve(
    design: Path,
    out: Path | None,
    figures: bool,
    as_json: bool,
    accuracy: str | None,
    current: str | None,
    position: str | None,
) -> None:
    """Solve a DESIGN file: field, Bl(x), stroke, masses; table on screen, files in --out."""
    from motor.design_file import read_design
    from motor.errors import InvalidInput
    from motor.units import parse_quantity, parse_share

    amperes = None if current is None else parse_quantity(current, "current", "--current")
    if position is not None and current is None:
        raise InvalidInput("--position", "come with --current", position)
    where = parse_quantity(position or "0 mm", "length", "--position")
    share = None if accuracy is None else parse_share(accuracy, "--accuracy")
    record = read_design(design)
    from motor.result import solve as solve_design

    result = solve_design(record, accuracy=share)
    loaded = None if amperes is None else result.loaded(where, amperes)
    if as_json:
        record_out = result.summary() | ({} if loaded is None else {"loaded": loaded.summary()})
        click.echo(json.dumps(record_out, indent=2, allow_nan=False))
    else:
        from motor.report.table import CAUTION, loaded_text, rich_table

        console = _console()
        console.print(rich_table(result))
        if loaded is not None:
            console.print(loaded_text(result, loaded))
        console.print(CAUTION)
    if out is not None:
        from motor.report.files import save

        written = save(result, out, pictures=figures)
        click.echo("written: " + "\n         ".join(map(str, written)), err=as_json)


@main.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table and figure.")
@click.option("--from", "low", default="-40 degC", show_default=True)
@click.option("--to", "high", default="120 degC", show_default=True)
@click.option("--step", default=20.0, show_default=True, help="Kelvin.")
@click.option("--current", default="0 A", show_default=True, help="Opposing peak coil current.")
@_clear_errors
def temperature(
    design: Path, out: Path | None, low: str, high: str, step: float, current: str
) -> None:
    """Take a DESIGN from 20 degC to each temperature and back: Bl, stroke, resistance, margin."""
    import math

    from motor.design_file import read_design
    from motor.errors import InvalidInput
    from motor.units import parse_quantity

    ends = [parse_quantity(t, "temperature", f) for t, f in ((low, "--from"), (high, "--to"))]
    amperes = parse_quantity(current, "current", "--current")
    if not ends[0] <= ends[1]:
        raise InvalidInput("--to", f"be at least --from, {low}", high)
    if not (math.isfinite(step) and step >= 1):
        raise InvalidInput("--step", "be at least 1 kelvin", step)
    record = read_design(design)

    from motor.curves.demagnetisation import temperature_sweep
    from motor.report.table import CAUTION, sweep_table

    count = math.floor((ends[1] - ends[0]) / step + 1e-9)
    kelvins = [ends[0] + k * step for k in range(count + 1)]
    sweep = temperature_sweep(record, kelvins, coil_current=amperes)
    console = _console()
    console.print(sweep_table(sweep))
    for note in sweep.notes:
        console.print(f"warning: {note}")
    console.print(CAUTION)
    if out is not None:
        from motor.report.files import save_sweep

        click.echo("written: " + "\n         ".join(map(str, save_sweep(sweep, out))))


@main.command()
@click.argument("name", required=False)
@click.option("--plot", type=click.Path(path_type=Path), help="PNG or SVG file for its curve.")
@_clear_errors
def materials(name: str | None, plot: Path | None) -> None:
    """List magnets, steels, conductors, formers and wire; or one by NAME, with its source."""
    from motor.errors import InvalidInput, OutputError
    from motor.report.catalogue import catalogue, material_figure, material_text

    if name is None:
        if plot is not None:
            raise InvalidInput("--plot", "come with the name of a material", str(plot))
        console = _console()
        for table in catalogue():
            console.print(table)
        return
    click.echo(material_text(name))
    if plot is not None:
        if plot.suffix.lower() not in (".png", ".svg"):
            raise InvalidInput("--plot", "end in .png or .svg", str(plot))
        figure = material_figure(name)
        try:
            figure.savefig(plot, dpi=130)
        except OSError as cause:
            raise OutputError(f"{plot} could not be written: {cause.strerror}") from cause
        click.echo(f"written: {plot}")


@main.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--resistance", required=True, help='Wanted resistance at 20 degC, e.g. "3.6 ohm".')
@click.option("--series", default="metric", show_default=True, help="metric or awg.")
@click.option("--grade", default=1, show_default=True, help="Enamel grade, 1 or 2.")
@_clear_errors
def wire(design: Path, resistance: str, series: str, grade: int) -> None:
    """Find the round wire that brings a DESIGN's coil nearest to a resistance."""
    from motor.design_file import read_design
    from motor.report.table import wire_table
    from motor.units import parse_quantity
    from motor.wire_choice import nearest_wires

    ohms = parse_quantity(resistance, "resistance", "--resistance")
    record = read_design(design)
    found = nearest_wires(record, ohms, series=series, grade=grade)
    console = _console()
    console.print(wire_table(found, ohms))
