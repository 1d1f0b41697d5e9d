"""The command ``motor centring``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["centring"]


@command(
    "Radial pull of parts that stand off centre",
    examples=(
        ("motor centring my.toml", "each part that can slide, 0.1 mm off the axis"),
        ('motor centring my.toml --offset "0.05 mm"', "with a better centring jig"),
        ("motor centring my.toml --part pole_plate", "one part alone"),
    ),
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--offset", default="0.1 mm", show_default=True, help="From the axis.")
@click.option(
    "--part",
    "parts",
    multiple=True,
    help="Stands off centre; more than one together. Default: what each joint lets slide.",
)
def centring(console: Console, design: Path, offset: str, parts: tuple[str, ...]) -> None:
    """Show how hard parts of a DESIGN that stand off centre are pulled to one side.

    To first order in the offset, by a field of the first harmonic about the axis on the same
    section, steel as it is saturated.  The pull grows with the offset: the stiffer, the better the
    jig that glue must be cured in.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    metres = parse_quantity(offset, "length", "--offset")
    record = read_design(design)
    from motor.base.cautions import MOTOR
    from motor.report.tables.forces import centring_table
    from motor.results.centring import centring as found_of
    from motor.results.motor_result import solve

    found = found_of(solve(record), parts=parts, offset=metres)
    console.finish(
        lambda: centring_table(found), record=found.summary, warnings=found.notes, caution=MOTOR
    )
