"""The commands that draw up a design: ``motor new``, ``motor draw`` and ``motor wire``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_geometry, complete_toml
from motor.cli.console import Console

__all__ = ["draw", "new", "wire"]


@command(
    "A commented starter design to edit",
    examples=(
        ("motor new outside-magnet my.toml", "a ring magnet around a coil inside it"),
        ("motor new inside-magnet my.toml --force", "a disc inside the coil; replaces my.toml"),
        ("motor new study my_study.toml", "a study of my.toml beside it, every key explained"),
    ),
    writes="PATH, a design or study file with a comment on every value.",
)
@click.argument("kind", shell_complete=complete_geometry)
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--of", default="my.toml", show_default=True, help="Design of a study, from PATH.")
def new(console: Console, kind: str, path: Path, of: str) -> None:
    """Write a starter of a KIND to PATH, to be edited: a design, or a study of one.

    KIND is outside-magnet, shielded-magnet, inside-magnet, radial-ring, two-gap, outlines (drawn
    freely), a geometry of your own, or study.
    """
    from motor.base.whole_files import new_text
    from motor.design.reading import design_to_toml
    from motor.design.starters import starter_driver
    from motor.study.study_starter import study_starter

    if kind == "study":
        new_text(path, study_starter(of))
        hint = f"Edit it, then run  motor study {path} --out RESULTS"
    else:
        new_text(path, design_to_toml(starter_driver(kind), comments=True))
        hint = f"Edit it, then run  motor solve {path} --out RESULTS"
    console.finish(lambda: [hint], written=[path])


@command(
    "A dimensioned sheet for the workshop",
    examples=(
        ("motor draw my.toml", "my.svg beside the design"),
        ("motor draw my.toml --out section.svg --theme print", "hatched, for paper"),
        ("motor draw my.toml --moving --out moving.svg", "the coil moving through its field"),
    ),
    writes="One SVG file, a sheet of paper with a scale of its own: half section, gap and coil "
    "enlarged, each part with every dimension, fits, parts list; with --moving a picture in which "
    "the coil moves through the solved field beside a marker on Bl(x).",
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="SVG file; default beside DESIGN.")
@click.option("--moving", is_flag=True, help="Solve the field and let the coil move through it.")
def draw(console: Console, design: Path, out: Path | None, moving: bool) -> None:
    """Draw a DESIGN file to scale, with the dimensions that a workshop needs."""
    from motor.base.errors import InvalidInput
    from motor.base.whole_files import write_text
    from motor.design.reading import read_design
    from motor.report.files.sheet import sheet_svg

    target = out or design.with_suffix(".svg")
    if target.resolve() == design.resolve():
        raise InvalidInput("--out", "be another file than the design", str(target))
    record = read_design(design)
    if target.suffix.lower() != ".svg":
        raise InvalidInput(
            "--out", "end in .svg (motor solve --out writes PNG figures too)", str(target)
        )
    if moving:
        from motor.report.figures.moving_coil import moving_svg
        from motor.results.motor_result import solve

        write_text(target, moving_svg(solve(record)))
    else:
        write_text(target, sheet_svg(record))
    console.finish(list, caution=MOTOR, written=[target])


@command(
    "The wire that comes nearest to a resistance",
    examples=(
        ('motor wire my.toml --resistance "3.6 ohm"', "metric sizes, thin enamel"),
        ('motor wire my.toml --resistance "3.6 ohm" --series awg', "gauge sizes"),
        ('motor wire my.toml --resistance "3.6 ohm" --grade 2', "thick enamel"),
    ),
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--resistance", required=True, help='Wanted resistance at 20 degC, e.g. "3.6 ohm".')
@click.option(
    "--series",
    type=click.Choice(["metric", "awg"]),
    default="metric",
    show_default=True,
    help="Which sizes of wire.",
)
@click.option(
    "--grade", type=click.IntRange(1, 2), default=1, show_default=True, help="Thickness of enamel."
)
@click.option(
    "--overall",
    type=click.Choice(["greatest", "least"]),
    default="greatest",
    show_default=True,
    help="Overall diameter within the standard's limits.",
)
def wire(
    console: Console, design: Path, resistance: str, series: str, grade: int, overall: str
) -> None:
    """Find the round wire that brings a DESIGN's coil nearest to a resistance."""
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design
    from motor.design.wire_choice import nearest_wires
    from motor.report.tables.rows import wire_table

    ohms = parse_quantity(resistance, "resistance", "--resistance")
    record = read_design(design)
    found = nearest_wires(record, ohms, series=series, grade=grade, overall=overall)
    console.finish(
        lambda: [wire_table(found, ohms)],
        record=lambda: {"name": record.name, "wires": [choice.summary() for choice in found]},
        caution=MOTOR,
    )
