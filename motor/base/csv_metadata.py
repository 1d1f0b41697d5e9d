"""What the tables of a folder hold, as ``csv-metadata.json``: W3C "CSV on the Web".

The tables themselves stay plain: a header line and rows, which every reader takes.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from motor.base.program import stamp

__all__ = ["METADATA", "describe_tables"]

METADATA = "csv-metadata.json"
"""Name under which readers of the standard look for it."""

UNITS = {
    "A": "A",
    "A_per_m": "A/m",
    "Hz": "Hz",
    "N2_per_W": "N2/W",
    "N_per_mm": "N/mm",
    "N_per_m": "N/m",
    "T": "T",
    "Tm": "T m",
    "V": "V",
    "Pa": "Pa",
    "W": "W",
    "Wb": "Wb",
    "dB": "dB",
    "deg": "deg",
    "degC": "degC",
    "g": "g",
    "kA_per_m": "kA/m",
    "kg_per_s": "kg/s",
    "l": "l",
    "m": "m",
    "mH": "mH",
    "mT": "mT",
    "mWb": "mWb",
    "mm": "mm",
    "ms": "ms",
    "ohm": "ohm",
    "percent": "%",
    "s": "s",
    "uT": "uT",
}
"""Unit that a column's name ends in, as it is written elsewhere."""

NO_UNIT = ("power_of_x_mm",)
"""Columns of plain numbers whose names end like a unit."""


def describe_tables(new: Path, folder: Path, remarks: Mapping[str, str] | None = None) -> None:
    """Write the description of the CSV files that are about to be moved into a folder.

    Parameters
    ----------
    new : Path
        Where the files are now, and where the description is written; nothing without any.
        What is described here already stays so.
    folder : Path
        What is described there already stays described, unless it is about to be replaced.
    remarks : mapping of file name to str or None
        What a table holds, in words.
    """
    paths = sorted(new.glob("*.csv"))
    if not paths:
        return
    told, known = remarks or {}, _described(new / METADATA)
    tables = {p.name: known.get(p.name) or _table(p, told.get(p.name, "")) for p in paths}
    kept = {
        name: table
        for name, table in _described(folder / METADATA).items()
        if name not in tables and (folder / name).is_file()
    }
    record = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "tables": [table for _, table in sorted((kept | tables).items())],
    }
    (new / METADATA).write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


def _described(path: Path) -> dict[str, Any]:
    """Return the tables of a description by file name; none if there is no readable one."""
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        return {str(table["url"]): table for table in record["tables"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _table(path: Path, remark: str) -> dict[str, Any]:
    with path.open(encoding="utf-8", newline="") as stream:
        header = next(csv.reader(stream), [])
    return {
        "url": path.name,
        "dc:creator": stamp(),
        **({"dc:description": remark} if remark else {}),
        "tableSchema": {"columns": [_column(name) for name in header]},
    }


def _column(name: str) -> dict[str, str]:
    words = name.split("_")
    ends = ("_".join(words[k:]) for k in range(1, len(words)))
    unit = next((UNITS[end] for end in ends if end in UNITS and name not in NO_UNIT), None)
    return {"titles": name} if unit is None else {"titles": name, "schema:unitText": unit}
