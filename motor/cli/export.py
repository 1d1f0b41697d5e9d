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
        ("motor export my.toml --out files --only mesh,vtu", "mesh as two tables, and field"),
        ("motor export my.toml --out files --only msh", "the mesh in the format of gmsh"),
    ),
    writes="section.svg, section.dxf and solids.step in mm; mesh_nodes.csv, mesh_triangles.csv and "
    "field.vtu in metres; bl_curve.csv and gap_profile.csv; csv-metadata.json; mesh.msh if asked "
    "for. Only vtu and csv solve the field.",
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for the files.")
@click.option("--only", help="Some of svg,dxf,step,mesh,vtu,csv (default all) and msh.")
def export(console: Console, design: Path, out: Path, only: str | None) -> None:
    """Write a DESIGN for other tools: drawing, solids, mesh, field, tables."""
    from motor.base.errors import InvalidInput
    from motor.design.reading import read_design
    from motor.report.files.export import ASKED_FOR, FORMATS
    from motor.report.files.export import export as export_design

    asked = ",".join(FORMATS) if only is None else only
    known = (*FORMATS, *ASKED_FOR)
    wanted = [word.strip().lower() for word in asked.split(",")]
    for word in wanted:
        if word not in known:
            raise InvalidInput("--only", f"name some of {','.join(known)}", repr(only))
    console.finish(list, caution=MOTOR, written=export_design(read_design(design), out, wanted))
