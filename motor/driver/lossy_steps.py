"""Any signal through a driver whose inductance has losses, with a fixed step.

The coil's equations by the trapezoidal rule, whose modes are eliminated so that one current is
left to solve for; the motion by the velocity form of central differences, in which the place at
the end of a step is known before the force there.  Both are of second order.  Modes that lag
less than half a step follow at once.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.driver.lossy import LossyInductance
from motor.driver.parts import DriverSystem
from motor.driver.transient import Equations, Motion

__all__ = ["play_lossy"]

RATE = 96e3
"""Steps a second at least: 1 kHz is then right to 0.04 %, 5 kHz to 0.9 %."""
CELLS = 4000
"""Cells of the uniform tables over displacement."""

Step = tuple[float, float, float, float, float, float]


def play_lossy(system: DriverSystem, u: Floats, rate: float) -> Motion:
    """Return the motion under a source voltage (n,) in V, from rest; rate in samples a second."""
    count = math.ceil(RATE / rate)
    rows, left = _march(system, u, 1 / (rate * count), count)
    x, v, i, p, q, acceleration = np.array(rows).T
    time = np.arange(len(x)) / rate
    equations = Equations(system)
    state = np.array([x, v, np.zeros_like(x), p, q])
    rates = np.array([v, acceleration, np.zeros_like(x), *equations.box_rates(v, p, q)])
    pressure = equations.pressure(state, rates)
    end = float(time[-1]) if left else None
    return Motion(system, time, x, v, i, p, q, pressure, end)


@dataclass(frozen=True)
class _Tables:
    """Everything that depends on displacement, on a uniform grid.

    Parameters
    ----------
    low, per_metre : float
    scalars : list of rows
        Bl, its integral, K x, L0 and its slope.
    vectors : (n, 2, k) array
        Couplings and their slopes.
    """

    low: float
    high: float
    per_metre: float
    scalars: Floats
    vectors: Floats

    @staticmethod
    def of(system: DriverSystem, lossy: LossyInductance) -> _Tables:
        driver = system.driver
        low, high = driver.known
        grid = np.linspace(low, high, CELLS + 1)
        instant = lossy.instantaneous
        scalars = (
            driver.bl.value(grid),
            driver.bl.integral(grid),
            driver.k.value(grid) * grid,
            instant.value(grid),
            instant.slope(grid),
        )
        vectors = np.stack(lossy.couplings(grid)[:2], axis=1)
        return _Tables(low, high, CELLS / (high - low), np.stack(scalars, axis=1), vectors)

    def at(self, x: float) -> tuple[list[float], Floats]:
        """Return scalars and vectors at a displacement, linear within each cell."""
        place = (x - self.low) * self.per_metre
        cell = min(max(int(place), 0), CELLS - 1)
        part = place - cell
        a, b = self.scalars[cell : cell + 2]
        c, d = self.vectors[cell : cell + 2]
        return (a + part * (b - a)).tolist(), c + part * (d - c)


def _march(system: DriverSystem, u: Floats, h: float, count: int) -> tuple[list[Step], bool]:
    """Step through all samples; return x, v, i, p, q, dv/dt at each, and whether x left."""
    driver, equations = system.driver, Equations(system)
    lossy = driver.lossy
    assert lossy is not None
    lossy = lossy.slower_than(h / 2)
    tables = _Tables.of(system, lossy)
    half = h / (2 * lossy.time_constant)
    kept, new = (1 - half) / (1 + half), half / (1 + half)
    r, rms, mass, area = (
        equations.resistance,
        driver.mechanical_resistance,
        driver.mass,
        driver.area,
    )
    soft = 1 / equations.compliance if equations.compliance else 0.0
    leak = equations.leak
    port = 1 / equations.port_mass if equations.port_mass else 0.0
    # p1 = p_known - per_v v1, q1 = q_known + (h/2) port p1, both by the trapezoidal rule
    stiff = 1 + h / 2 * soft * (leak + h / 2 * port)
    per_v = h / 2 * soft * area / stiff
    inert = mass + h / 2 * (rms + area * per_v)
    x = v = i = p = q = acceleration = 0.0
    a = np.zeros(len(lossy.time_constant))
    (_, phi, _, le, _), (c, _) = tables.at(0.0)
    linked = 0.0
    rows: list[Step] = [(x, v, i, p, q, acceleration)]
    for start, end in itertools.pairwise(u.tolist()):
        for step in range(count):
            mean = start + (end - start) * (step + 0.5) / count
            x += h * (v + h / 2 * acceleration)
            known = kept * a + new * c * i
            (bl, phi1, spring, le, bend), (c, slope) = tables.at(x)
            lagging = new * c
            right = linked + h * (mean - r * i / 2) - (phi1 - phi) - float(c @ known)
            i = right / (le + h * r / 2 + float(c @ lagging))
            a = known + lagging * i
            linked, phi = le * i + float(c @ a), phi1
            force = bl * i + i * i / 2 * bend + i * float(slope @ a) - spring
            flow = area * v + q + leak * p
            p_known = (p - h / 2 * soft * (flow + q + h / 2 * port * p)) / stiff
            v1 = (mass * (v + h / 2 * acceleration) + h / 2 * (force + area * p_known)) / inert
            p1 = p_known - per_v * v1
            q += h / 2 * port * (p + p1)
            acceleration = (v1 - v) * 2 / h - acceleration
            v, p = v1, p1
        if not tables.low <= x <= tables.high:
            return rows, True
        rows.append((x, v, i, p, q, acceleration))
    return rows, False
