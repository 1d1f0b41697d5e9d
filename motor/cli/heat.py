"""The command ``motor heat``."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["heat"]


@command(
    "How hot coil and magnet get, and the power they bear",
    examples=(
        ('motor heat my.toml --power "15 W"', "temperatures, limits, and Bl with warm magnets"),
        (
            'motor heat my.toml --power "15 W" --ambient "85 degC" --time "8 h" --out results',
            "a day in a car door in the sun, with figures",
        ),
        (
            'motor heat my.toml --power "15 W" --eddy --highest "2 kHz"',
            "with eddy currents of noise up to 2 kHz",
        ),
        (
            'motor heat my.toml --power "100 W" --programme bursts --time "30 min"',
            "ten bursts of a minute",
        ),
    ),
    writes="With --out: heat.json, heat_over_time.csv, heat_over_power.csv, and the figures "
    "heat_field and heat_over_time as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for files and figures.")
@click.option("--power", default="15 W", show_default=True, help="Of the programme, coil cold.")
@click.option("--ambient", help="Of the air around the driver; default: the design's.")
@click.option("--displacement", help="R.m.s. travel; default: a quarter of the usable stroke.")
@click.option("--time", "duration", help='How long to play, e.g. "8 h" (with --out: 8 h).')
@click.option(
    "--programme",
    type=click.Choice(["noise", "bursts"]),
    default="noise",
    show_default=True,
    help="Lasting, or ten minutes with two between.",
)
@click.option("--wav", type=click.Path(path_type=Path), help="WAV file to repeat instead.")
@click.option("--eddy", is_flag=True, help="With eddy currents in steel, magnets and rings.")
@click.option("--lowest", help="Lowest frequency of the programme, for eddy currents.")
@click.option("--highest", help="Highest; a sine where it equals the lowest.")
@click.option("--crest-factor", default=2.0, show_default=True, help="Peak over r.m.s. voltage.")
def heat(
    console: Console,
    design: Path,
    out: Path | None,
    power: str,
    ambient: str | None,
    displacement: str | None,
    duration: str | None,
    programme: str,
    wav: Path | None,
    eddy: bool,
    lowest: str | None,
    highest: str | None,
    crest_factor: float,
) -> None:
    """Let a DESIGN play a lasting programme until its temperatures settle.

    Heat flows from the winding through the gap, steel and magnets, basket and surfaces to the air.
    The power is what the programme's voltage would give in the coil at 20 degC.  The section [heat]
    of the design file gives ambient, mounting, wire class, bonds, ferrofluid, measured values.
    """
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    watts = parse_quantity(power, "power", "--power")
    kelvin = None if ambient is None else parse_quantity(ambient, "temperature", "--ambient")
    travel = (
        None if displacement is None else parse_quantity(displacement, "length", "--displacement")
    )
    seconds = None if duration is None else parse_quantity(duration, "time", "--time")
    record = read_design(design)
    changes: dict[str, Any] = {"eddy_currents": "included"} if eddy else {}
    for name, text in (("lowest", lowest), ("highest", highest)):
        if text is not None:
            changes[f"{name}_frequency"] = parse_quantity(text, "frequency", f"--{name}")
    record = record.replace(heat=dataclasses.replace(record.heat, **changes))
    from motor.driver.programme import read_wav
    from motor.report.files.heat import save_heat
    from motor.report.tables.heat import CAUTION, heat_record, heat_table
    from motor.results.heat import heat as warmed
    from motor.results.heat_cautions import clipping
    from motor.results.heat_time import bursts, noise, recorded
    from motor.results.motor_result import solve
    from motor.results.spectrum import spectrum_of

    played = (noise if programme == "noise" else bursts)(crest_factor)
    spectrum = None
    if wav is not None:
        sound = read_wav(wav)
        played = recorded(*sound)
        rules = record.heat
        spectrum = spectrum_of(*sound, rules.lowest_frequency, rules.highest_frequency)
    result = solve(record)
    warmth = warmed(result, watts, ambient=kelvin, displacement=travel, spectrum=spectrum)
    history = None
    if seconds is not None or out is not None:
        history = warmth.history(played, 8 * 3600.0 if seconds is None else seconds)
    written = []
    if out is not None and history is not None:
        written = save_heat(warmth, history, out)
    console.finish(
        lambda: heat_table(warmth, history),
        record=lambda: heat_record(warmth, history),
        warnings=[*result.notes, *warmth.cautions, *clipping(warmth.model, warmth.power, played)],
        caution=CAUTION,
        written=written,
    )
