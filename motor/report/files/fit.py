"""A sample inferred from measurements as files: corrected design, tables, figures."""

from __future__ import annotations

import json
from pathlib import Path

from motor.base.program import stamp
from motor.base.steps import step
from motor.base.whole_files import folder_of
from motor.report.files.folder import write_rows
from motor.study.corrected import corrected_toml
from motor.study.inferred import Fit

__all__ = ["save_fit"]


def save_fit(found: Fit, folder: str | Path, source: str) -> list[Path]:
    """Write a fit into a folder, in one step.

    Parameters
    ----------
    found : Fit
    folder : path
    source : str
        Name of the drawn design's file.

    Returns
    -------
    list of Path

    Raises
    ------
    OutputError
    """
    with step("files"), folder_of(folder) as (work, written):
        text = f"# {stamp()}\n{corrected_toml(found, source)}"
        (work / "design.toml").write_text(text, encoding="utf-8")
        (work / "fit.json").write_text(
            json.dumps(found.summary(), indent=2, allow_nan=False) + "\n", encoding="utf-8"
        )
        write_rows([one.record() for one in (*found.unknowns, *found.rigs)], work / "unknowns.csv")
    return written
