"""The command ``motor inductance``."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

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
        ("motor inductance my.toml --model --out results", "a circuit of the coil, and modes"),
    ),
    writes="With --out: inductance.csv, inductance.json, and a figure as PNG and SVG; with --model "
    "coil_model.json, coil_model.csv and coil.cir, a SPICE sub-circuit of the coil at rest.",
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
@click.option(
    "--model",
    is_flag=True,
    help="Also the coil's field in modes, for all places and frequencies; needs --out.",
)
def inductance(
    console: Console,
    design: Path,
    out: Path | None,
    wanted: tuple[str, ...],
    permeability: str,
    model: bool,
) -> None:
    """Take the coil of a DESIGN, held in place, through frequencies: L(x), eddy-current losses.

    Small currents: steel answers on minor loops about the state where the magnet has put it.
    Eddy currents flow in steel, magnets and rings, so this is what shows the use of a copper
    ring.  With --frequency the last lines are for [moving_parts] of the design file: L(x) at each
    frequency, of which the driver's model takes one.  With --model come modes that give inductance,
    losses and force at any place and frequency, a circuit of the coil at rest, and the classical
    short forms with what they miss.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    if model and out is None:
        raise click.UsageError("--model writes files: say where with --out")
    hertz = [parse_quantity(text, "frequency", "--frequency") for text in wanted]
    record = read_design(design)

    from motor.report.files.coil_model import save_coil_model
    from motor.report.files.folder import save_table
    from motor.report.tables.rows import fits_table, impedance_table
    from motor.results.coil_model import coil_model
    from motor.results.impedance import FREQUENCIES, blocked_impedance
    from motor.results.motor_result import solve

    result = solve(record)
    found = blocked_impedance(result, frequencies=hertz or FREQUENCIES, permeability=permeability)
    modes = coil_model(result, permeability) if model else None
    lines = [_line(found, float(f)) for f in found.frequency] if hertz else []
    console.finish(
        lambda: [
            impedance_table(found),
            *([] if modes is None else [fits_table(modes.fits())]),
            *lines,
            "",
        ],
        record=found.summary,
        caution=MOTOR,
        written=[
            *([] if out is None else save_table(found, "inductance", out)),
            *([] if out is None or modes is None else save_coil_model(modes, out)),
        ],
    )


def _line(found: BlockedImpedance, frequency: float) -> str:
    """Return L(x) at a frequency as a line of a design file, ends rounded away from rest."""
    from motor.design.characteristic import Table
    from motor.design.moving_parts import characteristic_text

    curve = found.characteristic(frequency)
    micrometres = (math.copysign(math.ceil(abs(x) * 1e6 - 1e-3), x) for x in curve.x)
    rounded = Table(
        tuple(x * 1e-6 for x in micrometres), tuple(float(f"{v:.4g}") for v in curve.values)
    )
    text = characteristic_text("inductance", rounded)
    return f"inductance = {text}  # at {frequency:g} Hz"
