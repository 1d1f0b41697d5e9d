"""The command ``motor compare``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["compare"]


@command(
    "Two or more motors side by side",
    examples=(
        ("motor compare a.toml b.toml", "what differs in the drawings, and what follows"),
        ("motor compare a.toml b.toml c.toml --out results", "also as table, figure and page"),
        ("motor compare results_a results_b --json", "the designs in two folders of results"),
    ),
    writes="With --out: comparison.csv, comparison.json, comparison.html, and the sections on one "
    "scale with Bl(x) as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument(
    "designs",
    nargs=-1,
    required=True,
    type=click.Path(path_type=Path),
    shell_complete=complete_toml,
)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for table, figure and page.")
def compare(console: Console, designs: tuple[Path, ...], out: Path | None) -> None:
    """Solve two or more DESIGNS, files or folders of results, and show them side by side."""
    from motor.base.errors import InvalidInput
    from motor.design.reading import read_design

    if len(designs) < 2:
        raise InvalidInput("designs", "be two or more", len(designs))
    read = [read_design(path / "design.toml" if path.is_dir() else path) for path in designs]
    from motor.report.files.folder import save_comparison
    from motor.report.tables.comparison import comparison_tables
    from motor.results.motor_result import solve
    from motor.study.motor_comparison import compare_motors

    found = compare_motors(solve(design) for design in read)
    console.finish(
        lambda: comparison_tables(found),
        record=found.summary,
        caution=MOTOR,
        written=[] if out is None else save_comparison(found, out),
    )
