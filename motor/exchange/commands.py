"""The command ``motor export``.  Heavy libraries are imported inside."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["export"]


@click.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for the files.")
@click.option("--only", help="Some of svg,dxf,step,msh,vtu,csv; default all.")
def export(design: Path, out: Path, only: str | None) -> None:
    """Write a DESIGN file for other tools: drawing, solids, mesh, field, tables.

    svg and dxf are the section in mm, step the parts as solids, msh the mesh with named regions,
    vtu the field on it, csv Bl(x) and the gap.  Only vtu and csv solve the field.
    """
    from motor.design_file import read_design
    from motor.errors import InvalidInput
    from motor.exchange.export import FORMATS
    from motor.exchange.export import export as export_design

    wanted = [
        word.strip().lower() for word in (",".join(FORMATS) if only is None else only).split(",")
    ]
    for word in wanted:
        if word not in FORMATS:
            raise InvalidInput("--only", f"name some of {','.join(FORMATS)}", repr(only))
    written = export_design(read_design(design), out, wanted)
    click.echo("written: " + "\n         ".join(map(str, written)))
