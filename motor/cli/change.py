"""The command ``motor change``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["change"]


@command(
    "What to change for more Bl, stroke, less mass or cost",
    examples=(
        (
            'motor change my.toml --goal "bl_at_rest +5%" --goal "motor_mass kept"',
            "5 % more Bl at no more mass",
        ),
        ('motor change my.toml --goal "usable_stroke +1 mm"', "1 mm more stroke"),
        ("motor change my.toml --goal centred", "Bl(x) that leans to neither side"),
        (
            'motor change my.toml --goal "total_cost -10%" --goal "bl_at_rest kept" --out cheaper',
            "a cheaper motor as a design file, with a figure of what each dimension does",
        ),
    ),
    writes="With --out: change.csv, change.json, changed.toml, the joint change as a design, and a "
    "figure of what each dimension does as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option(
    "--goal",
    "goals",
    multiple=True,
    required=True,
    help='A figure of summary.json and what is wanted of it: "+5%", "-0.1 T", "= 4 mm" or "kept"; '
    'or "centred".  May be given several times.',
)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table, design and figure.")
def change(console: Console, design: Path, goals: tuple[str, ...], out: Path | None) -> None:
    """Find what to change in a DESIGN for a goal: single dimensions, and the least joint change.

    Single changes reach the first goal, by the derivatives.  The joint change has the least sum of
    relative changes that reaches all goals and holds the coil's clearance; it is solved, on its
    way too where the motor is not linear, and stands beside its prediction.
    """
    from motor.design.reading import read_design

    record = read_design(design)

    from motor.report.files.folder import save_advice
    from motor.report.tables.advice import advice_tables
    from motor.results.motor_result import solve
    from motor.study.changing import advise

    found = advise(solve(record), goals)
    console.finish(
        lambda: advice_tables(found),
        record=found.summary,
        caution=MOTOR,
        warnings=[found.reason] if found.reason else [],
        written=[] if out is None else save_advice(found, out),
    )
