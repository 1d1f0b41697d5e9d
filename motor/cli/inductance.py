"""The command ``motor inductance``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.talk import Talk

if TYPE_CHECKING:
    from motor.results.impedance import BlockedImpedance

__all__ = ["inductance"]


@command(
    "The coil's inductance over position and frequency",
    examples=(
        ("motor inductance my.toml --out results", "30 Hz to 3 kHz, over the coil's whole travel"),
        (
            'motor inductance my.toml --frequency "50 Hz" --frequency "500 Hz"',
            "two frequencies, and what to write into the design file for the driver",
        ),
    ),
    writes="With --out: inductance.csv, inductance.json, and a figure as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table and figure.")
@click.option(
    "--frequency",
    "wanted",
    multiple=True,
    help="Where to compute; give it again for more.  Without it: 30 Hz to 3 kHz in five steps.",
)
@click.option(
    "--permeability",
    type=click.Choice(("reversible", "slope")),
    default="reversible",
    show_default=True,
    help="How steel answers: on minor loops, or along its B-H curve, which gives more inductance.",
)
def inductance(
    talk: Talk, design: Path, out: Path | None, wanted: tuple[str, ...], permeability: str
) -> None:
    """Take the coil of a DESIGN, held in place, through frequencies: L(x), eddy-current losses.

    Small currents: steel answers on minor loops about the state where the magnet has put it.
    Eddy currents flow in steel, magnets and rings, so this is what shows the use of a copper
    ring.  With --frequency the last lines are for [moving_parts] of the design file: L(x) at each
    frequency, of which the driver's model takes one.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    hertz = [parse_quantity(text, "frequency", "--frequency") for text in wanted]
    record = read_design(design)

    from motor.report.files.folder import save_table
    from motor.report.tables.design import CAUTION
    from motor.report.tables.rows import impedance_table
    from motor.results.impedance import FREQUENCIES, blocked_impedance
    from motor.results.motor_result import solve

    found = blocked_impedance(
        solve(record), frequencies=hertz or FREQUENCIES, permeability=permeability
    )
    lines = [_line(found, float(f)) for f in found.frequency] if hertz else []
    talk.finish(
        lambda: [impedance_table(found), *lines, ""],
        record=found.summary,
        caution=CAUTION,
        written=[] if out is None else save_table(found, "inductance", out),
    )


def _line(found: BlockedImpedance, frequency: float) -> str:
    """Return L(x) at a frequency as a line of a design file, ends rounded away from rest."""
    import math

    from motor.design.characteristic import Table
    from motor.design.moving_parts import characteristic_text

    curve = found.characteristic(frequency)
    micrometres = (math.copysign(math.ceil(abs(x) * 1e6 - 1e-3), x) for x in curve.x)
    rounded = Table(
        tuple(x * 1e-6 for x in micrometres), tuple(float(f"{v:.4g}") for v in curve.values)
    )
    text = characteristic_text("inductance", rounded)
    return f"inductance = {text}  # at {frequency:g} Hz"
