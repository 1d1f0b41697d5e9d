"""The command ``motor check-driver``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["check_driver"]


@command(
    "The driver's model beside its whole field, at a tone",
    name="check-driver",
    examples=(
        ('motor check-driver my.toml --voltage "6 V" --frequency "100 Hz"', "one tone, a minute"),
        (
            'motor check-driver my.toml --voltage "4 V" --frequency "50 Hz" --frequency "200 Hz"',
            "two tones, one after the other",
        ),
    ),
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--voltage", default="6 V", show_default=True, help="Of the source, r.m.s.")
@click.option(
    "--frequency",
    "wanted",
    multiple=True,
    default=("100 Hz",),
    show_default=True,
    help="Of the tone; give it again for more.",
)
@click.option(
    "--steps",
    type=click.IntRange(min=24, max=1000),
    default=80,
    show_default=True,
    help="Steps to a period; what they miss goes with their square.",
)
def check_driver(
    console: Console, design: Path, voltage: str, wanted: tuple[str, ...], steps: int
) -> None:
    """Check the driver model of a DESIGN against its field, solved in time as the coil moves.

    The non-linear field with eddy currents, the coil's circuit at a voltage and the moving mass go
    through some periods together, until the distortion no longer changes; its steel runs on minor
    loops that turn into the magnetising curve as they grow.  Beside it stand the model in modes
    with steel as permeable as at this tone, with and without saturation by the coil's current,
    and both ends: small minor loops, and the magnetising curve.  Takes about a minute a tone.  The
    design file needs [moving_parts] as for motor driver; an inductance given there is not used.
    """
    from motor.base.errors import InvalidInput
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    volts = parse_quantity(voltage, "voltage", "--voltage")
    if not volts > 0:
        raise InvalidInput("--voltage", "be greater than 0 V", voltage)
    hertz = [parse_quantity(text, "frequency", "--frequency") for text in wanted]
    for value, text in zip(hertz, wanted, strict=True):
        if not LOWEST <= value <= HIGHEST:
            limit = f"lie between {LOWEST:g} and {HIGHEST:g} Hz"
            raise InvalidInput("--frequency", limit, text)
    record = read_design(design)
    from motor.driver.field_check import check_driver as check
    from motor.report.tables.driver import CAUTION
    from motor.report.tables.field_check import field_check_record, field_check_text
    from motor.results.motor_result import solve

    result = solve(record)
    found = check(result, [(f, volts) for f in hertz], steps=steps)
    console.finish(
        lambda: [field_check_text(record.name, found)],
        record=lambda: field_check_record(record.name, found),
        warnings=result.notes,
        caution=CAUTION,
    )


LOWEST, HIGHEST = 5.0, 2000.0
"""Hertz: below, a coil's motion is that of its suspension; above, skins ask for other meshes."""
