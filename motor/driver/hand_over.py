"""Bl(x), K(x) and L(x) for other programs: table, polynomial, spline coefficients."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geometries import InvalidInput, millimetres
from geometries.words import one_line
from motor.base.arrays import Floats
from motor.base.csv_table import CsvTable
from motor.design.characteristic import Characteristic, Polynomial, Table
from motor.driver.lossy import LossyInductance

__all__ = ["FittedPolynomial", "fit_polynomial", "modes_table", "sampled_table", "spline_table"]

UNITS = {
    "bl": ("bl_Tm", 1.0),
    "stiffness": ("stiffness_N_per_mm", 1e-3),
    "inductance": ("inductance_mH", 1e3),
}
"""Column name and factor from SI of each quantity that is handed over."""
ROWS = 201
FIT_POINTS = 801


def _known(quantity: str) -> tuple[str, float]:
    if quantity not in UNITS:
        raise InvalidInput("quantity", f"be one of {', '.join(UNITS)}", repr(quantity))
    return UNITS[quantity]


def _range(curve: Characteristic, low: float | None, high: float | None) -> tuple[float, float]:
    ends = curve.low if low is None else low, curve.high if high is None else high
    if not all(map(math.isfinite, ends)) or not ends[0] < ends[1]:
        raise InvalidInput("range", "have two finite ends that rise", f"{ends[0]} to {ends[1]} m")
    curve.demand("range", *ends)
    return ends


def modes_table(lossy: LossyInductance) -> CsvTable:
    """Return an inductance with eddy currents: each mode's couplings over displacement.

    Mode 0, without a time constant, is what follows the current at once.
    """
    times = np.concatenate([[0.0], lossy.time_constant]).tolist()
    couplings = np.column_stack([np.sqrt(lossy.instant), lossy.coupling])
    rows = (
        (mode, tau, x * 1e3, c)
        for mode, (tau, column) in enumerate(zip(times, couplings.T.tolist(), strict=True))
        for x, c in zip(lossy.position.tolist(), column, strict=True)
    )
    return CsvTable(
        ("mode", "time_constant_s", "x_mm", "coupling_sqrt_H"),
        rows,
        "a + tau da/dt = c(x) i for each mode; flux linkage: sum of c(x) a over all modes, force: "
        "i times the sum of dc/dx a; small currents",
    )


def sampled_table(
    curve: Characteristic,
    quantity: str,
    *,
    low: float | None = None,
    high: float | None = None,
    rest_position: float | None = None,
    name: str = "",
) -> CsvTable:
    """Return a quantity over x_mm.

    Parameters
    ----------
    curve : Characteristic
    quantity : str
        "bl", "stiffness" or "inductance".
    low, high : float or None
        Range in metres; None for that of the curve.
    rest_position : float or None
        Of the winding's middle above the middle of the gap, m; told in the remark.
    name : str
    """
    column, factor = _known(quantity)
    x = np.linspace(*_range(curve, low, high), ROWS)
    what = one_line(name) or quantity
    remark = f"{what}; x is the coil's displacement from rest, positive outwards"
    if rest_position is not None:
        remark += f"; rest_position_mm = {rest_position * 1e3:.9g}"
    rows = np.stack([x * 1e3, curve(x) * factor], axis=-1)
    return CsvTable(("x_mm", column), rows.tolist(), remark)


def spline_table(curve: Table, quantity: str) -> CsvTable:
    """Return the cubic pieces: from x_mm on, value = c0 + c1 d + c2 d^2 + c3 d^3, d in mm."""
    column, factor = _known(quantity)
    spline = curve.splines[0]
    pieces = (spline.c[::-1] * factor * 1e-3 ** np.arange(4)[:, None]).T
    rows = np.column_stack([spline.x[:-1] * 1e3, spline.x[1:] * 1e3, pieces])
    remark = (
        "value = c0 + c1 d + c2 d^2 + c3 d^3 with d = x_mm less the piece's from_mm; "
        f"value in the unit of {column}; valid within the pieces only"
    )
    return CsvTable(("from_mm", "to_mm", "c0", "c1", "c2", "c3"), rows.tolist(), remark, 12)


@dataclass(frozen=True)
class FittedPolynomial:
    """A polynomial through a quantity with the range it holds in; calls outside are refused.

    Parameters
    ----------
    polynomial : Polynomial
    error : float
        Largest difference to the curve within the range, in the quantity's unit.
    relative_error : float
        The same over the value at rest.
    """

    polynomial: Polynomial
    error: float
    relative_error: float

    def __call__(self, x: ArrayLike) -> Floats:
        """Return the values at displacements in metres; InvalidInput outside the range."""
        return self.polynomial(x)

    @functools.cached_property
    def even(self) -> tuple[float, ...]:
        """Coefficients of 1, x^2, x^4, ... in SI: what is alike on both sides."""
        return self.polynomial.coefficients[0::2]

    @property
    def odd(self) -> tuple[float, ...]:
        """Coefficients of x, x^3, ... in SI: what differs between the sides."""
        return self.polynomial.coefficients[1::2]

    def table(self, quantity: str) -> CsvTable:
        """Return the coefficients, x in mm; range and error are in the remark."""
        column, factor = _known(quantity)
        p = self.polynomial
        remark = (
            f"polynomial of {column} in x_mm; holds from {p.low * 1e3:.6g} to "
            f"{p.high * 1e3:.6g} mm, not outside; "
            f"largest fit error {self.error * factor:.3g} ({self.relative_error:.2%} of rest)"
        )
        rows = [
            (k, c * factor * 1e-3**k, "odd" if k % 2 else "even")
            for k, c in enumerate(p.coefficients)
        ]
        return CsvTable(("power_of_x_mm", "coefficient", "part"), rows, remark, 12)


def fit_polynomial(
    curve: Characteristic, *, degree: int = 8, low: float | None = None, high: float | None = None
) -> FittedPolynomial:
    """Return the polynomial of least squares over a range in metres.

    Raises
    ------
    InvalidInput
        If the range is open or the degree is not 0 to 16.
    """
    if isinstance(degree, bool) or not isinstance(degree, int) or not 0 <= degree <= 16:
        raise InvalidInput("degree", "be a whole number from 0 to 16", repr(degree))
    ends = _range(curve, low, high)
    x = (ends[0] + ends[1]) / 2 - (ends[1] - ends[0]) / 2 * np.cos(
        np.linspace(0, math.pi, FIT_POINTS)
    )
    values = curve(x)
    fit = np.polynomial.Polynomial.fit(x, values, degree).convert().coef
    coefficients = np.zeros(degree + 1)
    coefficients[: len(fit)] = fit
    found = Polynomial(tuple(coefficients.tolist()), *ends)
    error = float(np.abs(found(x) - values).max())
    rest = abs(curve.at_rest)
    if not rest:
        raise InvalidInput("curve", f"not be 0 at rest ({millimetres(0.0)})", rest)
    return FittedPolynomial(found, error, error / rest)
