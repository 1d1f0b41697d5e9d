"""The impedance that a held coil adds to its resistance, for use many times during a fit.

It is computed twice about the motor as drawn, with the reversible permeability of its steel as
given and larger; in between inductance and eddy-current resistance go with powers of it.  What
gap, magnet and saturation change of it is left out: an unknown of the measurement stands for that.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from geometries import Role
from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.materials import Steel, TabulatedSteel, steel_named
from motor.materials.reversible import TYPICAL_INITIAL
from motor.results.impedance import HIGHEST, blocked_impedance
from motor.results.motor_result import MotorResult

__all__ = ["HeldCoil", "held_coil", "permeability_of", "permeable"]

LARGER = 1.3
"""By how much the permeability is larger the second time."""
LOWEST, COUNT = 5.0, 6
"""Hertz below which nothing is computed, and frequencies that are."""


@dataclass(frozen=True)
class HeldCoil:
    """Inductance and eddy-current resistance of a held coil at rest.

    Parameters
    ----------
    frequency : (m,) array
        Hertz, rising.
    inductance, resistance : (m,) array
        Henry and ohm, with the drawn motor's turns and permeability.
    powers : (2, m) array
        Of the permeability, for inductance and resistance.
    turns, permeability : float
        As drawn.
    """

    frequency: Floats
    inductance: Floats
    resistance: Floats
    powers: Floats
    turns: float
    permeability: float

    def impedance(self, frequency: Floats, design: Design) -> Complexes:
        """Return what it adds to the winding's resistance, (n,) in ohm."""
        grown = permeability_of(design) / self.permeability
        turns = (design.coil.turns_in_series / self.turns) ** 2
        x = np.log(np.clip(frequency, self.frequency[0], self.frequency[-1]))
        henry, ohm = (
            turns * np.exp(PchipInterpolator(np.log(self.frequency), np.log(y * grown**p))(x))
            for y, p in zip((self.inductance, self.resistance), self.powers, strict=True)
        )
        return np.asarray(ohm + 2j * np.pi * frequency * henry)


def held_coil(drawn: MotorResult, frequency: Floats) -> HeldCoil:
    """Return a motor's held coil over the range of some frequencies (Hz).

    Raises
    ------
    InvalidInput, SolveError
    """
    low, high = max(float(frequency.min()), LOWEST), float(frequency.max())
    if not low < high <= HIGHEST:
        limit = f"reach from below to above {LOWEST:g} Hz and end at {HIGHEST:g} Hz at most"
        raise InvalidInput("frequency", limit, f"{frequency.min():g} to {high:g} Hz")
    places = np.geomspace(low, high, COUNT)
    field = dataclasses.replace(drawn.field, coarse=drawn.field.fine)
    once, larger = (
        blocked_impedance(
            dataclasses.replace(drawn, design=permeable(drawn.design, factor), field=field),
            [0.0],
            places.tolist(),
        )
        for factor in (1.0, LARGER)
    )
    pairs = [
        (r.inductance[:, 0], np.maximum(r.eddy_resistance[:, 0], 1e-12)) for r in (once, larger)
    ]
    powers = np.array([np.log(b / a) / np.log(LARGER) for a, b in zip(*pairs, strict=True)])
    return HeldCoil(
        places,
        *pairs[0],
        powers,
        float(drawn.design.coil.turns_in_series),
        permeability_of(drawn.design),
    )


def permeable(design: Design, factor: float) -> Design:
    """Return a design whose steels' reversible permeability is multiplied."""
    if factor == 1.0:
        return design
    if not factor > 0:
        raise InvalidInput("factors.permeability", "be greater than 0", factor)
    materials = design.materials
    steels = {r.name for r in design.regions if r.role is Role.STEEL} & set(materials.parts)
    own = {name: _scaled(materials.steel_of(name), factor) for name in steels}
    usual = materials.steel
    usual = steel_named(usual) if isinstance(usual, str) else usual
    return design.replace(
        materials=dataclasses.replace(
            materials, steel=_scaled(usual, factor), parts={**materials.parts, **own}
        )
    )


def _scaled(steel: Steel, factor: float) -> Steel:
    if not isinstance(steel, TabulatedSteel):
        raise InvalidInput("factors.permeability", "meet a steel given by a table", steel.name)
    first = steel.initial_permeability or TYPICAL_INITIAL
    return dataclasses.replace(
        steel,
        initial_permeability=first * factor,
        reversible_permeability=tuple((b, mu * factor) for b, mu in steel.reversible_permeability),
    )


def permeability_of(design: Design) -> float:
    """Return a number that goes with the reversible permeability of the design's steel."""
    for region in design.regions:
        steel = design.materials.steel_of(region.name) if region.role is Role.STEEL else None
        if isinstance(steel, TabulatedSteel):
            if steel.reversible_permeability:
                return steel.reversible_permeability[0][1]
            return steel.initial_permeability or TYPICAL_INITIAL
    return 1.0
