"""The command ``motor materials``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_material
from motor.cli.console import Console

__all__ = ["materials"]


@command(
    "Magnets, steels, conductors, formers, wire; with sources",
    examples=(
        ("motor materials", "all magnets, steels, conductors, formers and wire"),
        ("motor materials neodymium", "a family: also ferrite, magnets, steels, wire and others"),
        ("motor materials N42", "one grade at -40, 20 and 105 degC, and who says so"),
        ("motor materials low-carbon-a --plot steel.png", "its B(H) curve as a figure"),
    ),
    writes="With --plot: one PNG or SVG file.",
    results=True,
    figures=True,
)
@click.argument("name", required=False, shell_complete=complete_material)
@click.option("--plot", type=click.Path(path_type=Path), help="PNG or SVG file for its curve.")
def materials(console: Console, name: str | None, plot: Path | None) -> None:
    """List magnets, steels, conductors, formers and wire, all or a family by NAME.

    The NAME of a material shows it with its source.
    """
    from motor.base.errors import InvalidInput
    from motor.report.tables.catalogue import catalogue, material_figure, material_text
    from motor.report.tables.catalogue_record import (
        catalogue_record,
        families,
        material_record,
    )

    if name is None or name in families():
        if plot is not None:
            raise InvalidInput("--plot", "come with the name of a material", str(plot))
        family = name or ""
        console.finish(lambda: catalogue(family), record=lambda: catalogue_record(family))
        return
    text = material_text(name)
    if plot is not None:
        from motor.base.whole_files import own_file
        from motor.report.files.folder import FIGURE_ENDINGS, write_figure

        if plot.suffix.lower() not in FIGURE_ENDINGS:
            raise InvalidInput("--plot", f"end in {' or '.join(FIGURE_ENDINGS)}", str(plot))
        figure = material_figure(name)
        with own_file(plot) as hidden:
            write_figure(figure, hidden)
    console.finish(
        lambda: [text],
        record=lambda: material_record(name),
        written=[] if plot is None else [plot],
    )
