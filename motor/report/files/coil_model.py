"""The coil's field in modes as files: JSON, CSV and a SPICE sub-circuit."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from motor.base.whole_files import folder_of
from motor.report.files.folder import write_rows

if TYPE_CHECKING:
    from motor.results.coil_model import CoilModel

__all__ = ["save_coil_model"]


def save_coil_model(model: CoilModel, folder: str | Path) -> list[Path]:
    """Write coil_model.json, coil_model.csv and, for the coil at rest, coil.cir."""
    with folder_of(folder) as (work, written):
        text = json.dumps(model.summary(), indent=2, allow_nan=False)
        (work / "coil_model.json").write_text(text + "\n", encoding="utf-8")
        write_rows(model.rows(), work / "coil_model.csv")
        (work / "coil.cir").write_text(model.spice_subcircuit(), encoding="utf-8")
    return written
