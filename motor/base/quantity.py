"""A figure as one record: its name, unit and words, how it is read and how it is shown."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Generic, Literal, NamedTuple, TypeVar

__all__ = ["COLUMN_UNITS", "ColumnUnit", "Line", "Quantity", "records", "unit_at_end"]

Source = TypeVar("Source")


class ColumnUnit(NamedTuple):
    """A unit at the end of a name, as text, as plain ASCII, and its number per SI unit."""

    words: str
    plain: str
    per_si: float = 1.0

    def of_si(self, value: float) -> float:
        """Return an SI value in this unit."""
        return value * self.per_si if self.per_si >= 1 else value / round(1 / self.per_si)


COLUMN_UNITS = {
    "": ColumnUnit("", ""),
    "A": ColumnUnit("A", "A"),
    "A_per_m": ColumnUnit("A/m", "A/m"),
    "Hz": ColumnUnit("Hz", "Hz"),
    "J": ColumnUnit("J", "J"),
    "K": ColumnUnit("K", "K"),
    "N": ColumnUnit("N", "N"),
    "N2_per_W": ColumnUnit("N²/W", "N2/W"),
    "N_per_mm": ColumnUnit("N/mm", "N/mm", 1e-3),
    "N_per_m": ColumnUnit("N/m", "N/m"),
    "T": ColumnUnit("T", "T"),
    "Tm": ColumnUnit("T m", "T m"),
    "V": ColumnUnit("V", "V"),
    "Pa": ColumnUnit("Pa", "Pa"),
    "W": ColumnUnit("W", "W"),
    "Wb": ColumnUnit("Wb", "Wb"),
    "cm2": ColumnUnit("cm²", "cm2", 1e4),
    "cm3": ColumnUnit("cm³", "cm3", 1e6),
    "dB": ColumnUnit("dB", "dB"),
    "deg": ColumnUnit("deg", "deg", 180 / math.pi),
    "degC": ColumnUnit("degC", "degC"),
    "g": ColumnUnit("g", "g", 1e3),
    "kA_per_m": ColumnUnit("kA/m", "kA/m", 1e-3),
    "kg_per_s": ColumnUnit("kg/s", "kg/s"),
    "l": ColumnUnit("l", "l", 1e3),
    "m": ColumnUnit("m", "m"),
    "m_per_s2": ColumnUnit("m/s²", "m/s2"),
    "mH": ColumnUnit("mH", "mH", 1e3),
    "mT": ColumnUnit("mT", "mT", 1e3),
    "mWb": ColumnUnit("mWb", "mWb", 1e3),
    "mm": ColumnUnit("mm", "mm", 1e3),
    "ms": ColumnUnit("ms", "ms", 1e3),
    "ohm": ColumnUnit("ohm", "ohm"),
    "percent": ColumnUnit("%", "%", 100.0),
    "s": ColumnUnit("s", "s"),
    "uT": ColumnUnit("µT", "uT", 1e6),
}
"""Every unit that a name in a table or a summary ends in."""


def unit_at_end(name: str) -> str:
    """Return the key of :data:`COLUMN_UNITS` that a name ends in, the longest; "" for none."""
    words = name.split("_")
    ends = ("_".join(words[k:]) for k in range(1, len(words)))
    return next((end for end in ends if end in COLUMN_UNITS), "")


class Line(NamedTuple):
    """How a figure stands in the table that is read.

    The section; words within it, the figure's own if ""; digits, or a format such as "{:+.2f}";
    the unit, where it is not the figure's own.
    """

    section: str
    words: str = ""
    digits: int = 4
    form: str = ""
    unit: str | None = None


@dataclass(frozen=True, kw_only=True)
class Quantity(Generic[Source]):
    """One figure that is read off a source.

    Parameters
    ----------
    name : str
        Without its unit: ``"bl_at_rest"``.
    unit : str
        Key of :data:`COLUMN_UNITS`; "" for plain numbers and words.
    words : str
        What it is, understood alone: "Bl at rest".
    read : callable
        Source to an SI number, one with its uncertainty, words, or None where there is none.
    uncertain : bool
        Whether what is read carries a numerical uncertainty.
    material : bool
        Whether what materials leave open of it is stated too (``source.material_uncertainty``).
    criterion : str
        By which rule it is what it is, where the words leave that open.
    better : "more", "less" or ""
        Which way is usually better.
    offered : int
        Place among the figures that a study offers to draw, equal ones in their order; 0 if none.
    head : int
        Place among the figures at the head of a motor's page; 0 if none.
    best : str
        What the design is called that a study finds best in it; "" where none is looked for.
    hover : bool
        Whether a study's page shows it beside the pointer.
    line : Line or None
        Its line in the table that is read.
    live : str
        Its name in the page's script, which computes it for other windings.
    slope : "field", "parts" or ""
        Whether it has derivatives: read off the field, or following from the drawing alone.
    slope_factor : float
        On the uncertainty of its derivatives, see :mod:`motor.study.differencing`.
    smooth : callable or None
        Reads it for a derivative, where ``read`` itself goes in steps.
    rings_decide : bool
        Whether a ring may decide it, so that it has no derivative where one is left out.
    kind : str
        Kind of quantity (``motor.base.units``) in which a target gives it.
    target : str
        Its name in targets, ``name`` if "".
    """

    name: str
    words: str
    read: Callable[[Source], Any]
    unit: str = ""
    uncertain: bool = False
    material: bool = False
    criterion: str = ""
    better: Literal["", "more", "less"] = ""
    offered: int = 0
    head: int = 0
    best: str = ""
    hover: bool = False
    line: Line | None = None
    live: str = ""
    slope: Literal["", "field", "parts"] = ""
    slope_factor: float = 1.15
    smooth: Callable[[Source], Any] | None = None
    rings_decide: bool = False
    kind: str = ""
    target: str = ""

    @property
    def key(self) -> str:
        """Its name with the unit, as in ``summary.json`` and heads of columns."""
        return self._key("")

    def _key(self, what: str) -> str:
        return "_".join(filter(None, (self.name, what, self.unit)))

    @property
    def keys(self) -> dict[str, str]:
        """The names under which it and its uncertainties stand, with words for each."""
        found = {self.key: self.words}
        if self.uncertain:
            found[self._key("uncertainty")] = f"numerical uncertainty of: {self.words}"
        if self.material:
            found[self._key("material_uncertainty")] = f"material uncertainty of: {self.words}"
        return found

    def reading(self, source: Source, unit: str | None = None) -> tuple[Any, float]:
        """Return it in its unit or another, and its numerical uncertainty (nan if not known).

        Words are returned as they are, None where there is none.
        """
        found = self.read(source)
        doubt = found.uncertainty if self.uncertain and found is not None else math.nan
        return self._in_unit(_plain(found), unit), float(self._in_unit(doubt, unit))

    def differentiable(self, source: Source) -> float | None:
        """Return it in its unit as derivatives read it."""
        read = self.smooth or self.read
        found: float | None = self._in_unit(_plain(read(source)))
        return found

    def record(self, source: Any) -> dict[str, Any]:
        """Return it and its uncertainties by name; None for what is not a finite number."""
        value, doubt = self.reading(source)
        found = {self.key: _finite(value)}
        if self.uncertain:
            found[self._key("uncertainty")] = _finite(doubt)
        if self.material:
            open_ = source.material_uncertainty(lambda s: _plain(self.read(s)))
            found[self._key("material_uncertainty")] = _finite(self._in_unit(open_))
        return found

    def _in_unit(self, value: Any, unit: str | None = None) -> Any:
        unit = self.unit if unit is None else unit
        return value if value is None or not unit else COLUMN_UNITS[unit].of_si(float(value))


def records(quantities: Iterable[Quantity[Source]], source: Source) -> dict[str, Any]:
    """Return what quantities read of one source: value and uncertainties by their keys."""
    return {key: value for one in quantities for key, value in one.record(source).items()}


def _plain(found: Any) -> Any:
    return found.value if hasattr(found, "uncertainty") else found


def _finite(value: Any) -> Any:
    if not isinstance(value, float):
        return value
    return float(value) if math.isfinite(value) else None
