"""Inductance at rest over a production: what a station at the end of the line would read.

Computed from the field of the inferred sample, and of motors with each unknown a prior deviation
to either side, each on its own mesh: no derivative of eddy currents is at hand.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from motor.base.steps import step
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import MotorResult, solve
from motor.study.end_of_line import INDUCTANCE
from motor.study.forward import built, wound
from motor.study.inferred import Fit
from motor.study.predicted import Predicted

__all__ = ["produced_inductance"]

FREQUENCY = 1000.0
"""Hz."""


def produced_inductance(fit: Fit) -> Predicted:
    """Return the inductance at FREQUENCY, coil held at rest, in mH, of sample and production.

    What an impedance among the measurements tells of it counts, as a factor on what is computed.
    Units scatter as the priors say; each unknown by half of what lies between its two sides.

    Raises
    ------
    InvalidInput, MeshError, SolveError
        If a motor a prior deviation from the sample cannot be built.
    """
    base = wound(fit.before.design)
    values = {one.name: one.estimate for one in fit.unknowns}
    held = [one for one in fit.rigs if one.name.endswith(".inductance")]
    factor, open_ = (held[0].estimate, held[0].deviation) if held else (1.0, 0.0)
    changes = []
    for one in fit.unknowns:
        with step(f"inductance with another {one.name}"):
            ends = [
                _inductance(
                    solve(
                        built(base, values | {one.name: one.estimate + side * one.prior_deviation}),
                        uncertainty=False,
                        warm_start=fit.after,
                    )
                )
                for side in (-1, 1)
            ]
        changes.append((ends[1] - ends[0]) / 2)
    change = factor * np.array(changes)
    drawn, now = (_inductance(result) for result in (fit.before, fit.after))
    words = "inductance at 1 kHz, coil held at rest"
    sample = math.hypot(math.sqrt(change @ fit.covariance @ change), open_ * now)
    spread = float(np.linalg.norm(change))
    return Predicted(INDUCTANCE, words, drawn, spread, factor * now, sample)


def _inductance(result: MotorResult) -> float:
    """Return the inductance of a motor's held coil in mH, on its finer mesh."""
    field = dataclasses.replace(result.field, coarse=result.field.fine)
    found = blocked_impedance(dataclasses.replace(result, field=field), [0.0], [FREQUENCY])
    return float(found.inductance[0, 0]) * 1e3
