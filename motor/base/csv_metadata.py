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
from motor.base.quantity import COLUMN_UNITS, unit_at_end

__all__ = ["METADATA", "Columns", "describe_tables"]

METADATA = "csv-metadata.json"
"""Name under which readers of the standard look for it."""

Columns = Mapping[str, tuple[str, str]]

NO_UNIT = ("power_of_x_mm",)
"""Columns of plain numbers whose names end like a unit, in tables without words for them."""


def describe_tables(
    new: Path,
    folder: Path,
    remarks: Mapping[str, str] | None = None,
    columns: Columns | None = None,
) -> None:
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
    columns : mapping of name to (words, unit), or None
        What columns hold; the unit of any other is what its name ends in.
    """
    paths = sorted(new.glob("*.csv"))
    if not paths:
        return
    told, named, known = remarks or {}, columns or {}, _described(new / METADATA)
    tables = {p.name: known.get(p.name) or _table(p, told.get(p.name, ""), named) for p in paths}
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


def _table(path: Path, remark: str, columns: Columns) -> dict[str, Any]:
    with path.open(encoding="utf-8", newline="") as stream:
        header = next(csv.reader(stream), [])
    return {
        "url": path.name,
        "dc:creator": stamp(),
        **({"dc:description": remark} if remark else {}),
        "tableSchema": {"columns": [_column(name, columns) for name in header]},
    }


def _column(name: str, columns: Columns) -> dict[str, str]:
    end = "" if name in NO_UNIT else COLUMN_UNITS[unit_at_end(name)].plain
    words, unit = columns.get(name, ("", end))
    found = {"titles": name, "dc:description": words, "schema:unitText": unit}
    return {key: value for key, value in found.items() if value}
