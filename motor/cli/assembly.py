"""The command ``motor assembly``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["assembly"]


@command(
    "Force while parts are brought together",
    examples=(
        ("motor assembly my.toml --part top_plate", "the plate from above onto the magnet"),
        (
            'motor assembly my.toml --part magnet --without top_plate --holding "50 N"',
            "the magnet onto the bare yoke, and where a grip of 50 N gives way",
        ),
        (
            "motor assembly my.toml --part magnet --part pole_plate --out results",
            "the inside parts together, with table and figure",
        ),
    ),
    writes="With --out: assembly.csv, assembly.json, and a figure as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option(
    "--part", "parts", multiple=True, required=True, help="Moves; more than one move as one."
)
@click.option("--without", multiple=True, help="A part that is not there yet.")
@click.option("--holding", help='What hands or fixture hold, e.g. "50 N".')
@click.option(
    "--distance", help='Farthest from the seat, e.g. "40 mm"; default: as far as the motor reaches.'
)
@click.option(
    "--steps",
    type=click.IntRange(min=3, max=200),
    default=17,
    show_default=True,
    help="How many distances.",
)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table and figure.")
def assembly(
    console: Console,
    design: Path,
    parts: tuple[str, ...],
    without: tuple[str, ...],
    holding: str | None,
    distance: str | None,
    steps: int,
    out: Path | None,
) -> None:
    """Show the force over distance as parts of a DESIGN approach the others along the axis.

    All magnets magnetised, at 20 degC.  Its energy is what a fixture must take up.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    newton = None if holding is None else parse_quantity(holding, "force", "--holding")
    metres = None if distance is None else parse_quantity(distance, "length", "--distance")
    record = read_design(design)
    from motor.report.files.folder import save_table
    from motor.report.tables.forces import ASSEMBLY_CAUTION, assembly_table
    from motor.results.assembly import assemble

    found = assemble(record, parts, without=without, holding=newton, farthest=metres, steps=steps)
    console.finish(
        lambda: assembly_table(found),
        record=found.summary,
        warnings=found.notes,
        caution=ASSEMBLY_CAUTION,
        written=[] if out is None else save_table(found, "assembly", out),
    )
