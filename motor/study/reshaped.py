"""A motor before and after its contours were moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geometries import Contour
from motor.base.drawable import DrawablePage
from motor.base.json_numbers import finite
from motor.base.quantity import COLUMN_UNITS
from motor.results.motor_result import MotorResult
from motor.results.quantities import motor_quantities

__all__ = ["Reshaped"]

TOLD = (
    "bl_deviation_in_band_percent",
    "bl_asymmetry_in_band_percent",
    "bl_at_rest_Tm",
    "usable_stroke_mm",
    "steel_mass_g",
    "motor_mass_g",
)


@dataclass(frozen=True)
class Reshaped(DrawablePage):
    """What moving contours did.

    Parameters
    ----------
    contours : tuple of Contour
    drawn, moved : MotorResult
        As in the study's design, and at the answer.
    """

    contours: tuple[Contour, ...]
    drawn: MotorResult
    moved: MotorResult

    def rows(self) -> list[dict[str, Any]]:
        """Return the figures that are told, as drawn and moved, in their key's unit."""
        found = []
        for quantity in motor_quantities():
            (drawn, _), (moved, doubt) = (quantity.reading(r) for r in (self.drawn, self.moved))
            if quantity.key in TOLD and drawn is not None and moved is not None:
                row = {"drawn": finite(drawn), "moved": finite(moved), "uncertainty": finite(doubt)}
                found.append({"figure": quantity.key, **row})
        return found

    def sentences(self) -> list[str]:
        """Return in words what it did and what it costs."""
        words = {q.key: (q.words, COLUMN_UNITS[q.unit].words) for q in motor_quantities()}
        said = []
        for row in self.rows():
            name, unit = words[row["figure"]]
            doubt = f" ± {row['uncertainty']:.1g}" if row["uncertainty"] else ""
            said.append(f"{name}: {row['moved']:.4g}{doubt} {unit}, as drawn {row['drawn']:.4g}")
        return said
