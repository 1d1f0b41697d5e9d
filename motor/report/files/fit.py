"""A sample inferred from measurements as files: corrected design, tables, figures."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from typing import Any

from motor.base.program import stamp
from motor.base.steps import step
from motor.base.whole_files import folder_of
from motor.report.files.folder import save_figure, write_rows
from motor.report.tables.fit_record import Consequences
from motor.study.corrected import corrected_toml
from motor.study.end_of_line import record
from motor.study.inferred import Residuals

__all__ = ["save_fit"]

PLACES = {"x": "x_m", "z": "z_m", "frequency": "frequency_Hz"}
"""Heads of the places; an impedance's part is 0 for real, 1 for imaginary, 2 for the magnitude."""


def save_fit(
    found: Consequences, folder: str | Path, source: str, *, answer: str = ""
) -> list[Path]:
    """Write a fit and what follows into a folder, in one step.

    Parameters
    ----------
    found : Consequences
    folder : path
    source : str
        Name of the drawn design's file.
    answer : str
        Also written, as ``answer.txt``, unless empty.

    Returns
    -------
    list of Path

    Raises
    ------
    OutputError
    """
    from motor.report.page.fit import fit_page  # start-up time

    fit, whole = found.fit, found.record()
    text = f"# {stamp()}\n{corrected_toml(fit, source)}"
    tables: dict[str, list[dict[str, Any]]] = {
        "unknowns": [one.record() for one in (*fit.unknowns, *fit.rigs)],
        "figures": whole["figures"],
        "exchange": [dataclasses.asdict(one) for one in found.other],
        "end_of_line": [record(test) for tests in found.tests for test in tests],
        "measure_next": [
            {"measurement": one["measurement"], "gain_bits": one["gain_bits"], **one["deviations"]}
            for one in whole["measure_next"]
        ],
    }
    for k, one in enumerate(fit.residuals, 1):
        stem = f"residuals_{_stem(one.measurement.name)}"
        tables[f"{stem}_{k}" if stem in tables else stem] = _rows(one)
    with step("figure and files"), folder_of(folder) as (work, written):
        (work / "design.toml").write_text(text, encoding="utf-8")
        if answer:
            (work / "answer.txt").write_text(answer + "\n", encoding="utf-8")
        (work / "fit.json").write_text(
            json.dumps(whole, indent=2, allow_nan=False) + "\n", encoding="utf-8"
        )
        for stem, rows in tables.items():
            if rows:
                write_rows(rows, work / f"{stem}.csv")
        figure = fit.plot()
        save_figure(figure, work / "fit")
        (work / "fit.html").write_text(fit_page(found, figure).text(), encoding="utf-8")
    return written


def _stem(name: str) -> str:
    return re.sub(r"\W+", "_", name, flags=re.ASCII).strip("_") or "measurement"


def _rows(one: Residuals) -> list[dict[str, Any]]:
    """Return a measurement point by point, in SI."""
    columns: dict[str, Any] = {
        PLACES.get(role, role): values for role, values in one.measurement.along.items()
    }
    columns |= {
        "measured": one.measurement.values,
        "as_drawn": one.before,
        "inferred": one.after,
        "band": one.band,
        "residual_over_deviation": one.scaled,
    }
    return [
        dict(zip(columns, map(float, row), strict=True))
        for row in zip(*columns.values(), strict=True)
    ]
