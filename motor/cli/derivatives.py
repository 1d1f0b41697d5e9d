"""The command ``motor derivatives``."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["derivatives"]


@command(
    "What each dimension, material and price does to each figure",
    examples=(
        ("motor derivatives my.toml", "the main figures by every parameter"),
        ("motor derivatives my.toml --out results", "tables and figure, curves too"),
        (
            'motor derivatives my.toml --inductance "1 kHz"',
            "of the coil's inductance too, by rings among others",
        ),
        ("motor derivatives my.toml --json", "all figures and curves, for a script"),
    ),
    writes=(
        "With --out: derivatives.csv and .json, those of Bl(x) and of the flux density along the "
        "gap as tables, that of L(x) with --inductance, and a figure of them."
    ),
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option(
    "--accuracy",
    help='Refine until Bl at rest is known to this first, e.g. "0.01%".',
)
@click.option(
    "--inductance",
    "wanted",
    multiple=True,
    help="Also of L(x) and eddy-current resistance at this frequency; again for more.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for tables and figure; none without."
)
def derivatives(
    console: Console, design: Path, accuracy: str | None, wanted: tuple[str, ...], out: Path | None
) -> None:
    """Differentiate the figures of a DESIGN by its dimensions, materials, temperature and prices.

    Numbers of turns and layers stay as they are.  Where a change would make parts come apart, or is
    possible one way only, there is no derivative, and the reason is given instead.  Where another
    limit takes over, as of the usable stroke, there are two: below it and above, "a or b".
    """
    from motor.base.units import parse_quantity, parse_share
    from motor.design.reading import read_design

    share = None if accuracy is None else parse_share(accuracy, "--accuracy")
    hertz = [parse_quantity(text, "frequency", "--inductance") for text in wanted]
    record = read_design(design)

    from motor.report.files.derivatives import save_derivatives
    from motor.report.tables.derivatives import derivatives_table, inductance_slopes_table
    from motor.results.motor_result import solve
    from motor.study.derivatives import derivatives as differentiate

    found = differentiate(solve(record, accuracy=share), inductance=hertz)
    held = found.inductance
    console.finish(
        lambda: [
            derivatives_table(found),
            *([] if held is None else [inductance_slopes_table(found, held)]),
        ],
        record=found.summary,
        caution=MOTOR,
        warnings=found.missing(),
        written=[] if out is None else save_derivatives(found, out),
    )
