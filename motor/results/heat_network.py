"""The thermal model as few numbers: two bodies, and the time constants of the coil.

Two bodies, coil (winding and former) and motor (all parts), are exact where the programme has
settled: their resistances are what flows there over the difference of mean temperatures.  A row of
two to four elements, each a resistance with a time constant, follows the coil over time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import eigh
from scipy.optimize import least_squares, nnls

from motor.base.arrays import Floats
from motor.field.heat_mesh import COIL, WINDING
from motor.results.heat_model import HeatModel, Settled
from motor.results.heat_surroundings import WAYS

__all__ = ["TimeConstants", "TwoBodies", "calibrated", "time_constants", "two_bodies"]

CALIBRATION_ROUNDS = 40
NEAR_ENOUGH = 0.01
"""Misfit over the coil's rise at which no further element is added."""


@dataclass(frozen=True)
class TwoBodies:
    """Coil and motor.

    Parameters
    ----------
    coil_to_motor, motor_to_air, coil_to_air : float
        K/W; ``coil_to_air`` infinite if nothing goes that way.  Heat of eddy currents goes from
        the motor to the air.
    coil_capacity, motor_capacity : float
        J/K.
    motor : float
        Mean temperature of the motor, by capacity, K.
    """

    coil_to_motor: float
    motor_to_air: float
    coil_to_air: float
    coil_capacity: float
    motor_capacity: float
    motor: float


def two_bodies(model: HeatModel, settled: Settled) -> TwoBodies:
    """Return the two bodies that a settled model amounts to."""
    reduced, state = model.reduced, settled.state
    warm = dict(zip(reduced.bodies, 1 + reduced.capacity_slope * model.rises(state), strict=True))
    capacities = {n: c * float(warm.get(n, warm[WINDING])) for n, c in reduced.whole.items()}
    coil = [name for name in capacities if name.startswith(COIL)]
    motor = [name for name in capacities if name not in coil]
    mass = sum(capacities[n] for n in motor)
    rise = sum(capacities[n] * float(reduced.mean[n] @ state) for n in motor) / mass
    hot = float(reduced.mean[WINDING] @ state)
    flow = {
        way: sum(
            settled.coefficients[k] * float(reduced.to_air[k] @ state)
            for k in kinds
            if k in reduced.to_air
        )
        for way, kinds in WAYS.items()
    }
    out = flow["motor_to_air"]
    across = out - sum(settled.losses.values())
    rules = model.design.heat
    return TwoBodies(
        coil_to_motor=(hot - rise) / across,
        motor_to_air=rise / out,
        coil_to_air=hot / flow["coil_to_air"] if flow["coil_to_air"] > 0 else math.inf,
        coil_capacity=rules.coil_capacity or sum(capacities[n] for n in coil),
        motor_capacity=rules.motor_capacity or mass,
        motor=model.ambient + rise,
    )


def calibrated(model: HeatModel, power: float) -> HeatModel:
    """Return the model with its ways scaled to the resistances that its design gives as measured.

    They hold at that programme power in W.
    """
    rules = model.design.heat
    wanted: Mapping[str, float] = {
        way: value for way in WAYS if (value := getattr(rules, way)) is not None
    }
    if not wanted:
        return model
    scales = dict(model.around.scales)
    for _ in range(CALIBRATION_ROUNDS):
        model = replace(model, around=replace(model.around, scales=scales))
        found = two_bodies(model, model.settle(max(power, 1.0)))
        off = {way: getattr(found, way) / value for way, value in wanted.items()}
        if max(abs(math.log(ratio)) for ratio in off.values()) < 1e-6:
            break
        scales = scales | {way: scales.get(way, 1.0) * ratio for way, ratio in off.items()}
    return model


@dataclass(frozen=True)
class TimeConstants:
    """How the coil warms after a step of heat: a sum of R (1 - exp(-t / tau)).

    Parameters
    ----------
    tau : (n,) array
        s, rising.
    coil, magnet : (n,) array
        K/W that each element adds to the mean of the coil, and of the warmest magnet.
    misfit : float
        Largest difference of the coil to the whole model, over its steady rise.
    """

    tau: Floats
    coil: Floats
    magnet: Floats
    misfit: float


def time_constants(model: HeatModel, settled: Settled, magnet: str) -> TimeConstants:
    """Return the fewest elements, two to four, that follow a settled model about its state."""
    reduced = model.reduced
    stiffness = model.matrix(settled.coefficients, settled.state)
    warm = 1 + reduced.capacity_slope * model.rises(settled.state)
    rate, shape = eigh(stiffness, np.tensordot(warm, reduced.capacities, 1))
    source = shape.T @ model.load(settled.state)
    parts = {n: (reduced.mean[n] @ shape) * source / rate for n in (WINDING, magnet)}
    end = float(parts[WINDING].sum())
    low, high = 0.05 / rate.max(), 8 / rate.min()
    t = np.geomspace(max(low, 1e-3), high, 300)
    wanted = {n: (1 - np.exp(-np.outer(t, rate))) @ part for n, part in parts.items()}

    def fitted(tau: Floats) -> tuple[Floats, Floats]:
        matrix = 1 - np.exp(-t[:, None] / tau)
        steady = np.vstack([matrix, np.full((1, len(tau)), 1e3)])
        r, _ = nnls(steady, np.append(wanted[WINDING], 1e3 * end))
        return r, matrix

    def residual(logs: Floats) -> Floats:
        r, matrix = fitted(np.exp(logs))
        return np.asarray((matrix @ r - wanted[WINDING]) / end)

    best = None
    for count in (2, 3, 4):
        share = np.cumsum(parts[WINDING][::-1]) / end
        taus = np.interp((np.arange(count) + 0.5) / count, share, np.log(1 / rate[::-1]))
        taus += np.linspace(-0.5, 0.5, count)
        logs = np.sort(least_squares(residual, taus, xtol=1e-8).x)
        r, matrix = fitted(np.exp(logs))
        misfit = float(np.abs(matrix @ r - wanted[WINDING]).max() / end)
        magnets = np.linalg.lstsq(matrix, wanted[magnet], rcond=None)[0]
        if best is None or misfit < best.misfit:
            best = TimeConstants(np.exp(logs), r, magnets, misfit)
        if misfit < NEAR_ENOUGH:
            break
    assert best is not None
    return best
