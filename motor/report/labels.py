"""Names of columns in words, with their units: figures from their records, others from the name."""

from __future__ import annotations

from motor.base.quantity import COLUMN_UNITS, unit_at_end
from motor.results.quantities import quantity_of

__all__ = ["label_of", "named"]


def named(column: str) -> tuple[str, str]:
    """Return a column's name in words and its unit.

    "geometry.gap_depth_mm" is "gap depth" in "mm".
    """
    quantity = quantity_of(column)
    if quantity is not None:
        return quantity.words, COLUMN_UNITS[quantity.unit].words
    end = unit_at_end(column)
    plain = column.removesuffix(f"_{end}") if end else column
    words = plain.rpartition(".")[2].replace("_", " ")
    return (f"B{words[1:]}" if words.startswith("bl ") else words), COLUMN_UNITS[end].words


def label_of(column: str) -> str:
    """Return an axis label for a column: "geometry.gap_depth_mm" is "gap depth in mm"."""
    words, unit = named(column)
    return f"{words} in {unit}" if unit else words
