"""Records of derivatives: what each parameter does to each figure."""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from motor.base.arrays import Floats
from motor.base.drawable import DrawablePage
from motor.base.program import origin
from motor.study.parameters import TOGETHER

BL = "bl_at_rest_Tm"
"""A figure that every parameter of the field moves, in a unit without a slash."""

__all__ = ["Derivative", "Derivatives", "InductanceSlopes", "Kink", "Slope"]


@dataclass(frozen=True)
class Derivative:
    """One figure's derivative by one parameter.

    Parameters
    ----------
    figure : str
        Key of ``summary.json``.
    parameter : str
        Dotted name as in studies, or ``materials.prices.`` and a material's name.  Equal
        dimensions that cannot change alone change as one, their names with " + " between.
        ``coil.turns_per_layer`` is the one count among them: the winding grows with it.
    derivative : float
        In the figure's unit per the parameter's (mm, K, g ...; 1 for factors; a turn).  By all
        parameters but the number of turns itself that is kept.
    uncertainty : float
        Numerical, absolute; nan without a second mesh, and where none could be measured.
    unit : str
    """

    figure: str
    parameter: str
    derivative: float
    uncertainty: float
    unit: str


@dataclass(frozen=True)
class Kink:
    """Where a figure has no derivative but one to either side, as where another limit takes over.

    Parameters
    ----------
    figure, parameter : str
        As of :class:`Derivative`.
    below, above : float
        When the parameter falls and when it rises, in the same unit; up to the step of the
        difference, a hundredth of a millimetre, from the kink they lie between both.
    uncertainty : float
        Numerical, of each.
    unit : str
    """

    figure: str
    parameter: str
    below: float
    above: float
    uncertainty: float
    unit: str


@dataclass(frozen=True)
class InductanceSlopes:
    """Derivatives of a held coil's impedance, at small currents.

    Parameters
    ----------
    frequency : (n,) array
        Hertz, rising.
    position : (m,) array
        Displacements from rest, metres, rising.
    inductance, resistance : mapping of parameter to (2, n, m) array
        Derivatives of L in henry and of what eddy currents add to the resistance, in ohm, per the
        parameter's unit, and their uncertainties.
    refused : mapping of parameter to str
        Why there is none by it, where there are of the other figures.
    """

    frequency: Floats
    position: Floats
    inductance: Mapping[str, Floats]
    resistance: Mapping[str, Floats]
    refused: Mapping[str, str]

    def by_key(self) -> dict[str, Mapping[str, Floats]]:
        """Return both under names that carry their unit: inductance in mH, resistance in ohm."""
        inductance = {name: 1e3 * slopes for name, slopes in self.inductance.items()}
        return {"inductance_mH": inductance, "eddy_resistance_ohm": self.resistance}


@dataclass(frozen=True)
class Derivatives(DrawablePage):
    """All derivatives of one motor.

    Parameters
    ----------
    name : str
        The design's.
    rows : tuple of Derivative
        Where figure and derivative are finite.
    refused : mapping of parameter to str
        Why there is no derivative: parts would come apart, or the change is possible one way only.
    x : (n,) array
        Displacements of the Bl curve, metres.
    bl : mapping of parameter to (2, n) array
        Derivative of Bl(x) in T m per the parameter's unit, and its uncertainty.
    kinks : tuple of Kink
        Figures with one derivative to either side, which no row has.
    z : (m,) array
        Heights above the middle of the gap, metres.
    gap : mapping of parameter to (2, m) array
        Derivative of B_r(z) in T per the parameter's unit, and its uncertainty, at a radius that
        stays: the winding's mean one as solved.
    inductance : InductanceSlopes or None
        Those of a held coil's impedance, where they were asked for.
    """

    name: str
    rows: tuple[Derivative, ...]
    refused: Mapping[str, str]
    x: Floats
    bl: Mapping[str, Floats]
    kinks: tuple[Kink, ...]
    z: Floats
    gap: Mapping[str, Floats]
    inductance: InductanceSlopes | None = None

    def of(self, figure: str, parameter: str) -> Derivative:
        """Return one derivative; KeyError if there is none."""
        for row in self.rows:
            if row.figure == figure and row.parameter == parameter:
                return row
        raise KeyError((figure, parameter))

    def missing(self) -> list[str]:
        """Return a sentence for each parameter without derivatives, or without those of L(x)."""
        held = {} if self.inductance is None else self.inductance.refused
        what = {"": self.refused, "of the inductance ": held}
        return [
            f"no derivative {of}by {name}{self._with_others(name)}: {why}"
            for of, refused in what.items()
            for name, why in refused.items()
        ]

    def _with_others(self, name: str) -> str:
        """Return with which others a parameter has derivatives, as words."""
        groups = (one.split(TOGETHER) for one in self.bl if TOGETHER in one)
        others = next((group for group in groups if name in group), [])
        rest = " and ".join(one for one in others if one != name)
        return f" alone, but together with {rest}" if rest else ""

    def per(self, parameter: str) -> str:
        """Return the unit of a parameter that moves Bl; 1 of factors."""
        return self._per.get(parameter, "1")

    @functools.cached_property
    def _per(self) -> dict[str, str]:
        units = {row.parameter: row.unit for row in self.rows if row.figure == BL}
        return {name: unit.partition("/")[2] or "1" for name, unit in units.items()}

    def summary(self) -> dict[str, Any]:
        """Return the record that ``motor derivatives --json`` prints, curves beside the rows."""
        found: dict[str, list[dict[str, Any]]] = {
            "rows": [dataclasses.asdict(row) for row in self.rows],
            "kinks": [dataclasses.asdict(kink) for kink in self.kinks],
        }
        for row in itertools.chain(*found.values()):
            row["uncertainty"] = None if math.isnan(row["uncertainty"]) else row["uncertainty"]
        curves: dict[str, dict[str, Any]] = {
            "bl_Tm": {"x_mm": _listed(1e3 * self.x), "derivatives": self._curves(self.bl)},
            "b_radial_T": {"z_mm": _listed(1e3 * self.z), "derivatives": self._curves(self.gap)},
        }
        rest = {"refused": dict(self.refused), "curves": curves}
        if self.inductance is not None:
            held = self.inductance
            along = {"frequency_Hz": _listed(held.frequency), "x_mm": _listed(1e3 * held.position)}
            for key, slopes in held.by_key().items():
                curves[key] = {**along, "derivatives": self._curves(slopes)}
            rest["refused_inductance"] = dict(held.refused)
        return {**origin(), "name": self.name, **found, **rest}

    def _curves(self, slopes: Mapping[str, Floats]) -> dict[str, dict[str, Any]]:
        """Return a curve's derivative by each parameter that moves it, per that one's unit."""
        return {
            name: {
                "per": self.per(name),
                "derivative": _listed(line),
                "uncertainty": _listed(spread),
            }
            for name, (line, spread) in slopes.items()
            if line.any()
        }


@dataclass(frozen=True)
class Slope:
    """What one parameter does.

    Parameters
    ----------
    rows : tuple of Derivative
        At a kink the mean of both sides.
    bl, gap : (2, n) and (2, m) array
        As in :class:`Derivatives`; the second is empty beside second derivatives.
    kinks : tuple of Kink
    bends : mapping of key to float
        Second derivatives of what is read off the field, where they were asked for.
    bl_bend : (n,) array
        That of Bl(x); zeros where it was not.
    """

    rows: tuple[Derivative, ...]
    bl: Floats
    gap: Floats
    kinks: tuple[Kink, ...]
    bends: Mapping[str, float]
    bl_bend: Floats


def _listed(values: Floats) -> list[Any]:
    """Return numbers to eight digits, in lists as deep as the array, None for nan."""
    if values.ndim > 1:
        return [_listed(row) for row in values]
    return [float(f"{v:.8g}") if math.isfinite(v) else None for v in values]
