"""A table as CSV text: the one place where numbers and words become cells."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from motor.base.media import csv_cell

__all__ = ["CsvTable"]


@dataclass(frozen=True)
class CsvTable:
    """Columns, rows, and what must be known to read them.

    Parameters
    ----------
    columns : sequence of str
        Each with its unit.
    rows : iterable of rows
        Numbers, text or None (an empty cell).
    remark : str
        Goes into the folder's description of its tables.
    digits : int or None
        Of a number; None for as many as it takes to read the same number again.
    """

    columns: Sequence[str]
    rows: Iterable[Iterable[object]]
    remark: str = ""
    digits: int | None = 9

    def text(self) -> str:
        """Return the table with its header."""
        stream = io.StringIO()
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(self.columns)
        writer.writerows([self._cell(value) for value in row] for row in self.rows)
        return stream.getvalue()

    def write(self, path: Path) -> None:
        """Write the table into a file."""
        path.write_text(self.text(), encoding="utf-8", newline="\n")

    def _cell(self, value: object) -> object:
        if isinstance(value, float) and self.digits is not None:
            return f"{value:.{self.digits}g}"
        return csv_cell(value)
