"""Results of many designs as a table: arrays, CSV, JSON, data frame."""

from __future__ import annotations

import importlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from motor.base.arrays import Floats
from motor.base.csv_table import CsvTable
from motor.base.drawable import Drawable
from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.study.evaluate import Measure
from motor.study.plan import Plan
from motor.study.running import read_rows

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["StudyTable", "study_table"]


@dataclass(frozen=True)
class StudyTable(Drawable):
    """Rows under named columns; units are part of the names.

    Parameters
    ----------
    columns : tuple of str
    rows : tuple of tuple
        Numbers, text or None.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    @classmethod
    def of_records(cls, records: Sequence[Mapping[str, Any]]) -> StudyTable:
        """Return the table of records; columns in the order in which they first occur."""
        columns = tuple(dict.fromkeys(key for record in records for key in record))
        return cls(columns, tuple(tuple(_clean(r.get(c)) for c in columns) for r in records))

    def __len__(self) -> int:
        return len(self.rows)

    def column(self, name: str) -> list[Any]:
        """Return a column's values; InvalidInput with the near names if there is none."""
        if name not in self.columns:
            hint = near_names(name, list(self.columns))
            raise InvalidInput("column", f"be one of the table's ({hint})", repr(name))
        index = self.columns.index(name)
        return [row[index] for row in self.rows]

    def array(self, name: str) -> Floats:
        """Return a column as an array of floats (n,); NaN where there is no number."""
        return np.array([math.nan if v is None else v for v in self.column(name)], float)

    def records(self) -> list[dict[str, Any]]:
        """Return one mapping per row."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]

    def plot(  # type: ignore[override]
        self, x: str, y: str, ax: Axes | None = None, *, group: str = ""
    ) -> Axes:
        """Draw a column over another, one line per value of ``group``."""
        return super().plot(ax, x=x, y=y, group=group)

    def frame(self) -> Any:
        """Return a pandas data frame; InvalidInput if pandas is not installed."""
        try:
            pandas = importlib.import_module("pandas")
        except ImportError:
            raise InvalidInput("data frame", "come with the package pandas", "none") from None
        return pandas.DataFrame.from_records(list(self.rows), columns=list(self.columns))

    def to_csv(self, path: str | Path) -> None:
        """Write as CSV with a header."""
        CsvTable(self.columns, self.rows).write(Path(path))

    def to_json(self, path: str | Path) -> None:
        """Write as a JSON list of objects."""
        text = json.dumps(self.records(), indent=1, allow_nan=False)
        Path(path).write_text(text + "\n", encoding="utf-8")

    def save(self, stem: Path) -> None:
        """Write as CSV and JSON."""
        self.to_csv(stem.with_name(stem.name + ".csv"))
        self.to_json(stem.with_name(stem.name + ".json"))


def _clean(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def study_table(store: str | Path, plan: Plan, measure: Measure | None = None) -> StudyTable:
    """Return the results of a plan: number, swept parameters, results, error."""
    known = {p.name: p for p in plan.parameters}
    records = []
    for row in read_rows(store, plan, measure):
        record: dict[str, Any] = {"number": row.number}
        record |= {known[name].column: known[name].shown(v) for name, v in row.values.items()}
        records.append(record | dict(row.results or {}) | {"error": row.error})
    table = StudyTable.of_records(records)
    if "error" in table.columns:  # last, wherever a failed first row has put it
        order = [c for c in table.columns if c != "error"] + ["error"]
        return StudyTable.of_records([{c: r[c] for c in order} for r in table.records()])
    return table
