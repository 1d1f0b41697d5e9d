"""The command ``motor forces``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["forces"]


@command(
    "Forces on parts and joints, by magnet and in a crash",
    examples=(
        ("motor forces my.toml", "on each part, and what draws the joints together"),
        ('motor forces my.toml --acceleration "50 gravity"', "with the inertia of a door slam"),
        (
            'motor forces my.toml --acceleration "50 gravity" --strength "8 MPa"',
            "against what your own glue bears at its worst temperature",
        ),
    ),
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--acceleration", help='Along the axis, the worse way, e.g. "50 gravity".')
@click.option("--strength", help="Of the joints, tested by you; default: an invented 5 MPa.")
@click.option("--holder", help="The part that the basket holds; default: the steel around the gap.")
def forces(
    console: Console,
    design: Path,
    acceleration: str | None,
    strength: str | None,
    holder: str | None,
) -> None:
    """Show the axial force on each part of a DESIGN, and the pull and stress at each joint."""
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    metres = (
        None
        if acceleration is None
        else parse_quantity(acceleration, "acceleration", "--acceleration")
    )
    pascal = None if strength is None else parse_quantity(strength, "stress", "--strength")
    record = read_design(design)
    from motor.report.tables.forces import CAUTION, forces_tables
    from motor.results.loads import motor_loads
    from motor.results.motor_result import solve

    result = solve(record)
    loads = motor_loads(result, acceleration=metres, strength=pascal, holder=holder)
    console.finish(
        lambda: forces_tables(loads),
        record=loads.summary,
        warnings=loads.notes,
        caution=CAUTION,
    )
