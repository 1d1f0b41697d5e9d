"""The command ``motor heat``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.talk import Talk

__all__ = ["heat"]


@command(
    "How hot coil and magnet get, and the power they bear",
    examples=(
        ('motor heat my.toml --power "30 W"', "temperatures, limits, and Bl with warm magnets"),
        (
            'motor heat my.toml --power "30 W" --ambient "85 degC"',
            "the same in a car door in the sun",
        ),
    ),
    writes="Nothing.",
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--power", default="30 W", show_default=True, help="Lasting programme, coil cold.")
@click.option("--ambient", help="Of the air around the driver; default: the design's.")
@click.option("--displacement", help="R.m.s. travel; default: a quarter of the usable stroke.")
def heat(
    talk: Talk, design: Path, power: str, ambient: str | None, displacement: str | None
) -> None:
    """Let a DESIGN play a lasting programme until its temperatures settle.

    Heat flows from the winding through the gap, steel and magnets, basket and surfaces to the air.
    The power is what the programme's voltage would give in the coil at 20 degC.  The section [heat]
    of the design file tells ambient, mounting, wire class, bonds, ferrofluid.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    watts = parse_quantity(power, "power", "--power")
    kelvin = None if ambient is None else parse_quantity(ambient, "temperature", "--ambient")
    travel = (
        None if displacement is None else parse_quantity(displacement, "length", "--displacement")
    )
    record = read_design(design)
    from motor.report.tables.heat import CAUTION, heat_record, heat_table
    from motor.results.heat import heat as warmed
    from motor.results.motor_result import solve

    result = solve(record)
    warmth = warmed(result, watts, ambient=kelvin, displacement=travel)
    talk.finish(
        lambda: heat_table(warmth),
        record=lambda: heat_record(warmth),
        warnings=[*result.notes, *warmth.cautions],
        caution=CAUTION,
    )
