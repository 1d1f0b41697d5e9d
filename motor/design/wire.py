"""Winding wire: round and flat, by dimensions or by the sizes of a series."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass, field

from geometries import InvalidInput, millimetres
from motor.materials import conductor_named
from motor.materials.tables import read_table

__all__ = ["FlatWire", "Wire", "between", "round_sizes", "wire_of_size"]


def between(name: str, value: float, low: float, high: float) -> None:
    """Raise InvalidInput unless a length in metres lies between two limits."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(name, "be a length in metres", repr(value))
    if not (math.isfinite(value) and low <= value <= high):
        raise InvalidInput(
            name, f"be between {millimetres(low)} and {millimetres(high)}", millimetres(value)
        )


@dataclass(frozen=True, kw_only=True)
class Wire:
    """Round enamelled wire.

    Parameters
    ----------
    material : str
        Conductor, e.g. "copper", "aluminium" or "cca-15".
    bare_diameter, overall_diameter : float
        Diameter without and with enamel, metres.
    """

    material: str = field(default="copper", metadata={"doc": "copper, aluminium, cca-15, ..."})
    bare_diameter: float = field(
        metadata={"doc": "diameter of the conductor", "quantity": "length"}
    )
    overall_diameter: float = field(
        metadata={"doc": "diameter over the enamel", "quantity": "length"}
    )

    def __post_init__(self) -> None:
        conductor_named(self.material)
        between("bare_diameter", self.bare_diameter, 0.01e-3, 5e-3)
        between("overall_diameter", self.overall_diameter, 0.01e-3, 6e-3)
        if self.overall_diameter < self.bare_diameter:
            raise InvalidInput(
                "overall_diameter",
                f"be at least bare_diameter, {millimetres(self.bare_diameter)}",
                millimetres(self.overall_diameter),
            )

    @property
    def pitch(self) -> float:
        """Axial room of one turn, metres."""
        return self.overall_diameter

    @property
    def build(self) -> float:
        """Radial room of one layer, metres."""
        return self.overall_diameter

    @property
    def conductor_area(self) -> float:
        """Section of the conductor, m^2."""
        return math.pi * self.bare_diameter**2 / 4

    @property
    def overall_area(self) -> float:
        """Section with enamel, m^2."""
        return math.pi * self.overall_diameter**2 / 4


@dataclass(frozen=True, kw_only=True)
class FlatWire:
    """Flat enamelled wire wound on edge: its thickness lies along the coil, its width across.

    Parameters
    ----------
    material : str
    thickness, width : float
        Of the conductor, metres.
    insulation : float
        Added to both by the enamel on both sides together, metres.
    """

    material: str = field(default="copper", metadata={"doc": "copper, aluminium, cca-15, ..."})
    thickness: float = field(
        metadata={"doc": "of the conductor, along the coil", "quantity": "length"}
    )
    width: float = field(metadata={"doc": "of the conductor, across", "quantity": "length"})
    insulation: float = field(metadata={"doc": "added to both by the enamel", "quantity": "length"})

    def __post_init__(self) -> None:
        conductor_named(self.material)
        between("thickness", self.thickness, 0.01e-3, 5e-3)
        between("width", self.width, 0.01e-3, 10e-3)
        between("insulation", self.insulation, 0.0, 0.5e-3)

    @property
    def pitch(self) -> float:
        """Axial room of one turn, metres."""
        return self.thickness + self.insulation

    @property
    def build(self) -> float:
        """Radial room of one layer, metres."""
        return self.width + self.insulation

    @property
    def conductor_area(self) -> float:
        """Section of the conductor, m^2 (edges square)."""
        return self.thickness * self.width

    @property
    def overall_area(self) -> float:
        """Section with enamel, m^2."""
        return self.pitch * self.build


OVERALL = ("greatest", "least")
"""Overall diameters of a size: the thickest and the thinnest wire that the standard lets pass."""


def _metres(millimetres: str) -> float:
    return round(float(millimetres) * 1e-3, 9)


@functools.cache
def round_sizes(
    series: str, grade: int, overall: str = "greatest"
) -> dict[str, tuple[float, float]]:
    """Return bare and overall diameter in metres of all sizes of a series.

    Parameters
    ----------
    series : str
        "metric" (IEC 60317-0-1) or "awg" (ASTM B258 diameters, NEMA MW 1000 enamel).
    grade : int
        1 or 2.
    overall : str
        "greatest" or "least" (of the metric series only: the least bare diameter with the least
        increase due to the enamel).
    """
    if grade not in (1, 2):
        raise InvalidInput("grade", "be 1 or 2", grade)
    if overall not in OVERALL:
        raise InvalidInput("overall", f"be {' or '.join(OVERALL)}", repr(overall))
    if overall == "least" and series == "awg":
        raise InvalidInput("overall", "be greatest for gauge sizes", repr(overall))
    column = f"grade{grade}_max_mm"
    if series == "metric" and overall == "least":
        return {
            name: (bare, thin)
            for row in read_table("wire_round.csv")
            for name, bare, thin in [_thinnest(row, grade)]
        }
    if series == "metric":
        return {
            f"{float(row['bare_mm']):g} mm": (float(row["bare_mm"]) / 1e3, float(row[column]) / 1e3)
            for row in read_table("wire_round.csv")
        }
    if series == "awg":
        return {
            f"AWG {row['awg']}": (
                0.127e-3 * 92 ** ((36 - int(row["awg"])) / 39),
                _metres(row[column]),
            )
            for row in read_table("wire_awg.csv")
        }
    raise InvalidInput("series", "be metric or awg", repr(series))


def _thinnest(row: dict[str, str], grade: int) -> tuple[str, float, float]:
    """Return name, nominal bare and least overall diameter of a size, metres."""
    bare, tolerance = float(row["bare_mm"]), float(row["tolerance_mm"] or 0)
    least = bare - tolerance + float(row[f"grade{grade}_least_increase_mm"])
    return f"{bare:g} mm", bare / 1e3, round(least, 6) / 1e3


def wire_of_size(
    size: str, *, grade: int = 1, material: str = "copper", overall: str = "greatest"
) -> Wire:
    """Return round wire of a series' size, e.g. "0.224 mm" or "AWG 32".

    Raises
    ------
    InvalidInput
        With the nearest sizes, if the series has no such size.
    """
    gauge = re.fullmatch(r"\s*awg\s*(\d+)\s*", size, re.IGNORECASE)
    metric = re.fullmatch(r"\s*(\d*\.?\d+)\s*mm\s*", size)
    sizes = round_sizes("awg" if gauge else "metric", grade, overall)
    name = f"AWG {int(gauge[1])}" if gauge else f"{float(metric[1]):g} mm" if metric else size
    if name not in sizes:
        near = list(sizes)
        if metric:
            wanted = float(metric[1]) / 1e3
            near = sorted(sizes, key=lambda k: abs(sizes[k][0] - wanted))[:3]
        hint = ", ".join(near if metric else [near[0], "...", near[-1]])
        raise InvalidInput("size", f"be a size of the series ({hint})", repr(size))
    bare, outside = sizes[name]
    return Wire(material=material, bare_diameter=bare, overall_diameter=outside)
