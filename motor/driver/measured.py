"""Measured Bl(x) laid over the computed one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from geometries import InvalidInput, millimetres
from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.base.user_files import numbered_rows, read_text
from motor.design.characteristic import Characteristic, Table

__all__ = ["BlComparison", "BlFit", "compare_bl", "read_measured_bl"]

X_UNITS = {"x_mm": 1e-3, "x_m": 1.0, "x_cm": 1e-2}
BL_UNITS = {"bl_tm": 1.0, "bl_n_per_a": 1.0}
POINTS = 201
LEAST = 4
"""Measured points at least."""
STRAIGHT = 1e-12
"""Share of a curve's square that has to bend before an offset is told from a gain."""
CONFIDENCE = 0.95
"""Share of true values that the fit's errors are to hold."""
MOST = 20_000_000
"""Bytes of a table."""


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
    what = "measured table"
    lines = numbered_rows(read_text(path, what, MOST), what)
    head = next(lines, None)
    if head is None:
        raise InvalidInput(what, "have rows", "none")
    names = [name.lower() for name in head[1]]
    x_name = next((n for n in names if n in X_UNITS), None)
    bl_name = next((n for n in names if n in BL_UNITS), None)
    if x_name is None or bl_name is None:
        raise InvalidInput(what, "have columns x_mm and bl_Tm", f"{path}: others")
    places = names.index(x_name), names.index(bl_name)
    rows = []
    for number, cells in lines:
        try:
            pair = tuple(float(cells[place]) for place in places)
        except (ValueError, IndexError):
            raise InvalidInput(
                f"{what}, line {number}", "hold two numbers", _shown(cells, places)
            ) from None
        if not all(map(math.isfinite, pair)):
            raise InvalidInput(
                f"{what}, line {number}", "hold two finite numbers", _shown(cells, places)
            )
        rows.append(pair)
    if len(rows) < LEAST:
        raise InvalidInput("measured table", f"have at least {LEAST} rows", len(rows))
    x, bl = np.array(rows).T * [[X_UNITS[x_name]], [BL_UNITS[bl_name]]]
    order = np.argsort(x, kind="stable")
    return Table(tuple(x[order].tolist()), tuple(bl[order].tolist()))


def _shown(cells: list[str], places: tuple[int, int]) -> str:
    """Return the two cells that matter, or that they are missing."""
    if len(cells) <= max(places):
        return f"{len(cells)} cells"
    return " and ".join(repr(cells[place][:20]) for place in places)


@dataclass(frozen=True)
class BlFit:
    """The gain g and the offset d with which  g Bl(x + d)  of the computed curve fits best.

    Parameters
    ----------
    gain, gain_error : float
        Measured over computed, and what it may be wrong by.
    offset, offset_error : float
        How much further out than drawn the real coil rests, m.
    scatter : float
        Standard deviation of the points about the fit, T m.
    """

    gain: float
    gain_error: float
    offset: float
    offset_error: float
    scatter: float


@dataclass(frozen=True)
class BlComparison(Drawable):
    """Measured and computed Bl over the range that both know.

    Parameters
    ----------
    x : (n,) array
        m.
    measured, computed : (n,) array
        T m.
    fit : BlFit
        Of the measured points, not of one place.
    """

    x: Floats
    measured: Floats
    computed: Floats
    fit: BlFit

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


def compare_bl(measured: Characteristic, computed: Characteristic) -> BlComparison:
    """Return both curves over their common range, and the fit of the one to the other.

    Raises
    ------
    InvalidInput
        If the range has no rest position or fewer than LEAST measured points.
    """
    low, high = max(measured.low, computed.low), min(measured.high, computed.high)
    if not low < 0 < high:
        raise InvalidInput(
            "measured table",
            f"share a range about rest with {millimetres(computed.low)} to "
            f"{millimetres(computed.high)}",
            f"{millimetres(measured.low)} to {millimetres(measured.high)}",
        )
    x = np.linspace(low, high, POINTS)
    places = np.asarray(measured.x) if isinstance(measured, Table) else x
    places = places[(places >= low) & (places <= high)]
    if len(places) < LEAST:
        raise InvalidInput(
            "measured table",
            f"have at least {LEAST} rows from {millimetres(low)} to {millimetres(high)}",
            len(places),
        )
    fit = _fit(places, measured.value(places), computed)
    return BlComparison(x, measured(x), computed(x), fit)


def _fit(x: Floats, bl: Floats, computed: Characteristic) -> BlFit:
    """Return the least-squares fit of gain and offset.

    The errors are those of ordinary least squares at CONFIDENCE (Student's t); neighbours whose
    deviations go together count as fewer points, n (1 - r)/(1 + r) with their correlation r.
    Where the curve is so straight that gain and offset cannot be told apart, they are large.
    """
    from scipy.stats import t as student

    scale = float(computed.at_rest)
    reach = float(np.ptp(x))

    def deviations(p: Floats) -> Floats:
        return np.asarray((p[0] * computed.value(x + reach * p[1]) - bl) / scale)

    done = least_squares(deviations, (1.0, 0.0), x_scale="jac")
    left, n = done.fun, len(x)
    squares = float(left @ left)
    along = float(left[1:] @ left[:-1]) / squares if squares else 0.0
    r = min(max(along, 0.0), 0.9)
    free = max(n * (1 - r) / (1 + r) - 2, 1.0)
    scatter = np.sqrt(squares / (n - 2))
    spread = _variances(done.jac) * (n / (free + 2))
    gain_error, offset_error = student.ppf((1 + CONFIDENCE) / 2, free) * scatter * np.sqrt(spread)
    return BlFit(
        float(done.x[0]),
        float(gain_error),
        float(reach * done.x[1]),
        float(reach * offset_error),
        float(scatter * scale),
    )


def _variances(jacobian: Floats) -> Floats:
    """Return the variances of both parameters for a scatter of 1; inf for what is not told."""
    normal = jacobian.T @ jacobian
    gain, both, offset = normal[0, 0], normal[0, 1], normal[1, 1]
    left = gain * offset - both**2
    if left <= STRAIGHT * gain**2:
        return np.array([1 / gain, np.inf])
    return np.array([offset / left, gain / left])
