"""The command ``motor endurance``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["endurance"]


@command(
    "Door slams and rough roads on the joints",
    examples=(
        ('motor endurance my.toml --slam "50 gravity"', "100 000 slams, by an invented S-N line"),
        (
            'motor endurance my.toml --slam "50 gravity" --fatigue "2 MPa" --slope 9',
            "by what your own glue bears for a million cycles",
        ),
        (
            'motor endurance my.toml --road "0.02 gravity**2/Hz" --resonance "250 Hz"',
            "a hundred hours of rough road on a resonance of door and basket",
        ),
    ),
    results=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--slam", help='Peak of a half-sine pulse along the axis, e.g. "50 gravity".')
@click.option("--slam-time", default="6 ms", show_default=True, help="Its duration.")
@click.option("--slams", type=float, default=1e5, show_default=True, help="How many.")
@click.option("--road", help='Spectrum about the resonance, e.g. "0.02 gravity**2/Hz".')
@click.option("--road-time", default="100 h", show_default=True, help="For so long.")
@click.option("--resonance", help="Of the motor on basket and door; default: rigid.")
@click.option("--quality", type=float, default=10.0, show_default=True, help="Of that resonance.")
@click.option("--fatigue", help="Stress borne for 1e6 cycles; default: an invented 1 MPa.")
@click.option("--slope", type=float, default=8.0, show_default=True, help="Of the S-N line.")
@click.option("--holder", help="The part that the basket holds; default: the steel around the gap.")
def endurance(
    console: Console,
    design: Path,
    slam: str | None,
    slam_time: str,
    slams: float,
    road: str | None,
    road_time: str,
    resonance: str | None,
    quality: float,
    fatigue: str | None,
    slope: float,
    holder: str | None,
) -> None:
    """Show what door slams and rough roads ask of the joints of a DESIGN, and how long they last.

    A resonance amplifies the pulse (shock spectrum of a half sine) and picks the road's
    acceleration (Miles' formula); damage adds up after Miner on a stated S-N line.
    """
    from motor.base.errors import InvalidInput
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design

    def read(text: str | None, kind: str, option: str) -> float | None:
        return None if text is None else parse_quantity(text, kind, option)

    hertz = read(resonance, "frequency", "--resonance")
    peak = read(slam, "acceleration", "--slam")
    density = read(road, "acceleration_density", "--road")
    pascal = read(fatigue, "stress", "--fatigue")
    pulse, hours = (
        parse_quantity(text, "time", option)
        for text, option in ((slam_time, "--slam-time"), (road_time, "--road-time"))
    )
    if peak is None and density is None:
        raise InvalidInput("--slam or --road", "be given", "neither")
    if density is not None and hertz is None:
        raise InvalidInput("--resonance", "be given with --road", "none")
    record = read_design(design)
    from motor.report.tables.forces import CAUTION, endurance_table
    from motor.results.endurance import SN_LINE, Road, Slam, SNLine
    from motor.results.endurance import endurance as found_of
    from motor.results.loads import motor_loads
    from motor.results.motor_result import solve

    found = found_of(
        motor_loads(solve(record), holder=holder),
        slam=None if peak is None else Slam(peak, pulse, slams),
        road=None if density is None or hertz is None else Road(density, hours, hertz, quality),
        resonance=hertz,
        line=SNLine(pascal or SN_LINE.stress, slope=slope, given=pascal is not None),
    )
    console.finish(
        lambda: endurance_table(found), record=found.summary, warnings=found.notes, caution=CAUTION
    )
