"""Soft magnetic steel: a published B-H table turned into a smooth, strictly rising H(B)."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace

import numpy as np

from geometries.errors import InvalidInput
from motor.base.arrays import Floats
from motor.base.constants import MU0, NU0
from motor.base.drawable import Drawable
from motor.base.names import pick
from motor.materials.magnet import REFERENCE_TEMPERATURE
from motor.materials.reversible import TYPICAL_INITIAL, TYPICAL_SPREAD, ReversibleLaw
from motor.materials.tables import read_table

__all__ = [
    "BHCurve",
    "LinearSteel",
    "Steel",
    "TabulatedSteel",
    "steel_named",
    "steel_names",
]


TAIL = 1.8
"""What the field at the last row is multiplied by for the field over which an unknown rest of the
polarisation is taken up: the median of the built-in steels when cut at each of their rows."""
FLAT = 15.0
"""Relative differential permeability below which less is left: the same cuts, beyond the knee."""
LEAST_TAIL = 0.3
TAIL_SPREAD = (0.3, 2.6)
"""Shares of that rest, from about the tenth to beyond the ninetieth per cent of the same cuts."""
KNOWN_SPREAD = (0.4, 2.0)
"""The same where the saturation is stated: steel does not bend there just as the curve does."""
MOST_B, MOST_H = 6.0, 5e6
"""Largest flux density in tesla and field in A/m of a row."""
MOST_PERMEABILITY = 1e6
"""Largest relative permeability between rows; the softest alloys reach about it."""
MOST_PERMEABLE_AT = 1.3
"""Field at which a magnetising curve has its largest B/H, over the coercivity (common practice, no
source)."""
STEP = 1e-3
"""Spacing of the fine table in tesla."""
B_END = 6.0
"""End of the fine table in tesla; beyond it the last slope is kept, that of free space in steel."""


class BHCurve:
    """Field strength H as a function of flux density B, with its derivative and integral.

    Evaluated by piecewise cubic interpolation on a fine uniform grid, so one look-up costs the
    same for any table.  H is strictly rising in B; H(0) = 0.

    Parameters
    ----------
    field : (n,) array
        H in A/m at 0, STEP, 2 STEP, ... tesla.
    slope : (n,) array
        dH/dB in m/H at the same points.
    law : ReversibleLaw or None
        Of small alternating fields; None for the slope of the curve.
    coercivity : float or None
        A/m; None for a guess from the field where the curve is most permeable.
    """

    def __init__(
        self,
        field: Floats,
        slope: Floats,
        law: ReversibleLaw | None = None,
        coercivity: float | None = None,
    ) -> None:
        self.law = law
        self._coercivity = coercivity
        self.saturation = float(STEP * (len(field) - 1) - MU0 * field[-1])
        self._h = field
        self._d = slope * STEP
        self._end_slope = float(slope[-1])
        rise = self._h[1:] - self._h[:-1]
        self._c2 = 3 * rise - 2 * self._d[:-1] - self._d[1:]
        self._c3 = self._d[:-1] + self._d[1:] - 2 * rise
        piece = self._h[:-1] + self._d[:-1] / 2 + self._c2 / 3 + self._c3 / 4
        self._w = np.concatenate([[0.0], np.cumsum(piece * STEP)])

    @functools.cached_property
    def coercivity(self) -> float:
        """Coercivity in A/m."""
        if self._coercivity is not None:
            return self._coercivity
        b = STEP * np.arange(1, len(self._h))
        return float(self._h[1:][np.argmax(b / self._h[1:])]) / MOST_PERMEABLE_AT

    def _locate(self, b: Floats) -> tuple[np.ndarray, Floats, Floats]:
        scaled = b * (1.0 / STEP)
        inside = np.minimum(scaled, len(self._h) - 1 - 1e-9)
        i = inside.astype(np.intp)
        return i, inside - i, (scaled - inside) * STEP

    def field_and_slope(self, b: Floats) -> tuple[Floats, Floats]:
        """Return H in A/m and dH/dB in m/H at flux densities b >= 0 in tesla."""
        i, t, beyond = self._locate(b)
        d, c2, c3 = self._d[i], self._c2[i], self._c3[i]
        h = self._h[i] + t * (d + t * (c2 + t * c3)) + self._end_slope * beyond
        return h, (d + t * (2 * c2 + 3 * t * c3)) * (1.0 / STEP)

    def energy(self, b: Floats) -> Floats:
        """Return the energy density, integral of H dB from 0, in J/m^3."""
        i, t, beyond = self._locate(b)
        part = t * (self._h[i] + t * (self._d[i] / 2 + t * (self._c2[i] / 3 + t * self._c3[i] / 4)))
        end = self._h[-1] * beyond + self._end_slope * beyond**2 / 2
        result: Floats = self._w[i] + part * STEP + end
        return result


@dataclass(frozen=True)
class Steel(Drawable):
    """A steel as the designer names it.

    Parameters
    ----------
    name : str
    density : float
        kg/m^3.
    source : str
        Where the table comes from.
    conductivity : float
        S/m at 20 degC; 0 if unknown.
    conductivity_spread : float
        Share by which it may be more or less.
    temperature_coefficient : float
        Relative change of the resistivity per kelvin, referred to 20 degC.
    price : float
        Per kilogram.
    """

    name: str
    density: float
    source: str
    _: KW_ONLY
    conductivity: float = 0.0
    conductivity_spread: float = 0.15
    temperature_coefficient: float = 0.0
    price: float = 0.0

    def curve(self) -> BHCurve:
        """Return the steel's H(B)."""
        raise NotImplementedError

    def conductivity_at(self, temperature: float) -> float:
        """Return the conductivity in S/m at a temperature in kelvin."""
        rise = temperature - REFERENCE_TEMPERATURE
        return self.conductivity / (1 + self.temperature_coefficient * rise)


@dataclass(frozen=True)
class LinearSteel(Steel):
    """Steel of constant permeability, for checks against closed forms."""

    relative_permeability: float

    def curve(self) -> BHCurve:
        """Return H = B / (mu0 mu_r)."""
        b = np.arange(0.0, B_END + STEP / 2, STEP)
        nu = NU0 / self.relative_permeability
        return BHCurve(b * nu, np.full_like(b, nu))


@dataclass(frozen=True)
class TabulatedSteel(Steel):
    """Steel given by a table of B (tesla) and H (A/m), both rising.

    Parameters
    ----------
    flux_density, field : tuple of float
        The table.  A leading (0, 0) is implied.
    saturation : float or None
        Saturation polarisation in tesla, towards which the curve bends beyond its last row;
        None to let it bend by the slope between its last two rows.
    initial_permeability : float or None
        Relative; None for TYPICAL_INITIAL.
    initial_spread : float
        Factor by which it may be more or less.
    coercivity : float or None
        A/m; None for a guess, see :class:`BHCurve`.
    reversible_permeability : tuple of pairs of float
        Measured: flux density in tesla and relative reversible permeability; empty for Gans'.
    """

    flux_density: tuple[float, ...]
    field: tuple[float, ...]
    saturation: float | None = None
    initial_permeability: float | None = None
    initial_spread: float = TYPICAL_SPREAD
    coercivity: float | None = None
    reversible_permeability: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        _ = self.law  # checks itself
        b, h = np.asarray(self.flux_density), np.asarray(self.field)
        if len(b) != len(h) or len(b) < 4:
            raise InvalidInput(
                f"steel {self.name}", "have at least 4 rows of B and H", f"{len(b)} and {len(h)}"
            )
        for column, values in (("B", b), ("H", h)):
            for row in np.flatnonzero(~(np.diff(values, prepend=0.0) > 0)).tolist():
                if row == 0 and values[0] == 0:
                    continue
                raise InvalidInput(
                    f"steel {self.name}, row {row + 1}",
                    f"rise in {column}",
                    f"{values[row]} after {values[row - 1] if row else 0.0}",
                )
        for column, values, most, unit in (("B", b, MOST_B, "T"), ("H", h, MOST_H, "A/m")):
            for row in np.flatnonzero(~(np.abs(values) <= most)).tolist():
                raise InvalidInput(
                    f"steel {self.name}, row {row + 1}",
                    f"have {column} of at most {most:g} {unit}",
                    f"{values[row]:g} {unit}",
                )
        steep = np.diff(b, prepend=0.0) > MU0 * MOST_PERMEABILITY * np.diff(h, prepend=0.0)
        for row in np.flatnonzero(steep & (b > 0)).tolist():
            raise InvalidInput(
                f"steel {self.name}, row {row + 1}",
                f"rise by a relative permeability of at most {MOST_PERMEABILITY:g}",
                f"B {b[row]:g} T at H {h[row]:g} A/m",
            )
        for row in range(1, len(b)):
            if b[row] - b[row - 1] < MU0 * (h[row] - h[row - 1]) * (1 - 1e-3):
                raise InvalidInput(
                    f"steel {self.name}, row {row + 1}",
                    "rise at least as steeply as free space (mu0)",
                    f"B {b[row - 1]} to {b[row]} over H {h[row - 1]} to {h[row]}",
                )

    def curve(self) -> BHCurve:
        """Return a smooth curve through the table.

        A cubic spline in log B and log H (twice continuously differentiable, rising wherever it
        is used), with slope 1 at the origin, i.e. constant initial permeability, and the slope
        of free space at the end.
        """
        return _smooth(self.flux_density, self.field, self.saturation, self.law, self.coercivity)

    def tails(self) -> tuple[TabulatedSteel, TabulatedSteel]:
        """Return the steel with less and with more saturation beyond its last row.

        What is left to a stated saturation counts as uncertain by KNOWN_SPREAD, a guessed rest
        by TAIL_SPREAD.
        """
        last, rise = _end(np.asarray(self.flux_density), np.asarray(self.field))
        if self.saturation is None:
            left, spread = _rest(rise, self.field[-1]), TAIL_SPREAD
        else:
            left, spread = max(self.saturation - last, 0.0), KNOWN_SPREAD
        low, high = (replace(self, saturation=last + share * left) for share in spread)
        return low, high

    @property
    def law(self) -> ReversibleLaw:
        """How permeable the steel is to small alternating fields."""
        initial = self.initial_permeability or TYPICAL_INITIAL
        return ReversibleLaw(initial, self.initial_spread, self.reversible_permeability)


@functools.lru_cache(maxsize=64)
def _smooth(
    flux_density: tuple[float, ...],
    field: tuple[float, ...],
    saturation: float | None,
    law: ReversibleLaw,
    coercivity: float | None,
) -> BHCurve:
    from scipy.interpolate import CubicSpline, PchipInterpolator

    b, h = np.asarray(flux_density, float), np.asarray(field, float)
    b, h = b[b > 0], h[b > 0]
    beyond, end_slope = _beyond(b, h, saturation)
    grid = np.arange(0.0, B_END + STEP / 2, STEP)
    grid[0] = 1e-9
    x, log_b, log_h = np.log(grid), np.log(b), np.log(h)
    ends = ((1, 1.0), (1, end_slope * b[-1] / h[-1]))
    spline = CubicSpline(log_b, log_h, bc_type=ends)
    if spline(np.linspace(log_b[0], log_b[-1], 4000), 1).min() <= 0.02:
        spline = PchipInterpolator(log_b, log_h)
    below, above = x < log_b[0], x > log_b[-1]
    inside = np.clip(x, log_b[0], log_b[-1])
    value = np.exp(np.where(below, log_h[0] + (x - log_b[0]), spline(inside)))
    slope = np.where(below, 1.0, spline(inside, 1)) * value / grid
    value[above], slope[above] = beyond(grid[above])
    value[0] = 0.0
    return BHCurve(value, _limited(value, slope), law, coercivity)


def _beyond(
    b: Floats, h: Floats, saturation: float | None
) -> tuple[Callable[[Floats], tuple[Floats, Floats]], float]:
    """Return H and dH/dB beyond the last row of a table, and the slope at that row.

    The polarisation approaches its saturation Js exponentially from the last row,
    J = Js - (Js - J_n) exp(-(H - H_n)/H_s), with H_s from the slope between the last two rows.
    Where Js is not known it is guessed, see _rest.
    """
    from scipy.interpolate import CubicHermiteSpline

    last, rise = _end(b, h)
    above = _rest(rise, h[-1]) if saturation is None else max(saturation - last, 1e-6)
    scale = above / rise
    step = np.concatenate([[0.0], np.geomspace(1e-3 * scale, 1.1 * B_END * NU0, 4000)])
    decay = above * np.exp(-step / scale)
    rows = MU0 * (h[-1] + step) + last + above - decay
    spline = CubicHermiteSpline(rows, h[-1] + step, 1.0 / (MU0 + decay / scale))
    return (lambda x: (spline(x), spline(x, 1))), 1.0 / (MU0 + rise)


def _end(b: Floats, h: Floats) -> tuple[float, float]:
    """Return a table's last polarisation (T) and its susceptibility there times mu0."""
    rise = (b[-1] - b[-2]) / (h[-1] - h[-2]) - MU0
    return float(b[-1] - MU0 * h[-1]), float(max(rise, 1e-3 * MU0))


def _rest(rise: float, field: float) -> float:
    """Return how much polarisation in T is guessed to be left beyond a last row.

    It is taken up over TAIL times the last row's field in A/m; over less where the curve is nearly
    that of free space already.
    """
    return rise * field * min(max(TAIL * rise / (FLAT * MU0), LEAST_TAIL), TAIL)


def _limited(value: Floats, slope: Floats) -> Floats:
    """Return slopes with which the cubic pieces through the values rise monotonically.

    At most three times the lesser of the neighbouring secants (F. N. Fritsch and R. E. Carlson,
    SIAM Journal on Numerical Analysis 17, 1980, 238-246); elsewhere unchanged.
    """
    secant = np.diff(value) / STEP
    least = np.minimum(np.append(secant, np.inf), np.append(np.inf, secant))
    return np.asarray(np.minimum(slope, 3 * least))


@functools.cache
def _steels() -> dict[str, TabulatedSteel]:
    steels = {}
    for row in read_table("steel_grades.csv"):
        points = read_table(f"{row['name']}.csv")
        saturation = row["saturation_T"]
        steels[row["name"]] = TabulatedSteel(
            name=row["name"],
            density=float(row["density_kg_m3"]),
            source=f"{row['source']}; {row['alternating_source']}",
            conductivity=float(row["conductivity_S_m"]),
            conductivity_spread=float(row["conductivity_spread"]),
            temperature_coefficient=float(row["temperature_coefficient"]),
            initial_permeability=float(row["initial_permeability"]),
            initial_spread=float(row["initial_spread"]),
            coercivity=float(row["coercivity_A_m"]) if row["coercivity_A_m"] else None,
            price=float(row["price_per_kg"]),
            flux_density=tuple(float(p["b_T"]) for p in points),
            field=tuple(float(p["h_A_m"]) for p in points),
            saturation=float(saturation) if saturation else None,
        )
    return steels


def steel_names() -> list[str]:
    """Return all steels of the built-in tables."""
    return list(_steels())


def steel_named(name: str) -> TabulatedSteel:
    """Return a steel of the built-in tables; InvalidInput with near names if unknown."""
    return pick(_steels(), name, "steel")
