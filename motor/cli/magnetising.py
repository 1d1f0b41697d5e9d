"""The command ``motor magnetising``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["magnetising"]

SECTION = ("inner", "outer", "low", "high")


@command(
    "Magnetising the assembled motor in a fixture",
    examples=(
        (
            'motor magnetising my.toml --ampere-turns "200 kA" --inner "27 mm" --outer "40 mm" '
            '--low "-20 mm" --high "15 mm"',
            "a coil around the motor, at its pulse's peak",
        ),
        (
            'motor magnetising my.toml --ampere-turns "300 kA" --inner "27 mm" --outer "40 mm" '
            '--low "-20 mm" --high "15 mm" --factor 3',
            "a magnet that was magnetised the other way before",
        ),
    ),
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--ampere-turns", required=True, help='At the peak of the pulse, e.g. "200 kA".')
@click.option("--inner", required=True, help="Inner radius of the coil's section.")
@click.option("--outer", required=True, help="Its outer radius.")
@click.option("--low", required=True, help="Its lower end, above the middle of the gap.")
@click.option("--high", required=True, help="Its upper end.")
@click.option(
    "--factor",
    type=float,
    default=2.0,
    show_default=True,
    help="Field needed, over saturation polarisation / mu0.",
)
def magnetising(
    console: Console,
    design: Path,
    ampere_turns: str,
    inner: str,
    outer: str,
    low: str,
    high: str,
    factor: float,
) -> None:
    """Show how far a fixture's pulse magnetises the magnets of an assembled DESIGN, and its Bl.

    Steel saturates; eddy currents of the pulse are left out.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    current = parse_quantity(ampere_turns, "current", "--ampere-turns")
    radius, rim, floor, top = (
        parse_quantity(text, "length", f"--{name}")
        for name, text in zip(SECTION, (inner, outer, low, high), strict=True)
    )
    record = read_design(design)
    from motor.report.tables.forces import PULSE_CAUTION, magnetising_table
    from motor.results.magnetising import Fixture, magnetise
    from motor.results.motor_result import solve

    found = magnetise(solve(record), Fixture(radius, rim, floor, top, current), factor=factor)
    console.finish(
        lambda: magnetising_table(found),
        record=found.summary,
        warnings=found.notes,
        caution=PULSE_CAUTION,
    )
