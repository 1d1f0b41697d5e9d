"""A coil's inductance as single figures: at rest and over the stroke, at one frequency."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motor.field.field import Estimate
from motor.results.impedance import BlockedImpedance, blocked_impedance

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["InductanceFigures", "inductance_figures"]

PLACES = 5
"""Places over the stroke."""


@dataclass(frozen=True)
class InductanceFigures:
    """Inductance and losses at one frequency, at rest and over the 82 % stroke to either side.

    Parameters
    ----------
    impedance : BlockedImpedance
        At one frequency.
    bl : Estimate
        At rest, T m.
    """

    impedance: BlockedImpedance
    bl: Estimate

    @property
    def at_rest(self) -> Estimate:
        """L in henry."""
        z = self.impedance
        return Estimate(*(float(v[0, z.rest]) for v in (z.inductance, z.inductance_uncertainty)))

    @property
    def swing(self) -> Estimate:
        """Largest less least L over the stroke, henry; the uncertainties of both ends added."""
        value, doubt = self.impedance.inductance[0], self.impedance.inductance_uncertainty[0]
        high, low = value.argmax(), value.argmin()
        return Estimate(float(value[high] - value[low]), float(doubt[high] + doubt[low]))

    @property
    def eddy_resistance(self) -> Estimate:
        """What eddy currents add to the coil's resistance at rest, ohm."""
        z = self.impedance
        value, doubt = z.eddy_resistance, z.eddy_resistance_uncertainty
        return Estimate(float(value[0, z.rest]), float(doubt[0, z.rest]))

    @property
    def force_lag(self) -> Estimate:
        """By what angle the reluctance force, as a pull inwards, lags behind the current's square.

        A sine's square is a mean and a cosine of twice its frequency, and so is the force on the
        blocked coil,  i sum c_j'(x) a_j  over the modes of the field, each late by its own time.
        What swings, in its mean over the stroke, is in proportion to the complex linkage per ampere
        at the inner end less that at the outer.  Radians, from minus a quarter turn to three
        quarters; half a turn means a push outwards without lag.
        """
        z = self.impedance
        omega = 2 * np.pi * z.frequency[0]
        pulled, late = (
            float(part[0, 0] - part[0, -1]) for part in (z.inductance, z.eddy_resistance / omega)
        )
        real, imaginary = (
            float(part[0, 0] + part[0, -1])
            for part in (z.inductance_uncertainty, z.eddy_resistance_uncertainty / omega)
        )
        size, turn = float(np.hypot(pulled, late)), 2 * np.pi
        angle = float(np.arctan2(late, pulled))
        angle += turn if angle < -turn / 4 else 0.0
        doubt = float(np.hypot(real, imaginary))
        return Estimate(angle, min(doubt / size, turn / 2) if size else turn / 2)

    @property
    def force_per_watt(self) -> Estimate:
        """Bl^2 over the resistance with that of eddy currents, N^2/W."""
        eddy, bl = self.eddy_resistance, self.bl
        whole = self.impedance.coil_resistance + eddy.value
        value = bl.value**2 / whole
        doubt = 2 * bl.uncertainty / bl.value + eddy.uncertainty / whole
        return Estimate(value, value * doubt)

    def material_uncertainty(self, read: Callable[[InductanceFigures], float]) -> float:
        """Return by how much a figure changes as materials give all the L and R they may."""
        z = self.impedance
        more = replace(
            z,
            inductance=z.inductance + z.inductance_material_uncertainty,
            eddy_resistance=z.eddy_resistance + z.eddy_resistance_material_uncertainty,
        )
        return abs(read(replace(self, impedance=more)) - read(self))


def inductance_figures(result: MotorResult, frequency: float) -> InductanceFigures:
    """Return the figures of a motor's coil at a frequency in Hz.

    Raises
    ------
    InvalidInput, SolveError
        As for :func:`motor.results.impedance.blocked_impedance`.
    """
    stroke = result.stroke_82.symmetric.value
    reach = min(stroke, -result.bl_curve.x[0], result.bl_curve.x[-1])
    places = np.linspace(-reach, reach, PLACES).tolist()
    return InductanceFigures(
        blocked_impedance(result, places, [frequency]), result.bl_curve.at_rest
    )
