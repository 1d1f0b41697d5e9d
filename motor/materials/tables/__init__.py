"""Material tables: one CSV per family, every row with its source."""

from __future__ import annotations

import csv
from importlib import resources

__all__ = ["read_table"]


def read_table(name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV file of this package; lines that start with # are comments."""
    text = (resources.files(__name__) / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
