"""The command ``motor export``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["export"]


@command(
    "Drawing, solids, mesh, field, tables for other tools",
    examples=(
        ("motor export my.toml --out files", "everything"),
        ("motor export my.toml --out files --only dxf,step", "for the workshop; nothing is solved"),
        ("motor export my.toml --out files --only msh,vtu", "mesh and field"),
    ),
    writes="section.svg, section.dxf and solids.step in mm, mesh.msh and field.vtu in metres, "
    "bl_curve.csv and gap_profile.csv with csv-metadata.json. Only vtu and csv solve the field.",
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for the files.")
@click.option("--only", help="Some of svg,dxf,step,msh,vtu,csv; default all.")
def export(console: Console, design: Path, out: Path, only: str | None) -> None:
    """Write a DESIGN for other tools: drawing, solids, mesh, field, tables."""
    from motor.base.errors import InvalidInput
    from motor.design.reading import read_design
    from motor.report.files.export import FORMATS
    from motor.report.files.export import export as export_design

    asked = ",".join(FORMATS) if only is None else only
    wanted = [word.strip().lower() for word in asked.split(",")]
    for word in wanted:
        if word not in FORMATS:
            raise InvalidInput("--only", f"name some of {','.join(FORMATS)}", repr(only))
    console.finish(list, caution=MOTOR, written=export_design(read_design(design), out, wanted))
