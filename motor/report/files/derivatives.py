"""Files of derivatives: rows, record, figure, and the curves' derivatives as tables."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from motor.base.arrays import Floats
from motor.base.csv_table import CsvTable
from motor.base.steps import step
from motor.base.whole_files import folder_of
from motor.report.files.folder import write_tabled
from motor.study.derivatives import Derivatives
from motor.study.slope_records import InductanceSlopes

__all__ = ["save_derivatives"]


def save_derivatives(found: Derivatives, folder: str | Path) -> list[Path]:
    """Write derivatives into a folder; see :func:`motor.report.files.folder.save`."""
    tables = {
        "bl_curve_derivatives.csv": _table(found, "x_mm", found.x, "bl_Tm", found.bl),
        "gap_profile_derivatives.csv": _table(found, "z_mm", found.z, "b_radial_T", found.gap),
    }
    if found.inductance is not None:
        tables["inductance_derivatives.csv"] = _inductance_table(found, found.inductance)
    remarks = {name: table.remark for name, table in tables.items()}
    with step("figure and files"), folder_of(folder, remarks=remarks) as (work, written):
        write_tabled(found, work / "derivatives")
        for name, table in tables.items():
            table.write(work / name)
    return written


def _table(
    found: Derivatives, along: str, places: Floats, curve: str, slopes: Mapping[str, Floats]
) -> CsvTable:
    """Return a row for each parameter and place."""
    rows = (
        (name, found.per(name), 1e3 * float(at), float(slope), float(spread))
        for name, (line, doubt) in slopes.items()
        for at, slope, spread in zip(places, line, doubt, strict=True)
        if line.any()
    )
    return CsvTable(
        ("parameter", "per", along, f"{curve}_change", f"{curve}_change_uncertainty"),
        rows,
        "change per unit of the parameter, that of the column per",
    )


def _inductance_table(found: Derivatives, held: InductanceSlopes) -> CsvTable:
    """Return a row for each parameter, frequency and place."""
    keys = held.by_key()
    rows = (
        (name, found.per(name), float(f), 1e3 * float(x), *map(float, values))
        for name, slopes in keys["inductance_mH"].items()
        if slopes.any()
        for f, at_f in zip(
            held.frequency,
            np.concatenate([slopes, keys["eddy_resistance_ohm"][name]]).transpose(1, 2, 0),
            strict=True,
        )
        for x, values in zip(held.position, at_f, strict=True)
    )
    changes = (f"{key}_change{end}" for key in keys for end in ("", "_uncertainty"))
    return CsvTable(
        ("parameter", "per", "frequency_Hz", "displacement_mm", *changes),
        rows,
        "change per unit of the parameter, that of the column per; coil held, small current",
    )
