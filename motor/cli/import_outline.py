"""The command ``motor import-outline``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.console import Console

__all__ = ["import_outline"]


@command(
    "A design from a workshop's drawing",
    examples=(
        ("motor import-outline section.dxf my.toml", "one layer a part; roles by layers' names"),
        ("motor import-outline section.dxf my.toml --magnet disc=down", "a layer told to be one"),
        ('motor import-outline section.dxf my.toml --gap "15.5,17.1,-3,3"', "the gap told, in mm"),
    ),
    writes="FILE, a design of kind outlines in which every part can be moved, scaled and offset.",
)
@click.argument("drawing", type=click.Path(path_type=Path))
@click.argument("path", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--magnet", "magnets", multiple=True, help="LAYER or LAYER=up, down, outward, inward, degrees."
)
@click.option("--conductor", "conductors", multiple=True, help="A layer that conducts.")
@click.option("--steel", "steels", multiple=True, help="A layer that is steel.")
@click.option("--skip", multiple=True, help="A layer to leave out.")
@click.option("--gap", help="Inner radius, outer radius, bottom and top in mm; default: found.")
@click.option("--axis", type=float, help="x of the axis in the drawing's unit; default: found.")
@click.option("--unit", type=click.Choice(["mm", "cm", "m", "in"]), help="Default: the header's.")
@click.option("--grade", default="Y30", show_default=True, help="Grade of all magnets.")
def import_outline(
    console: Console,
    drawing: Path,
    path: Path,
    magnets: tuple[str, ...],
    conductors: tuple[str, ...],
    steels: tuple[str, ...],
    skip: tuple[str, ...],
    gap: str | None,
    axis: float | None,
    unit: str | None,
    grade: str,
) -> None:
    """Read the outlines of a DXF DRAWING, one layer a part, and write a design FILE.

    Half or full section, unit from the header. Layers called magnet, ferrite or neodymium are
    magnets; copper, aluminium, ring, sleeve or cap conduct; others are steel. The coil of a
    drawing that motor export wrote is left out.
    """
    from motor.base.errors import InvalidInput
    from motor.base.whole_files import new_text
    from motor.design.drawing_design import design_of_outlines
    from motor.design.dxf_outlines import read_dxf
    from motor.design.reading import design_to_toml

    bounds = None
    if gap is not None:
        try:
            inner, outer, bottom, top = (float(word) for word in gap.split(","))
        except ValueError:
            raise InvalidInput("--gap", "be four numbers in mm", repr(gap)) from None
        bounds = (inner, outer, bottom, top)
    told = {}
    for text in magnets:
        layer, _, direction = text.partition("=")
        told[layer] = direction or "up"
    outlines = read_dxf(drawing, unit=unit or "", axis=axis, skip=skip)
    design = design_of_outlines(
        outlines,
        magnets=told,
        conductors=conductors,
        steels=steels,
        gap=bounds,
        magnet=grade,
        name=drawing.stem,
    )
    new_text(path, design_to_toml(design, comments=True))
    parts = ", ".join(f"{r.name} ({r.role})" for r in design.regions)
    hint = f"Parts: {parts}. Edit materials and coil, then run  motor solve {path} --out RESULTS"
    console.finish(lambda: [hint], written=[path])
