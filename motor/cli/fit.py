"""The command ``motor fit``.  Heavy libraries are imported inside."""

from __future__ import annotations

from pathlib import Path

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["fit"]


@command(
    "What was built, from what was measured on a sample",
    examples=(
        ("motor fit my.toml sample.toml", "unknowns before and after the measurements"),
        ("motor fit my.toml sample.toml --out fit", "also the corrected design, tables"),
        ("motor fit my.toml sample.toml --json", "the same for a script"),
    ),
    writes="With --out: design.toml, corrected, with the source of every changed value; fit.json; "
    "tables of unknowns, figures, residuals, and what to measure next; figures as PNG "
    "and SVG, and fit.html, all of it on one page.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.argument("measurements", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the corrected design.")
def fit(console: Console, design: Path, measurements: Path, out: Path | None) -> None:
    """Infer from MEASUREMENTS of a sample in what it differs from its DESIGN.

    MEASUREMENTS is a TOML file: under [unknowns] what may differ with its standard deviation, and
    one block [[measurement]] for each table or value; studies/samples/first_sample.toml is one.

    \b
    [unknowns]
    "factors.remanence" = 0.03    # also steel, permeability, turns, stiffness
    "coil.rest_position" = "0.5 mm"
    "geometry.gap_width" = "0.03 mm"
    [[measurement]]
    kind = "bl"                   # of a table
    file = "bl.csv"               # beside this file; columns = {x = "pos (mm)"}
    deviation = "0.5 %"           # scatter of a point
    gain = "1 %"                  # what the rig's gain may be wrong by
    offset = "0.1 mm"             # and its zero
    [[measurement]]
    kind = "resistance"           # or resonance, mass, dimension
    value = "3.41 ohm"
    deviation = "0.02 ohm"

    Tables and their columns, any unit in the head: bl (x_mm, bl_Tm), force (x_mm, force_N; with
    current), gap_scan (z_mm, b_T; radius, probe_height), flux of a search coil (z_mm, flux_mWb;
    radius, turns), impedance (frequency_Hz, magnitude_ohm and phase_deg, or real_ohm and
    imaginary_ohm; inductance, what the held coil's model may be wrong by, 2 %).  Mass and
    dimension say of what: of = "moving", "geometry.gap_width".

    An impedance makes stiffness, mass and mechanical resistance of what moves unknown too, by 10,
    2 and 30 %, unless [unknowns] names them.
    """  # noqa: D301
    from motor.design.reading import read_design
    from motor.report.files.fit import save_fit
    from motor.report.tables.fit import fit_tables
    from motor.report.tables.fit_record import consequences
    from motor.study.fitting import fit as infer
    from motor.study.measurements import read_measurements

    record = read_design(design)
    found = consequences(infer(record, read_measurements(measurements, record)))
    console.finish(
        lambda: fit_tables(found),
        record=found.record,
        caution=MOTOR,
        warnings=found.fit.warnings(),
        written=[] if out is None else save_fit(found, out, design.name),
    )
