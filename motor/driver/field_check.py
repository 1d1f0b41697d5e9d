"""A driver's model beside its whole field in the loop, at one tone."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import SolveError
from motor.base.steps import step
from motor.driver.drive import sine
from motor.driver.field_in_loop import (
    SKIN_HARMONIC,
    FieldLoop,
    Loop,
    LoopState,
    field_loop,
    march,
)
from motor.driver.lossy import LossyInductance
from motor.driver.parts import DriverSystem, field_inductance, loud_of
from motor.driver.run import system_of
from motor.driver.steady import SteadyState, steady_state
from motor.driver.within_period import corrected
from motor.results.coil_model import loud_modes
from motor.results.motor_result import MotorResult

__all__ = ["FieldCheck", "check_driver", "start_of"]

STEPS = 80
"""Steps to a period; what they change of a harmonic goes with their square."""
STARTED = 5
"""Harmonics with which the field starts."""
AGREED = 1e-3
"""Of a period within which the field at the start comes to agree with its current."""
KEPT = 8
"""Harmonics that are read."""
LEAST, MOST = 2, 8
"""Periods at least and at most."""
SETTLED = 0.01
"""Relative change of the distortion from one period to the next that counts as none, beside that
share of a thousandth."""


@dataclass(frozen=True)
class FieldCheck:
    """One tone by the field in the loop and by the models in modes.

    Parameters
    ----------
    field : SteadyState
        Phasors of the last period of the field in the loop.
    model : SteadyState
        With the steel as permeable as at this tone's current: see
        :func:`motor.field.minor_loops.share_at`.
    unsaturated : SteadyState
        The same without saturation by the coil's current.
    minor_loops, curve : SteadyState
        With steel as permeable as at small currents, and along its magnetising curve.
    within : SteadyState or None
        Without saturation by the coil's current, but what steel does within the period: see
        :mod:`motor.driver.within_period`.
    share : float
        Of minor loops' excess reluctivity in the model.
    change : float
        Of the distortion over the last period, a share of the whole pressure.
    periods, unknowns : int
    imbalance : float
        Of the energies, a share of what the source gave and took.
    """

    field: SteadyState
    model: SteadyState
    unsaturated: SteadyState
    minor_loops: SteadyState
    curve: SteadyState
    within: SteadyState | None
    share: float
    change: float
    periods: int
    unknowns: int
    imbalance: float

    @property
    def states(self) -> dict[str, SteadyState]:
        """Return all by name, the field first."""
        found = {
            "field in the loop": self.field,
            "model": self.model,
            "model, unsaturated": self.unsaturated,
            "on minor loops": self.minor_loops,
            "along the curve": self.curve,
        }
        return found if self.within is None else found | {"steel within a period": self.within}


@one_blas_thread()
def check_driver(
    result: MotorResult, tones: list[tuple[float, float]], *, steps: int = STEPS
) -> list[FieldCheck]:
    """Return the field in the loop beside the models at tones (Hz, V r.m.s.).

    Raises
    ------
    InvalidInput, SolveError
    """
    plain = system_of(result)
    with step("models in modes"):
        loops = field_inductance(result)
    found = []
    for frequency, voltage in tones:
        with step(f"field in the loop at {frequency:g} Hz, {voltage:g} V") as now:
            one = _check(result, plain, loops, frequency, voltage, steps)
            now.detail = f"{one.unknowns} unknowns, {one.periods} periods of {steps} steps"
        found.append(one)
    return found


def _check(
    result: MotorResult,
    plain: DriverSystem,
    loops: LossyInductance,
    frequency: float,
    voltage: float,
    steps: int,
) -> FieldCheck:
    def model(inductance: LossyInductance) -> SteadyState:
        system = plain.replace(driver=plain.driver.replace(inductance=inductance))
        state, findings = steady_state(system, frequency, voltage)
        if state is None:
            raise SolveError(findings[0].text if findings else "no steady motion was found")
        return state

    assert loops.loud is not None
    first = model(loops)
    loud = loud_of(loud_modes(result, float(abs(first.current[1])), frequency), loops.saturation)
    here = [loud.inductance, loud.inductance.unsaturated(), replace(loops, loud=None), loud.curve]
    models = [model(inductance) for inductance in here]
    system = models[0].system
    loop = field_loop(result, system, SKIN_HARMONIC * frequency, loud.share)
    at = start_of(loop, models[0])
    h, supplied, left = 1 / (frequency * steps), 0.0, 0.0
    before, change = math.inf, math.inf
    for periods in range(1, MOST + 1):
        run = march(loop, at, lambda t: _volt(t, frequency, voltage), h, steps)
        at = run.end
        supplied += float(np.abs(run.supplied).sum())
        left += run.left
        found = _state(system, frequency, voltage, run)
        change, before = abs(found.thd - before), found.thd
        if periods >= LEAST and change < SETTLED * (found.thd + 1e-3):
            break
    energy = abs(left) / supplied
    one, unsaturated, small, curve = models
    return FieldCheck(
        found,
        one,
        unsaturated,
        small,
        curve,
        corrected(loop, unsaturated),
        loud.share,
        change,
        periods,
        loop.harmonic.unknowns,
        energy,
    )


def _volt(t: float, frequency: float, voltage: float) -> float:
    return math.sqrt(2) * voltage * math.sin(2 * math.pi * frequency * t)


def _state(system: DriverSystem, frequency: float, voltage: float, run: Loop) -> SteadyState:
    """Return the phasors of one period, without what is left of the start in the travel.

    That is the parabola by which travel and speed end the period otherwise than they began it: a
    resonance far below the tone takes many periods to die out, and sounds like harmonics.
    """
    i, n = run.current, len(run.current)
    t = np.arange(n + 1) / n
    gone = run.displacement[-1] - run.displacement[0]
    faster = (run.velocity[-1] - run.velocity[0]) / frequency
    x = run.displacement - faster / 2 * t**2 - (gone - faster / 2) * t
    k = np.arange(KEPT + 1)
    travel = 2 / n * np.fft.fft(x[:-1])[: KEPT + 1]
    current = 2 / n * np.fft.fft(i)[: KEPT + 1] * np.exp(-1j * math.pi * k / n)
    travel[0], current[0] = travel[0] / 2, current[0] / 2
    return SteadyState(system, sine(frequency), voltage, travel, current, 0.0)


def start_of(loop: FieldLoop, model: SteadyState) -> LoopState:
    """Return where a model's steady motion stands as the source passes 0 V upwards.

    Its current, at its places, drives the field as if steel stayed as permeable as at rest.
    """
    frequency, k = model.drive.frequency, np.arange(len(model.displacement))
    omega: Floats = np.asarray(2 * math.pi * frequency * k, float)
    turn = np.exp(2j * math.pi * np.outer(np.arange(64) / 64, k))
    x, i = ((turn * phasors).real.sum(axis=1) for phasors in (model.displacement, model.current))
    drive = 2 / 64 * np.fft.fft(loop.loads(x) * i[:, None], axis=0)[: STARTED + 1]
    drive[0] /= 2
    a = loop.rest.copy()
    for order, row in enumerate(drive):
        whole = np.column_stack([loop.load(row.real), loop.load(row.imag)])
        real, imaginary = loop.harmonic.potentials(order * frequency, whole).T
        a += (real + 1j * imaginary).real
    travel, speed = model.displacement, 1j * omega * model.displacement
    p, q = np.zeros_like(speed), np.zeros_like(speed)
    if (box := loop.system.box) is not None:
        p[1:] = -loop.system.driver.area * speed[1:] / box.admittance(omega[1:])
        if box.port_mass:
            q[1:] = p[1:] / (1j * omega[1:] * box.port_mass)
    x0, v0, p0, q0, i0 = (float(w.real.sum()) for w in (travel, speed, p, q, model.current))
    return LoopState(loop.agreed(a, x0, i0, AGREED / frequency), x0, v0, p0, q0, i0)
