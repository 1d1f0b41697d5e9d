"""The command ``motor solve``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["solve"]


@command(
    "One design: field, Bl(x), usable stroke, masses",
    examples=(
        ("motor solve my.toml --out results", "the table on screen, all files in results/"),
        ("motor solve my.toml --accuracy 0.01%", "refine until Bl at rest is known to that"),
        (
            'motor solve my.toml --current "5 A" --position "2 mm"',
            "also the force with the coil's own field, 2 mm outwards",
        ),
        ("motor solve my.toml --json", "the figures for a script, as in summary.json"),
    ),
    writes="With --out: summary.json, design.toml, bl_curve.csv, gap_profile.csv, section.svg, "
    "field.vtu, and the figures field, gap_profile and bl_curve as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the results.")
@click.option("--figures/--no-figures", default=True, help="Draw PNG and SVG figures.")
@click.option(
    "--accuracy",
    help='Refine until Bl at rest, and the force with --current, are known to this, e.g. "0.01%".',
)
@click.option("--current", help='Also solve with the coil\'s own current, e.g. "5 A".')
@click.option("--position", help='Coil position for --current, e.g. "2 mm"; default at rest.')
def solve(
    console: Console,
    design: Path,
    out: Path | None,
    figures: bool,
    accuracy: str | None,
    current: str | None,
    position: str | None,
) -> None:
    """Solve a DESIGN file: field, Bl(x), usable stroke, masses, working points."""
    from motor.base.errors import InvalidInput
    from motor.base.units import parse_quantity, parse_share
    from motor.design.reading import read_design

    amperes = None if current is None else parse_quantity(current, "current", "--current")
    if position is not None and current is None:
        raise InvalidInput("--position", "come with --current", position)
    where = parse_quantity(position or "0 mm", "length", "--position")
    share = None if accuracy is None else parse_share(accuracy, "--accuracy")
    record = read_design(design)
    from motor.report.files.folder import save
    from motor.report.tables.design import loaded_text, rich_table
    from motor.results.motor_result import solve as solve_design

    result = solve_design(record, accuracy=share)
    loaded = None if amperes is None else result.loaded(where, amperes, accuracy=share)
    written = [] if out is None else save(result, out, pictures=figures)
    console.finish(
        lambda: [rich_table(result), *([] if loaded is None else [loaded_text(result, loaded)])],
        record=lambda: result.summary() | ({} if loaded is None else {"loaded": loaded.summary()}),
        caution=MOTOR,
        warnings=[] if loaded is None else loaded.notes,
        written=written,
    )
