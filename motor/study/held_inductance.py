"""Inductance at rest over a production: what a station at the end of the line would read.

Computed from the fields of the drawing and of the inferred sample, and what each unknown changes
of the sample's held coil.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from motor.base.steps import step
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import MotorResult
from motor.study.end_of_line import INDUCTANCE
from motor.study.held_coil import relative_changes
from motor.study.inferred import Fit
from motor.study.predicted import Predicted

__all__ = ["produced_inductance"]

FREQUENCY = 1000.0
"""Hz."""


def produced_inductance(fit: Fit) -> Predicted:
    """Return the inductance at FREQUENCY, coil held at rest, in mH, of sample and production.

    What an impedance among the measurements tells of it counts, as a factor on what is computed.
    Units scatter as the priors say.

    Raises
    ------
    SolveError
    """
    held = [one for one in fit.rigs if one.name.endswith(".inductance")]
    factor, open_ = (held[0].estimate, held[0].deviation) if held else (1.0, 0.0)
    with step("inductance of the sample and of the drawing"):
        drawn, now = (_linkage(result) for result in (fit.before, fit.after))
        unknowns, at = fit.measured.unknowns, np.array([FREQUENCY])
        shares = relative_changes(fit.after, unknowns, fit.sides, at)[:, 0]
    change = factor * (shares * now).real
    words = "inductance at 1 kHz, coil held at rest"
    sample = math.hypot(math.sqrt(change @ fit.covariance @ change), open_ * now.real)
    spread = float(np.linalg.norm(change))
    return Predicted(INDUCTANCE, words, drawn.real, spread, factor * now.real, sample)


def _linkage(result: MotorResult) -> complex:
    """Return the flux linkage of a motor's held coil in mWb/A, on its finer mesh."""
    field = dataclasses.replace(result.field, coarse=result.field.fine)
    found = blocked_impedance(dataclasses.replace(result, field=field), [0.0], [FREQUENCY])
    lost = found.eddy_resistance[0, 0] / (2 * math.pi * FREQUENCY)
    return complex(found.inductance[0, 0], -lost) * 1e3
