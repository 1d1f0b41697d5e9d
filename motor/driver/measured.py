"""Measured Bl(x) laid over the computed one."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from geometries import InvalidInput, millimetres
from motor.base.arrays import Floats
from motor.base.drawn import Drawn
from motor.design.characteristic import Characteristic, Table

if TYPE_CHECKING:
    pass

__all__ = ["BlComparison", "compare_bl", "read_measured_bl"]

X_UNITS = {"x_mm": 1e-3, "x_m": 1.0, "x_cm": 1e-2}
BL_UNITS = {"bl_tm": 1.0, "bl_n_per_a": 1.0}
POINTS = 201


def read_measured_bl(path: str | Path) -> Table:
    """Read a CSV table of measured Bl(x); lines that begin with ``#`` are left out.

    Parameters
    ----------
    path : path
        Comma, semicolon or tab between a column x_mm (or x_m, x_cm; positive outwards) and a
        column bl_Tm (or bl_N_per_A); other columns are left out.  A file of ``bl_curve.csv``'s
        form can be read too.

    Raises
    ------
    InvalidInput
        With the line, if the table cannot be used.
    """
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except OSError as cause:
        raise InvalidInput("measured table", "be readable", f"{path}: {cause.strerror}") from None
    except UnicodeDecodeError:
        raise InvalidInput("measured table", "be UTF-8 text", str(path)) from None
    numbered = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise InvalidInput("measured table", "have rows", "none")
    head = numbered[0][1]
    mark = max(",;\t", key=head.count)
    names = [name.strip().lower() for name in next(csv.reader([head], delimiter=mark))]
    x_name = next((n for n in names if n in X_UNITS), None)
    bl_name = next((n for n in names if n in BL_UNITS), None)
    if x_name is None or bl_name is None:
        raise InvalidInput("measured table", "have columns x_mm and bl_Tm", repr(head))
    places = names.index(x_name), names.index(bl_name)
    rows = []
    for number, line in numbered[1:]:
        cells = next(csv.reader([line], delimiter=mark))
        try:
            pair = tuple(float(cells[place].strip()) for place in places)
        except (ValueError, IndexError):
            raise InvalidInput(
                f"measured table, line {number}", "hold two numbers", repr(line)
            ) from None
        rows.append(pair)
    if len(rows) < 4:
        raise InvalidInput("measured table", "have at least 4 rows", len(rows))
    x, bl = np.array(rows).T * [[X_UNITS[x_name]], [BL_UNITS[bl_name]]]
    order = np.argsort(x, kind="stable")
    return Table(tuple(x[order].tolist()), tuple(bl[order].tolist()))


@dataclass(frozen=True)
class BlComparison(Drawn):
    """Measured and computed Bl over the range that both know.

    Parameters
    ----------
    x : (n,) array
        m.
    measured, computed : (n,) array
        T m.
    """

    x: Floats
    measured: Floats
    computed: Floats

    @property
    def difference(self) -> Floats:
        """Measured less computed, T m."""
        return self.measured - self.computed

    @property
    def at_rest(self) -> float:
        """Measured over computed Bl at rest, less 1."""
        both = [float(np.interp(0.0, self.x, y)) for y in (self.measured, self.computed)]
        return both[0] / both[1] - 1

    @property
    def largest(self) -> float:
        """Largest difference over the computed Bl at rest."""
        rest = float(np.interp(0.0, self.x, self.computed))
        return float(np.abs(self.difference).max()) / rest

    @property
    def shift(self) -> float:
        """How far the measured curve has to be moved outwards to fit the computed best, m.

        To first order: the differences in shape projected onto the computed slope, after
        scaling both to the same value at rest.  A positive shift means that the real coil
        rests further out than drawn.
        """
        scale = 1 + self.at_rest
        shape = self.measured / scale - self.computed
        slope = np.gradient(self.computed, self.x)
        rest = float(np.interp(0.0, self.x, slope) / np.interp(0.0, self.x, self.computed))
        slope = slope - rest * self.computed
        return float(shape @ slope / (slope @ slope))


def compare_bl(measured: Characteristic, computed: Characteristic) -> BlComparison:
    """Return both curves over their common range; InvalidInput if it has no rest position."""
    low, high = max(measured.low, computed.low), min(measured.high, computed.high)
    if not low < 0 < high:
        raise InvalidInput(
            "measured table",
            f"share a range about rest with {millimetres(computed.low)} to "
            f"{millimetres(computed.high)}",
            f"{millimetres(measured.low)} to {millimetres(measured.high)}",
        )
    x = np.linspace(low, high, POINTS)
    return BlComparison(x, measured(x), computed(x))
