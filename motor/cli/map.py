"""The command ``motor map``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["map_command"]


@command(
    "Bl over position and current, and the reluctance force",
    name="map",
    examples=(
        ("motor map my.toml --out results", "nine places over the travel, both signs of current"),
        ('motor map my.toml --current "8 A" --positions 5', "quicker, up to 8 A"),
    ),
    writes="With --out: coil_map.csv, coil_map.json, and a figure as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table and figure.")
@click.option(
    "--current", help='Largest current, e.g. "8 A"; default: 100 A per mm² of the winding\'s wire.'
)
@click.option(
    "--positions",
    "places",
    type=click.IntRange(min=2),
    default=9,
    show_default=True,
    help="How many places over the coil's travel, one of them at rest.",
)
@click.option(
    "--steps",
    type=click.IntRange(min=1),
    default=3,
    show_default=True,
    help="How many currents up to the largest, each taken with both signs.",
)
def map_command(
    console: Console, design: Path, out: Path | None, current: str | None, places: int, steps: int
) -> None:
    """Take the coil of a DESIGN, held in place, through steady currents of both signs.

    Its own field and the steel's saturation are included.  Bl(x, i) is the force per ampere.  The
    part of the force that keeps its direction when the current changes its own is the reluctance
    force: it makes Bl(x, i) differ between the signs and, with music, pulls the coil one way.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    amperes = None if current is None else parse_quantity(current, "current", "--current")
    record = read_design(design)

    import numpy as np

    from motor.report.files.folder import save_table
    from motor.report.tables.rows import map_table
    from motor.results.coil_map import coil_map, over_the_travel, usual_current
    from motor.results.motor_result import solve

    result = solve(record)
    found = coil_map(
        result,
        over_the_travel(result, places),
        (amperes or usual_current(record.coil)) * np.arange(1, steps + 1) / steps,
    )
    console.finish(
        lambda: [map_table(found), ""],
        record=found.summary,
        caution=MOTOR,
        warnings=found.notes,
        written=[] if out is None else save_table(found, "coil_map", out),
    )
