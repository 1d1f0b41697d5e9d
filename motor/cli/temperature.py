"""The command ``motor temperature``."""

from __future__ import annotations

import math
from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["temperature"]


@command(
    "Bl, stroke, margin to the knee from -40 to 120 degC",
    examples=(
        ("motor temperature my.toml --out results", "-40 to 120 degC in steps of 20 K"),
        (
            'motor temperature my.toml --from "-30 degC" --to "85 degC" --step 5',
            "a car's winter and summer",
        ),
        (
            'motor temperature my.toml --current "20 A"',
            "with the peak current of a clipping amplifier against the magnet",
        ),
    ),
    writes="With --out: temperature.csv, temperature.json, and a figure as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table and figure.")
@click.option("--from", "low", default="-40 degC", show_default=True, help="Coldest.")
@click.option("--to", "high", default="120 degC", show_default=True, help="Hottest.")
@click.option("--step", default=20.0, show_default=True, help="Kelvin.")
@click.option("--current", default="0 A", show_default=True, help="Opposing peak coil current.")
def temperature(
    console: Console, design: Path, out: Path | None, low: str, high: str, step: float, current: str
) -> None:
    """Take a DESIGN from 20 degC to each temperature and back: Bl, stroke, resistance, margin."""
    from motor.base.errors import InvalidInput
    from motor.base.ranges import check_number
    from motor.base.units import parse_quantity
    from motor.design.design import COLDEST, HOTTEST
    from motor.design.reading import read_design

    ends = [parse_quantity(t, "temperature", f) for t, f in ((low, "--from"), (high, "--to"))]
    amperes = parse_quantity(current, "current", "--current")
    for field, kelvin in zip(("--from", "--to"), ends, strict=True):
        check_number(field, kelvin, COLDEST, HOTTEST, "temperature")
    if not ends[0] <= ends[1]:
        raise InvalidInput("--to", f"be at least --from, {low}", high)
    if not (math.isfinite(step) and step >= 1):
        raise InvalidInput("--step", "be at least 1 kelvin", step)
    record = read_design(design)

    from motor.report.files.folder import save_table
    from motor.report.tables.rows import sweep_table
    from motor.results.temperature_sweep import temperature_sweep

    count = math.floor((ends[1] - ends[0]) / step + 1e-9)
    kelvins = [ends[0] + k * step for k in range(count + 1)]
    if ends[1] - kelvins[-1] > 1e-6:
        kelvins.append(ends[1])
    sweep = temperature_sweep(record, kelvins, coil_current=amperes)
    console.finish(
        lambda: [sweep_table(sweep)],
        record=sweep.summary,
        caution=MOTOR,
        warnings=sweep.notes,
        written=[] if out is None else save_table(sweep, "temperature", out),
    )
