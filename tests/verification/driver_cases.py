"""The synthetic driver that several driver tests share, and helpers to look into a motion."""

from __future__ import annotations

import math

import numpy as np

from motor.base.arrays import Floats
from motor.design.characteristic import Polynomial
from motor.driver.harmonic_balance import Basis, to_phasors, to_real
from motor.driver.lossy import LossyInductance
from motor.driver.parts import Driver
from motor.driver.steady import SteadyState

BL, MASS, LOSSES, K, RE, LE, AREA = 6.8, 14.5e-3, 1.2, 1 / 1.1e-3, 5.8, 0.5e-3, 137e-4
"""Synthetic exact set, SI."""
_X = np.linspace(-12e-3, 12e-3, 25)
EDDY = LossyInductance(
    _X,
    0.4 * LE * (1 - 10 * _X),
    np.array([4e-5, 3e-4, 4e-3]),
    math.sqrt(0.4 * LE) * (1 - _X[:, None] / 0.03 * np.array([0.5, 1.0, 1.5])),
)
"""An inductance with eddy currents, that falls outwards."""


def driver(
    bl: tuple[float, ...] = (1.0,), k: tuple[float, ...] = (1.0,), **changes: float
) -> Driver:
    """Return the synthetic driver with Bl and K multiplied by polynomials of x in metres."""
    values = {
        "resistance": RE,
        "mass": MASS,
        "mechanical_resistance": LOSSES,
        "area": AREA,
        "inductance": LE,
    } | changes
    return Driver(
        force_factor=Polynomial(tuple(BL * c for c in bl)),
        stiffness=Polynomial(tuple(K * c for c in k)),
        **values,
    )


def force_phasors(state: SteadyState) -> np.ndarray:  # type: ignore[type-arg]
    """Return the peak phasors of the force Bl(x) i of a steady state, N."""
    basis = Basis.of(len(state.displacement) - 1)
    x: Floats = basis.to_time @ to_real(state.displacement)
    i: Floats = basis.to_time @ to_real(state.current)
    return to_phasors(basis.to_coefficients @ (state.system.driver.bl.value(x) * i))


def resonance(stiffness: float = K) -> float:
    """Return the resonance of the synthetic driver, Hz."""
    return math.sqrt(stiffness / MASS) / (2 * math.pi)
