"""A quantity over displacement, Bl(x), K(x) or L(x): a polynomial or a table, with its range."""

from __future__ import annotations

import functools
import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from geometries import InvalidInput, millimetres
from motor.base.arrays import Floats

__all__ = ["Characteristic", "Polynomial", "Table", "as_characteristic"]

REACH = 1.0
"""Metres beyond which no displacement is known."""
LARGEST = 1e15
"""Largest value of a table or polynomial in SI; what is beyond overflows in a spline."""
ROUNDING = 1e-12
"""Metres by which a displacement may pass the range: rounding of unit conversion."""


class Characteristic(ABC):
    """A smooth function of the displacement x in metres, known between ``low`` and ``high``.

    Calling it refuses displacements outside.  ``value``, ``slope``, ``bend`` (second
    derivative) and ``integral`` (from 0) go on along the end tangents, so that a solver may
    look past the ends on its way; who uses them has to check the range of what it found.
    """

    low: float
    high: float

    @abstractmethod
    def _inside(self, x: Floats, order: int) -> Floats:
        """Return the derivative of the given order (-1: integral from 0) within the range."""

    def __call__(self, x: ArrayLike) -> Floats:
        """Return the values at displacements in metres; InvalidInput outside the range."""
        x = np.asarray(x, float)
        if x.size and not (x.min() >= self.low - ROUNDING and x.max() <= self.high + ROUNDING):
            raise InvalidInput(
                "displacement",
                f"lie within the known range, {millimetres(self.low)} to {millimetres(self.high)}",
                f"{millimetres(float(x.min()))} to {millimetres(float(x.max()))}",
            )
        return self.value(x)

    def value(self, x: ArrayLike) -> Floats:
        """Return the values, along the end tangents outside the range."""
        x = np.asarray(x, float)
        clipped = np.clip(x, self.low, self.high)
        return np.asarray(
            self._inside(clipped, 0) + self._inside(clipped, 1) * (x - clipped), float
        )

    def slope(self, x: ArrayLike) -> Floats:
        """Return the first derivative per metre."""
        return self._inside(np.clip(np.asarray(x, float), self.low, self.high), 1)

    def bend(self, x: ArrayLike) -> Floats:
        """Return the second derivative per metre squared, 0 outside the range."""
        x = np.asarray(x, float)
        clipped = np.clip(x, self.low, self.high)
        return np.where(x == clipped, self._inside(clipped, 2), 0.0)

    def integral(self, x: ArrayLike) -> Floats:
        """Return the integral from 0 to x, in the quantity's unit times metres."""
        x = np.asarray(x, float)
        clipped = np.clip(x, self.low, self.high)
        rest = x - clipped
        ends = self._inside(clipped, 0) * rest + self._inside(clipped, 1) * rest**2 / 2
        return np.asarray(self._inside(clipped, -1) + ends, float)

    @property
    def at_rest(self) -> float:
        """Value at x = 0."""
        return float(self.value(0.0))

    @property
    def is_constant(self) -> bool:
        """Whether the quantity does not depend on the displacement."""
        return False

    def frozen(self) -> Polynomial:
        """Return the constant that equals the value at rest, over the same range."""
        return Polynomial((self.at_rest,), self.low, self.high)

    @abstractmethod
    def scaled(self, factor: float) -> Characteristic:
        """Return the quantity times a factor, over the same range."""

    def demand(self, name: str, low: float, high: float) -> None:
        """Raise InvalidInput unless the range covers ``low`` to ``high``, metres."""
        if self.low > low + ROUNDING or self.high < high - ROUNDING:
            raise InvalidInput(
                name,
                f"cover the stroke, {millimetres(low)} to {millimetres(high)}",
                f"{millimetres(self.low)} to {millimetres(self.high)}",
            )

    def demand_positive(self, name: str, *, zero: bool = False) -> None:
        """Raise InvalidInput unless all values within the range are above (or at) zero."""
        low = self.low if math.isfinite(self.low) else 0.0
        high = self.high if math.isfinite(self.high) else 0.0
        with np.errstate(over="ignore", invalid="ignore"):
            values = self.value(np.linspace(low, high, 401))
        if not np.abs(values).max() <= LARGEST:
            limit = f"be at most {LARGEST:g} in SI units all over its range"
            raise InvalidInput(name, limit, f"{np.abs(values).max():.6g}")
        least = float(values.min())
        if least < 0 or (least == 0 and not zero):
            raise InvalidInput(name, f"be {'0 or more' if zero else 'greater than 0'}", least)


@dataclass(frozen=True)
class Polynomial(Characteristic):
    """Sum of ``coefficients[k] x^k``.

    Parameters
    ----------
    coefficients : tuple of float
        In the quantity's unit over metres to the power k, from k = 0.
    low, high : float
        Range in metres over which the polynomial holds; polynomials extrapolate badly.
    """

    coefficients: tuple[float, ...]
    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        if not self.coefficients or not all(map(math.isfinite, self.coefficients)):
            raise InvalidInput("coefficients", "be finite numbers", self.coefficients)
        for end in filter(math.isfinite, (self.low, self.high)):
            if abs(end) > REACH:
                raise InvalidInput("range", f"end within {millimetres(REACH)}", millimetres(end))
        if not self.low <= 0 <= self.high:
            raise InvalidInput(
                "range", "hold the rest position 0 mm", f"{self.low * 1e3} to {self.high * 1e3} mm"
            )

    @functools.cached_property
    def _rows(self) -> dict[int, tuple[float, ...]]:
        c = self.coefficients
        rows = {-1: (0.0, *(v / (k + 1) for k, v in enumerate(c))), 0: c}
        for order in (1, 2):
            last = rows[order - 1]
            rows[order] = tuple(k * v for k, v in enumerate(last))[1:] or (0.0,)
        return rows

    def _inside(self, x: Floats, order: int) -> Floats:
        row = self._rows[order]
        total = np.full_like(x, row[-1])
        for value in row[-2::-1]:
            total = total * x + value
        return total

    @property
    def is_constant(self) -> bool:
        """Whether the quantity does not depend on the displacement."""
        return not any(self.coefficients[1:])

    def scaled(self, factor: float) -> Polynomial:
        """Return the quantity times a factor, over the same range."""
        return Polynomial(tuple(factor * c for c in self.coefficients), self.low, self.high)


@dataclass(frozen=True, eq=False)
class Table(Characteristic):
    """A cubic spline through a table.

    Parameters
    ----------
    x : (n,) sequence of float
        Displacements in metres, rising, n at least 4, 0 within.
    values : (n,) sequence of float
    """

    x: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        x, values = np.asarray(self.x, float), np.asarray(self.values, float)
        if x.ndim != 1 or x.shape != values.shape or len(x) < 4:
            raise InvalidInput(
                "table", "have at least 4 rows of x and value", f"{x.size} x, {values.size} values"
            )
        if not (np.isfinite(x).all() and np.isfinite(values).all()):
            raise InvalidInput("table", "hold finite numbers", "others")
        fall = np.flatnonzero(np.diff(x) <= 0)
        if len(fall):
            raise InvalidInput(
                "table", "have rising displacements", f"{x[fall[0] + 1]:g} m after {x[fall[0]]:g} m"
            )
        if not x[0] <= 0 <= x[-1]:
            raise InvalidInput(
                "table", "hold the rest position 0 mm", f"{x[0] * 1e3:g} to {x[-1] * 1e3:g} mm"
            )
        far = float(x[np.abs(x).argmax()])
        if abs(far) > REACH:
            limit = f"have displacements of at most {millimetres(REACH)}"
            raise InvalidInput("table", limit, millimetres(far))
        if np.abs(values).max() > LARGEST:
            limit = f"hold values of at most {LARGEST:g} in SI units"
            raise InvalidInput("table", limit, f"{np.abs(values).max():.6g}")
        object.__setattr__(self, "x", tuple(x.tolist()))
        object.__setattr__(self, "values", tuple(values.tolist()))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Table) and (self.x, self.values) == (other.x, other.values)

    def __hash__(self) -> int:
        return hash((self.x, self.values))

    @property
    def low(self) -> float:  # type: ignore[override]
        """Lower end of the range in metres."""
        return self.x[0]

    @property
    def high(self) -> float:  # type: ignore[override]
        """Upper end of the range in metres."""
        return self.x[-1]

    def scaled(self, factor: float) -> Table:
        """Return the quantity times a factor, over the same range."""
        return Table(self.x, tuple(factor * v for v in self.values))

    @functools.cached_property
    def splines(self) -> dict[int, Any]:
        """The spline (0), its integral (-1) and its derivatives (1, 2)."""
        from scipy.interpolate import CubicSpline

        spline = CubicSpline(self.x, self.values)
        return {
            -1: spline.antiderivative(),
            0: spline,
            1: spline.derivative(),
            2: spline.derivative(2),
        }

    def _inside(self, x: Floats, order: int) -> Floats:
        spline = self.splines[order]
        result: Floats = spline(x) - (spline(0.0) if order == -1 else 0.0)
        return result


def as_characteristic(value: float | Characteristic) -> Characteristic:
    """Return a number as a constant over any range; leave a characteristic as it is."""
    return value if isinstance(value, Characteristic) else Polynomial((float(value),))
